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
//! | [`error`] | what can be wrong |

pub mod error;
pub mod plan;
pub mod system;

pub use error::SizingError;
pub use plan::{Control, Count, Method, Missing, Plan, SizesPlan, Tolerance};
pub use system::{
    Assignment, ControlInfo, CurvePoint, Deviation, Dropped, GroupSystem, LeftOut, LeftOutDimension,
    LeftOutGroup, Miss, Range, Secondary, Size, SizeSystem,
};
