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
//! | [`strain_map`] | smoothed strain over all frames: maps, regions, noise floor |
//! | [`body_frame`] | a rigid frame fixed to a region |
//! | [`skin_lines`] | lines of non-extension on the skin |
//! | [`spectrum`] | the spectrum of a signal |
//! | [`soft`] | soft tissue against a body frame; conditions compared |
//! | [`dmd`] | dynamic modes: frequencies and growth |
//! | [`shared`] | one motion space over captures and people |
//! | [`changes`] | dimensions over captures, cycles and people; dynamic allowance |
//! | [`posture`] | pose estimation, unposing, joint angles |
//! | [`points`] | point trajectories: TRC and CSV |
//! | [`point_frame`] | a body frame fixed to three or more points |
//! | [`point_signals`] | distances and angles of points |
//! | [`signal`] | filters, gaps, lags, noise |
//! | [`cycles`] | cycles, bands, components of curves |
//! | [`animation`] | plain data for animations |
//! | [`finding`] | what was noticed |
//! | [`error`] | what can be wrong |

pub mod animation;
pub mod body_frame;
pub mod broken;
pub mod changes;
pub mod curve;
pub mod curves;
pub mod cycles;
pub mod dmd;
pub mod error;
mod fault;
pub mod finding;
mod fit;
pub mod frequency;
pub mod frozen;
mod modes;
pub mod motion;
pub mod params;
pub mod point_frame;
pub mod point_signals;
pub mod points;
pub mod posture;
mod segments;
pub mod shared;
pub mod signal;
pub mod skin_lines;
mod smoother;
pub mod soft;
pub mod spectrum;
pub mod strain;
pub mod strain_map;
mod subspace;
pub mod times;
pub mod trajectory;

pub use animation::Animation;
pub use body_frame::{Axes, BodyFrame, Direction, FrameParams};
pub use curve::{Curve, PhaseOf};
pub use curves::{CurveParams, curves};
pub use cycles::cycle::{CycleParams, Cycles};
pub use cycles::events::Event;
pub use error::MotionError;
pub use fault::CyclesFault;
pub use finding::{Finding, FindingKind};
pub(crate) use frequency::dominant_frequency;
pub use frequency::{ModeFrequency, NoFrequency};
pub use motion::{ModeError, Motion, Route, Segments};
pub use params::{ModeWeighting, MotionParams, Reference};
pub use strain::{StrainReference, Stretch};
pub use strain_map::{StrainMap, StrainParams};
pub use times::{Gap, Timing};
pub use trajectory::{Extent, Trajectory, trajectories};
