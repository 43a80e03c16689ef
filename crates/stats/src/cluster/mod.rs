//! Clusters: k-means and k-medoids.
//!
//! | module | what it holds |
//! |---|---|
//! | [`kmeans`] | centres that are means: the least squared distance |
//! | [`kmedoids`] | centres that are members: the least sum of any dissimilarity |

pub mod kmeans;
pub mod kmedoids;

pub use kmeans::{KMeans, k_means};
pub use kmedoids::{KMedoids, k_medoids, medoid};
