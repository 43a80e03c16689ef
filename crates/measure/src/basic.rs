//! What can be measured without definitions.

use formkin_geometry::{Point, Topology, areas};
use serde::{Deserialize, Serialize};

/// What can be measured without definitions.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Basic {
    /// The area of the surface in mm2; `None` where a position is not finite.
    pub area_mm2: Option<f64>,
    /// The volume in mm3; `None` where the surface is open, for then there is none, or a position is not finite.
    pub volume_mm3: Option<f64>,
    /// The centroid size in mm, every vertex counted once: sqrt(sum |x_i - centroid|^2) (Dryden & Mardia); it grows with the number
    /// of vertices. `None` where a position is not finite.
    pub centroid_size_mm: Option<f64>,
}

/// Area, volume and centroid size of one shape.
#[must_use]
pub fn basic(topology: &Topology, positions: &[Point]) -> Basic {
    if positions.len() != topology.vertices() || positions.iter().flatten().any(|c| !c.is_finite()) {
        return Basic { area_mm2: None, volume_mm3: None, centroid_size_mm: None };
    }
    let finite = |v: f64| v.is_finite().then_some(v);
    Basic {
        area_mm2: finite(areas::area(topology, positions)),
        volume_mm3: topology
            .summary()
            .watertight
            .then(|| areas::volume(topology, positions))
            .and_then(finite),
        centroid_size_mm: finite(areas::centroid_size(positions, &vec![1.0; positions.len()])),
    }
}
