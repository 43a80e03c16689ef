//! How many modes: several criteria side by side, with the primary one and its reason, and which modes are stable.
//!
//! | module | what it holds |
//! |---|---|
//! | [`noise`] | variances of pure noise, drawn exactly: parallel analysis |
//! | [`mod@stability`] | bootstrap of the modes by participant |
//! | [`variance`] | variances of the leading modes without what noise lends them, with intervals |
//! | [`held_out`] | errors of vertices of people held out, also by region |
//! | [`find`] | all of them for a fitted space |

pub mod find;
mod found;
pub mod held_out;
pub mod noise;
pub mod stability;
pub mod variance;
mod vertex_errors;

pub use find::CriteriaParams;
pub use found::{Criterion, ModeCriteria};
pub use held_out::held_out_errors;
pub(crate) use noise::{NoiseParams, noise_variances};
pub use stability::{ModeStability, StabilityParams, stability};
pub use variance::{ModeVariance, mode_variances};
pub use vertex_errors::{RegionError, VertexErrors};
