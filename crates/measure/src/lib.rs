//! Body dimensions: definitions, taking them, what tables of them say.
//!
//! A dimension is defined once in a file ([`Dimensions::from_toml`]), checked against the template
//! ([`Dimensions::check`]) and taken on any body that shares its triangles ([`Dimensions::take`], [`Taker`], [`take_all`]).
//! Bodies are measured standing, in the frame in which they were captured: millimetres, z up, the floor at the lowest vertex.
//!
//! | module | what it holds |
//! |---|---|
//! | [`definition`] | what a dimension is |
//! | [`dimensions`] | a set of definitions, read from TOML and checked against a template |
//! | [`measured`] | one dimension of one body |
//! | [`take`] | taking dimensions on a body, and following them through a movement |
//! | [`cohort`] | dimensions of many bodies |
//! | [`summary`] | dimensions of a population |
//! | [`agreement`] | scan against hand, and repeatability |
//! | [`explain`] | a definition in words |
//! | [`joints`] | joint centres, lengths between them, angles at them |
//! | [`segments`] | masses and centres of segments |
//! | [`handbook`] | proportions beside those of handbooks |
//! | [`population`] | percentiles with intervals, correlations, values out of the usual |
//! | [`sheets`] | percentiles, correlations, agreement and repeatability as tables to hand over |
//! | [`mod@basic`] | what can be measured without definitions |

pub mod agreement;
pub mod basic;
mod body;
pub mod cohort;
mod contact;
mod correlation;
pub mod definition;
pub mod dimensions;
#[cfg(test)]
mod doll;
mod enclosed;
pub mod error;
pub mod explain;
mod expression;
mod frame;
pub mod handbook;
pub mod joints;
mod limit_type;
pub mod measured;
mod parts;
mod piece;
pub mod population;
mod schema;
pub mod segments;
pub mod sheets;
mod slab;
pub mod summary;
pub mod take;

pub use basic::{Basic, basic};
pub use cohort::{tabulate, take_all};
pub use definition::{Definition, Kind, Place, Standard};
pub use dimensions::Dimensions;
pub use error::MeasureError;
pub use explain::{explained, how};
pub use frame::Frame;
pub use handbook::{HandbookKind, HandbookRow, Proportions, beside_handbooks};
pub use joints::{joint_centres, joint_table};
pub use measured::Measured;
pub use segments::{Segment, SegmentDefinition, SegmentParams};
pub use sheets::repeatability_sheet;
pub use summary::{DimensionSummary, summarise};
pub use take::{Follower, Taker};
