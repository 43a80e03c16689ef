//! Size systems: which sizes to make, who takes which, and how many people they fit.
//!
//! The input is a [`Table`](formkin_table::Table) of people and dimensions, from any source: meshes are not needed. A [`Plan`] says what
//! is wanted, [`Plan::derive`] finds the sizes, and a [`SizeSystem`] holds them with their coverage, both of the people they were made from
//! (optimistic) and of people held out (the figure to rely on).
//!
//! | module | what it holds |
//! |---|---|
//! | [`plan`] | the plan and its TOML |
//! | [`system`] | the result |
//! | [`size`] | a size and who takes it |
//! | [`options`] | parts of the plan: methods, losses, margins, limits |
//! | [`chart`] | a chart as given, and evaluating it on people |
//! | [`assign`] | the sizes of new people |
//! | [`intervals`] | intervals of a grid |
//! | [`tables`] | the result as CSV: chart, coverage, assignments, the people without a size, the curve |
//! | [`error`] | what can be wrong |
//!
//! Inside: `people` (who is sized), `axes` (how far a person is from a size), `methods` (finding the values), `coverage` (in the sample and
//! held out), `group` and `derive` (putting it together), `bootstrap`, `change`, `fit_model`, `grading`, `left_out`, `curve`, `choosing`, `movement`, `notes`.

pub mod assign;
mod axes;
mod bootstrap;
mod change;
pub mod chart;
mod choosing;
mod coverage;
mod curve;
mod derive;
pub mod error;
mod fault;
mod fit_model;
mod grading;
mod group;
pub mod intervals;
mod job;
mod left_out;
mod length;
mod methods;
mod movement;
mod notes;
pub mod options;
mod people;
pub mod plan;
pub mod size;
pub mod system;
pub mod tables;

pub use assign::{Advice, Choice, Feel, advice_sheet};
pub use chart::{Chart, ChartSize};
pub use error::SizingError;
pub use fault::{AllowanceFault, ChartFault};
pub use intervals::Intervals;
pub use options::{Allowance, Candidates, Limit, Loss, MarginPlan, Method, Objective, Tolerance, Types};
pub use plan::{Control, Count, Missing, Plan, SizesPlan};
pub use size::{Assignment, Deviation, Miss, Range, Secondary, Size, Stability};
pub use system::{
    Chosen, ChosenBy, ChosenOption, ControlInfo, CurvePoint, Dropped, GapInterval, Gaps, GradeRule,
    GroupSystem, InMovement, Knee, LeftOut, LeftOutDimension, LeftOutGroup, MethodCurve, OneMore, Raking,
    Resampled, SizeSystem,
};
pub use tables::{
    assignments_sheet, chart_sheet, coverage_sheet, curve_sheet, fit_models_sheet, grading_sheet,
    left_out_sheet,
};
