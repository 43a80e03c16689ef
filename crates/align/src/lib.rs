//! Generalised Procrustes alignment: every shape laid on a common mean, with what was removed said and every transform kept.
//!
//! Shapes are read through [`formkin_geometry::ShapeSource`] in blocks; a whole cohort is never in memory. The result depends neither on the
//! order of the shapes (to the tolerance of the fit) nor on the number of threads (to the bit).
//!
//! | module | what it holds |
//! |---|---|
//! | [`params`] | what is removed, how vertices are weighted, when to stop |
//! | [`alignment`] | the result: transforms, mean, weights, history |
//! | [`gpa`] | the fit |
//! | [`pose`] | one shape laid on a mean |
//! | [`kabsch`] | the best rotation, never a reflection: that of the geometry |
//! | [`transform`] | x -> scale R x + t |
//! | [`weights`] | vertex weights that sum to 1 |
//! | [`aligned`] | the aligned shapes as a source |
//! | [`moments`] | all 3 x 3 cross moments: exact refits of any subset without the meshes |
//! | [`distance`] | Procrustes distances between two shapes |

pub mod aligned;
pub mod alignment;
mod blocks;
pub mod distance;
pub mod error;
mod fault;
pub mod gpa;
pub mod moments;
pub mod params;
pub mod pose;
pub mod transform;
pub mod weights;

pub use aligned::Aligned;
pub use alignment::{Alignment, Reference, Round};
pub use blocks::{BLOCK_BYTES, block_shapes};
pub use distance::{Distances, procrustes_distances};
pub use error::AlignError;
pub use fault::WeightsFault;
pub use formkin_geometry::kabsch;
pub use moments::{CrossMoments, HeldOut, SubsetAlignment};
pub use params::{AlignParams, Removes, Weighting};
pub use pose::align_one;
pub use transform::Transform;
