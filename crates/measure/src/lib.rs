//! Body dimensions: definitions, taking them, tables of them.
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
//! | [`table`] | tables of people and dimensions, CSV in and out |
//! | [`summary`] | dimensions of a population |
//! | [`agreement`] | scan against hand, and repeatability |
//! | [`explain`] | a definition in words |
//! | [`joints`] | joint centres, lengths between them, angles at them |
//! | [`segments`] | masses and centres of segments |
//! | [`handbook`] | proportions beside those of handbooks |
//! | [`population`] | percentiles with intervals, correlations, values out of the usual |
//! | [`near`], [`wording`] | names near a misspelt one; messages of the TOML reader in plain words |
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
pub mod handbook;
pub mod joints;
pub mod measured;
pub mod near;
mod parts;
mod piece;
pub mod population;
mod schema;
pub mod segments;
mod slab;
pub mod summary;
pub mod table;
pub mod take;
mod unit;
pub mod wording;

pub use basic::{Basic, basic};
pub use cohort::{tabulate, take_all};
pub use definition::{Definition, Kind, Place, Standard};
pub use dimensions::{Dimensions, Frame};
pub use error::MeasureError;
pub use explain::{explained, how};
pub use handbook::{HandbookKind, HandbookRow, Proportions, beside_handbooks};
pub use joints::{joint_centres, joint_table};
pub use measured::Measured;
pub use segments::{Segment, SegmentDefinition, SegmentParams};
pub use summary::{DimensionSummary, summarise};
pub use table::{NumberColumn, Table, TextColumn};
pub use take::{Follower, Taker};
