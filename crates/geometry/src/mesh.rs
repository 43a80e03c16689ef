//! Positions on a topology.

use std::sync::Arc;

use crate::{GeometryError, Point, Topology};

/// One surface: positions on a shared topology.
#[derive(Debug, Clone, PartialEq)]
pub struct Mesh {
    topology: Arc<Topology>,
    positions: Vec<Point>,
}

impl Mesh {
    /// Puts positions on a topology. Positions may be any number, NaN included: finding those is a check's work.
    ///
    /// # Errors
    /// [`GeometryError::PositionCount`] where the counts differ.
    pub fn new(topology: Arc<Topology>, positions: Vec<Point>) -> Result<Self, GeometryError> {
        if positions.len() != topology.vertices() {
            return Err(GeometryError::PositionCount {
                positions: positions.len(),
                vertices: topology.vertices(),
            });
        }
        Ok(Self { topology, positions })
    }

    /// The shared triangles.
    #[must_use]
    pub fn topology(&self) -> &Arc<Topology> {
        &self.topology
    }

    /// Positions in millimetres, one a vertex.
    #[must_use]
    pub fn positions(&self) -> &[Point] {
        &self.positions
    }

    /// The same topology under other positions.
    ///
    /// # Errors
    /// [`GeometryError::PositionCount`] where the counts differ.
    pub fn with_positions(&self, positions: Vec<Point>) -> Result<Self, GeometryError> {
        Self::new(Arc::clone(&self.topology), positions)
    }

    /// # Errors
    /// [`GeometryError::NotFinite`] with the first vertex that is NaN or infinite.
    pub fn require_finite(&self) -> Result<(), GeometryError> {
        match self.positions.iter().position(|p| p.iter().any(|c| !c.is_finite())) {
            None => Ok(()),
            Some(vertex) => Err(GeometryError::NotFinite { vertex, position: self.positions[vertex] }),
        }
    }

    /// The lowest and the highest corner of the box around the finite positions, or `None` where there are none.
    #[must_use]
    pub fn bounds(&self) -> Option<(Point, Point)> {
        bounds(&self.positions)
    }
}

/// The lowest and the highest corner of the box around the finite positions, or `None` where there are none.
#[must_use]
pub fn bounds(positions: &[Point]) -> Option<(Point, Point)> {
    let mut found = None;
    for p in positions.iter().filter(|p| p.iter().all(|c| c.is_finite())) {
        let (low, high) = found.get_or_insert((*p, *p));
        for c in 0..3 {
            low[c] = f64::min(low[c], p[c]);
            high[c] = f64::max(high[c], p[c]);
        }
    }
    found
}
