//! A document of sections, tables, charts and views, and its renderings: a page of HTML that needs nothing else, neither network nor
//! fonts nor files, and plain text for a terminal.
//!
//! It shows results and computes none: numbers are rounded, put into tables, sentences and charts, and bodies are packed for the
//! 3-D views. Participants appear under their pseudonyms; frames are never counted as people.
//!
//! | module | what it holds |
//! |---|---|
//! | [`format`](mod@format) | numbers, units and names as a reader sees them |
//! | [`charts`] | charts as SVG |
//! | [`picture`] | one dimension on the body |
//! | [`lineup`] | bodies side by side |
//! | [`document`] | the document, its sections, and what stands in them |
//! | [`html`](mod@html) | a document as a page |
//! | [`text`] | a document as plain text |
//! | [`sections`] | the sections of a study, and the pages of single commands |
//! | [`error`] | what can go wrong |

pub mod charts;
pub mod document;
pub mod error;
pub mod format;
pub mod html;
pub mod lineup;
mod outline;
pub mod picture;
pub mod sections;
pub mod text;

pub use document::{Body, Document, Fact, Front, Section};
pub use error::ReportError;
pub use lineup::{Stander, lineup_picture};
pub use picture::{Drawn, dimension_picture};
pub use sections::input::{
    DimensionPicture, DimensionRemark, DimensionsPart, Facts, Movement, MovementDeep, Output, ReportInput,
    Setting, SizeMannequin, SizingPart,
};
pub use sections::movements::{MovementsTogether, PointsMovement, PointsPart};
pub use sections::shape_input::{MapColumn, NamedResult, SamplePart, ShapePart, Shrinkage};
pub use sections::{agreement_chart, agreement_page, html, merge_page};
