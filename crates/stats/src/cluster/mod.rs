//! Clusters: k-means, k-medoids, mixtures, and a tree that finds them again.
//!
//! | module | what it holds |
//! |---|---|
//! | [`kmeans`] | centres that are means: the least squared distance |
//! | [`mod@lloyd`] | k-means from given centres, for resamples |
//! | [`kmedoids`] | centres that are members: the least sum of any dissimilarity |
//! | [`mod@mixture`] | Gaussian mixtures |
//! | [`components`] | how many components a mixture needs |
//! | [`mod@tree`] | a small decision tree |

pub mod components;
pub mod kmeans;
pub mod kmedoids;
pub mod lloyd;
pub mod mixture;
pub mod tree;

pub use components::{ChosenMixture, ComponentScore, choose_components, scaled_mixture};
pub use kmeans::{KMeans, k_means};
pub use kmedoids::{KMedoids, k_medoids_among, medoid};
pub use lloyd::lloyd;
pub use mixture::{Mixture, mixture};
pub use tree::{Tree, tree};
