//! The report of a study: one page of HTML that needs nothing else, neither network nor fonts nor files.
//!
//! It shows results and computes none: numbers are rounded, put into tables, sentences and charts, and bodies are packed for the
//! 3-D views. Participants appear under their pseudonyms; frames are never counted as people.
//!
//! | module | what it holds |
//! |---|---|
//! | [`input`] | what a report is made from |
//! | [`html()`] | the page |
//! | [`agreement`] | the chart of scan against hand |
//! | [`picture`] | one dimension on the body |
//! | [`format`](mod@format) | numbers, units and names as a reader sees them |
//! | [`error`] | what can go wrong |

pub mod agreement;
mod charts;
pub mod error;
pub mod format;
mod html;
pub mod input;
pub mod picture;
mod view;

pub use agreement::agreement_chart;
pub use error::ReportError;
pub use html::html;
pub use input::{
    DimensionRemark, DimensionsPart, Fact, Facts, Movement, MovementDeep, Output, ReportInput, Setting,
    SizingPart,
};
pub use picture::dimension_picture;
