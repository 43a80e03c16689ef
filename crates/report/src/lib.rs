//! A document of sections, tables, charts and views, and its renderings: a page of HTML that needs nothing else, neither network nor
//! fonts nor files, and plain text for a terminal.
//!
//! It shows what it is given and computes nothing: what stands in a table, a sentence or a chart was said by whoever made the document;
//! here it is rounded, drawn and packed.
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
//! | [`error`] | what can go wrong |

pub mod charts;
pub mod document;
pub mod error;
pub mod format;
pub mod html;
pub mod lineup;
mod outline;
pub mod picture;
pub mod text;

pub use document::{Body, Document, Fact, Front, Section};
pub use error::ReportError;
pub use lineup::{Stander, lineup_picture};
pub use picture::{Drawn, dimension_picture};
