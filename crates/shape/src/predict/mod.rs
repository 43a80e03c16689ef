//! The body that goes with given dimensions and covariates.
//!
//! | module | what it holds |
//! |---|---|
//! | [`moments`] | means and covariances of coefficients and variables: all that a prediction needs, and no person's data |
//! | [`conditional`] | the conditional normal distribution |
//! | [`pls`] | partial least squares, from the same moments |
//! | [`interval`] | intervals of vertices |
//! | [`validate`] | cross-validated error of both, by region and by dimension |

pub mod conditional;
mod errors;
mod fold;
pub mod interval;
pub mod moments;
pub mod pls;
pub mod validate;

pub use conditional::{Conditional, Given, Predicted};
pub use errors::{
    DimensionError, IntervalCheck, MethodErrors, PredictionErrors, PredictionParams, RegionRms,
};
pub use interval::vertex_sd_mm;
pub use moments::{DimensionMoments, Variable, VariableKind};
pub use pls::{Pls, PlsParams};
pub use validate::{People, validate_prediction};
