//! k-means and k-medoids.
