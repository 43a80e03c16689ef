//! Size systems: which sizes to make, who takes which, and how many people they fit.
//!
//! The input is a [`Table`](formkin_measure::Table) of people and dimensions, from any source: meshes are not needed. A [`Plan`] says what
//! is wanted, [`Plan::derive`] finds the sizes, and a [`SizeSystem`] holds them with their coverage, both of the people they were made from
//! (optimistic) and of people held out (the figure to rely on).
//!
//! | module | what it holds |
//! |---|---|
//! | [`plan`] | the plan and its TOML |
//! | [`system`] | the result |
//! | [`tables`] | the result as CSV: chart, coverage, assignments, the people without a size, the curve |
//! | [`error`] | what can be wrong |
//!
//! Inside: `people` (who is sized), `axes` (how far a person is from a size), `centres` (finding the values), `coverage` (in the sample and
//! held out), `group` and `derive` (putting it together), `fit_model`, `left_out`, `curve`, `notes`.

mod axes;
mod centres;
mod coverage;
mod curve;
mod derive;
pub mod error;
mod fit_model;
mod group;
mod left_out;
mod notes;
mod people;
pub mod plan;
pub mod system;
pub mod tables;

pub use error::SizingError;
pub use plan::{Control, Count, Method, Missing, Plan, SizesPlan, Tolerance};
pub use system::{
    Assignment, ControlInfo, CurvePoint, Deviation, Dropped, GroupSystem, LeftOut, LeftOutDimension,
    LeftOutGroup, Miss, Range, Secondary, Size, SizeSystem,
};
pub use tables::{assignments_csv, chart_csv, coverage_csv, curve_csv, left_out_csv};
