//! The shape space: mean, modes, variances; how many modes the data support; coefficients of shapes and shapes of coefficients.
//!
//! x = mean + sum_k c_k mode_k, in mm, after the alignment that the space says. Vertex weights sum to 1, so variances are weighted mean square distances in
//! mm2 whatever the density of the mesh, and coefficients are in mm.
//!
//! | module | what it holds |
//! |---|---|
//! | [`params`] | settings, and the fit |
//! | [`space`] | the fitted space: project, reconstruct |
//! | [`gram`] | the Gram matrix of aligned shapes, and modes from it, by blocks |
//! | [`validate`] | cross-validation by participant: alignment and components refitted in every fold |
//! | [`mod@file`] | the space as safetensors bytes |

pub mod error;
pub mod file;
pub mod gram;
pub mod params;
pub mod space;
pub mod validate;

pub use error::ShapeError;
pub use params::{FittedSpace, SpaceParams};
pub use space::{Projection, Space};
pub use validate::{CrossValidation, ModeError, cross_validate};
