//! Numbers: dense factorisations, weighted moments, intervals, regression, resampling, clustering, random streams.
//!
//! This is the only crate that names a linear algebra or a clustering library; nothing of theirs shows in a signature.
//!
//! | module | what it holds |
//! |---|---|
//! | [`tail`] | tails of distributions, from which tests are read |
//! | [`discovery`] | many tests at once |
//! | [`symmetric`] | eigenvalues and vectors of a symmetric matrix |
//! | [`cholesky`] | the Cholesky factor, and what is solved with it |
//! | [`general`] | eigenvalues and vectors of a square matrix that is not symmetric |
//! | [`mod@svd`] | singular values and vectors |
//! | [`spectrum`] | the spectrum of pure noise, and what stands out of it |
//! | [`gram`] | sums of matrix products over blocks: Gram matrices of what does not fit in memory |
//! | [`moments`] | weighted mean and variance, correlation |
//! | [`quantile`] | weighted quantiles |
//! | [`distribution`] | quantiles of chi-square and Student's t |
//! | [`interval`] | intervals of a share, the effective sample size |
//! | [`bootstrap`] | resamples by group and percentile intervals |
//! | [`paired`] | tests of paired differences |
//! | [`regression`] | least squares |
//! | [`folds`] | folds for cross-validation that never split a group |
//! | [`random`] | independent named random streams |
//! | [`cluster`] | k-means, k-medoids, Gaussian mixtures, a decision tree |
//! | [`covering`] | greatest coverage by k sets, with a true bound |
//! | [`partition`] | one dimension exactly: groups and intervals by dynamic programming |
//! | [`monotone`] | monotone regression, a line with a break |
//! | [`raking`] | weights that meet known margins |
//! | [`tilting`] | weights that meet known means |
//! | [`agreement`] | agreement of two groupings |
//! | [`diffusion`] | diffusion maps |

pub mod agreement;
pub mod bootstrap;
pub mod cholesky;
pub mod cluster;
pub mod covering;
pub mod diffusion;
pub mod discovery;
pub mod distribution;
pub mod error;
pub mod folds;
pub mod general;
pub mod gram;
pub mod interval;
#[cfg(feature = "lapack")]
pub mod lapack;
pub mod moments;
pub mod monotone;
pub mod paired;
pub mod partition;
mod qr;
pub mod quantile;
pub mod raking;
pub mod random;
pub mod regression;
pub mod spectrum;
pub mod svd;
pub mod symmetric;
pub mod tail;
pub mod tilting;

pub use error::StatsError;
