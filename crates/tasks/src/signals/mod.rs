//! What meshes and points have in common: cycles, filtered curves and curves over the cycle, soft tissue against a body frame, conditions compared.
//!
//! | module | what it holds |
//! |---|---|
//! | [`settings`] | where cycles come from, cutoffs, the axes of a body frame |
//! | [`check`] | what is wrong with them before anything runs |
//! | [`run`] | curves filtered and over the cycles; cutoffs held against a record's clock |
//! | [`conditions`] | a garment against the reference condition |
//! | [`files`], [`condition_files`] | the tables of these |
//! | [`object`] | their figures for programs |
//! | [`section`] | what a reader is shown |

pub mod check;
pub mod condition_files;
pub mod conditions;
pub mod files;
pub mod object;
pub mod run;
pub mod section;
pub mod settings;

pub use conditions::{Compared, Conditions, Pair};
pub use run::{Courses, FrameSummary, ResidualCutoff, Signals, courses, cutoffs_fit, read_events};
pub use settings::{AxisSettings, Begins, Cutoff, CycleSettings};

/// Components kept of each dimension's or signal's curves.
pub const COMPONENTS: usize = 5;
