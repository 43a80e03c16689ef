//! Sequences: what a movement does to a body.
//!
//! A sequence is a row of frames on one topology with time stamps, all of one person. [`MotionParams::fit`] takes the
//! rigid part out of every frame and describes what is left by modes and their course in time; [`curves()`] follows dimensions and
//! [`trajectories()`] landmarks. Frames are streamed from their source, so that a sequence need not fit in memory.
//!
//! | module | what it holds |
//! |---|---|
//! | [`params`] | the settings of a fit |
//! | [`motion`] | the fitted movement |
//! | [`times`] | time stamps: order, step, dropped frames |
//! | [`frozen`] | frames that repeat the one before |
//! | [`frequency`] | the dominant frequency of a signal |
//! | [`mod@curves`] | dimensions followed through a movement |
//! | [`curve`] | the course of one dimension |
//! | [`trajectory`] | the paths of landmarks |
//! | [`strain`] | apparent strain of the skin, triangle by triangle |
//! | [`animation`] | plain data for animations |
//! | [`finding`] | what was noticed |
//! | [`error`] | what can be wrong |

pub mod animation;
pub mod curve;
pub mod curves;
pub mod error;
pub mod finding;
mod fit;
pub mod frequency;
pub mod frozen;
mod modes;
pub mod motion;
pub mod params;
mod segments;
pub mod strain;
mod subspace;
pub mod times;
pub mod trajectory;

pub use animation::Animation;
pub use curve::{Curve, PhaseOf};
pub use curves::{CurveParams, curves};
pub use error::MotionError;
pub use finding::{Finding, FindingKind};
pub use frequency::{ModeFrequency, NoFrequency, dominant_frequency};
pub use motion::{ModeError, Motion, Route, Segments};
pub use params::{ModeWeighting, MotionParams, Reference};
pub use strain::{StrainReference, Stretch};
pub use times::{Gap, Timing};
pub use trajectory::{Extent, Trajectory, trajectories};
