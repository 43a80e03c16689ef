//! How many modes: several criteria side by side, with the primary one and its reason, and which modes are stable.
//!
//! | module | what it holds |
//! |---|---|
//! | [`spectrum`] | edges and factors of random matrix theory, broken stick |
//! | [`noise`] | variances of pure noise, drawn exactly: parallel analysis |
//! | [`mod@stability`] | bootstrap of the modes by participant |
//! | [`variance`] | variances of the leading modes without what noise lends them, with intervals |
//! | [`held_out`] | errors of vertices of people held out, also by region |
//! | [`find`] | all of them for a fitted space |

pub mod find;
pub mod held_out;
pub mod noise;
pub mod spectrum;
pub mod stability;
pub mod variance;

pub use find::{CriteriaParams, Criterion, ModeCriteria};
pub use held_out::{RegionError, VertexErrors, held_out_errors};
pub use noise::{NoiseParams, noise_variances};
pub use spectrum::{broken_stick, gavish_donoho_factor, marchenko_pastur_edges, marchenko_pastur_median};
pub use stability::{ModeStability, StabilityParams, stability};
pub use variance::{ModeVariance, mode_variances};
