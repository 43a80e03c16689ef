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
//! | [`compare`] | groups compared, shape on a number |
//! | [`sample`] | new bodies, and how they compare with people |
//! | [`merge`] | spaces joined from model files alone |
//! | [`map`] | a map of people |
//! | [`mirror`] | mirrored copies of shapes |
//! | [`symmetry`] | symmetric and asymmetric parts of bodies |
//! | [`criteria`] | how many modes, and which of them are stable |
//! | [`quality`] | compactness, generalisation, specificity |
//! | [`covariance`] | probabilistic components, shrinkage |
//! | [`predict`] | the body that goes with given dimensions |
//! | [`mod@complete`] | the body that goes with a part of a surface |
//! | [`mod@file`] | the space as safetensors bytes |

pub mod compare;
pub mod complete;
pub mod covariance;
pub mod criteria;
mod describe;
pub mod error;
mod fault;
pub mod file;
mod fit;
mod format;
pub mod gram;
mod held_out;
pub mod map;
pub mod merge;
pub mod mirror;
pub mod params;
pub mod predict;
pub mod quality;
pub mod sample;
pub mod space;
pub mod symmetry;
pub mod validate;

pub use complete::{CompleteParams, Completed, complete};
pub use covariance::{LedoitWolf, ProbabilisticPca, ledoit_wolf};
pub use criteria::{CriteriaParams, ModeCriteria};
pub use error::ShapeError;
pub use fault::{MapFault, SeenFault};
pub use held_out::{CrossValidation, ModeError};
pub use map::{MapMethod, MapParams, PeopleMap};
pub use params::{FittedSpace, SpaceParams};
pub use predict::DimensionMoments;
pub use quality::{Quality, QualityParams};
pub use space::{Projection, Space};
pub use symmetry::{Symmetry, SymmetryParams};
pub use validate::cross_validate;
