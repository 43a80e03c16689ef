//! Errors of the vertices of people held out.

use serde::{Deserialize, Serialize};

/// Errors within a region.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct RegionError {
    /// The region.
    pub region: String,
    /// Weighted RMS distance, in mm.
    pub rms_mm: f64,
    /// Weighted 95th percentile of distances, in mm.
    pub p95_mm: f64,
    /// Largest distance, in mm.
    pub max_mm: f64,
}

/// Errors of the vertices of people held out, described with so many modes.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct VertexErrors {
    /// Number of modes; fewer in folds that have fewer.
    pub modes: usize,
    /// Number of people held out.
    pub people: usize,
    /// Number of shapes held out.
    pub items: usize,
    /// Weighted RMS distance over shapes and vertices, in mm.
    pub rms_mm: f64,
    /// Weighted 95th percentile over shapes and vertices, in mm, to 0.01 mm.
    pub p95_mm: f64,
    /// Largest distance of a vertex, weightless ones left out, in mm.
    pub max_mm: f64,
    /// By region; a region without weight is left out.
    pub regions: Vec<RegionError>,
    /// V root mean square distances over shapes, in mm. Not kept in files.
    #[serde(skip)]
    pub vertex_rms_mm: Vec<f64>,
}
