//! The report of a study: one page of HTML that needs nothing else, neither network nor fonts nor files.
//!
//! It shows results and computes none: numbers are rounded, put into tables, sentences and charts, and bodies are packed for the
//! 3-D views. Participants appear under their pseudonyms; frames are never counted as people.
//!
//! | module | what it holds |
//! |---|---|
//! | [`input`] | what a report is made from |
//! | [`shape_input`] | the same of a shape space beyond its modes |
//! | [`movements`] | the same of movements together and of points |
//! | [`html()`] | the page |
//! | [`data_sheet`] | what a data sheet is made from |
//! | [`agreement`] | the chart of scan against hand |
//! | [`picture`] | one dimension on the body |
//! | [`lineup`] | bodies side by side |
//! | [`format`](mod@format) | numbers, units and names as a reader sees them |
//! | [`error`] | what can go wrong |

pub mod agreement;
mod agreement_page;
mod charts;
pub mod data_sheet;
mod data_sheet_page;
pub mod error;
pub mod format;
mod html;
pub mod input;
pub mod lineup;
mod merge_page;
pub mod movements;
mod outline;
pub mod picture;
pub mod shape_input;
mod single;
mod view;

pub use agreement::agreement_chart;
pub use agreement_page::agreement_page;
pub use data_sheet::{
    DataSheet, MODES_KEPT, SheetArray, SheetFile, SheetMode, SheetModesKept, SheetPart, SheetScaler,
    SheetSpread, SheetStrata,
};
pub use data_sheet_page::data_sheet_page;
pub use error::ReportError;
pub use html::html;
pub use input::{
    DimensionPicture, DimensionRemark, DimensionsPart, Fact, Facts, Movement, MovementDeep, Output,
    ReportInput, Setting, SizeMannequin, SizingPart,
};
pub use lineup::{Stander, lineup_picture};
pub use merge_page::merge_page;
pub use movements::{MovementsTogether, PointsMovement, PointsPart};
pub use picture::{Drawn, dimension_picture};
pub use shape_input::{MapColumn, NamedResult, SamplePart, ShapePart, Shrinkage};
