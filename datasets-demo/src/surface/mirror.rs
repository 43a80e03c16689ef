//! The whole from its left half.

use formkin_geometry::{GeometryError, Point, Topology};

/// A whole surface and its mirror pairs.
pub(crate) struct Whole {
    pub(crate) topology: Topology,
    pub(crate) positions: Vec<Point>,
    /// For each vertex the one on the other side; a vertex of the mid-plane is its own.
    pub(crate) mirror: Vec<u32>,
}

/// Joins a half to its mirror image along x = 0. The half's vertices come first, then the mirrored ones in the same order.
pub(crate) fn whole(half: &[Point], triangles: &[[u32; 3]]) -> Result<Whole, GeometryError> {
    let mut positions = half.to_vec();
    let mut mirror: Vec<u32> = (0..half.len() as u32).collect();
    for (v, p) in half.iter().enumerate() {
        if p[0] != 0.0 {
            mirror[v] = positions.len() as u32;
            mirror.push(v as u32);
            positions.push([-p[0], p[1], p[2]]);
        }
    }
    let mut all = triangles.to_vec();
    all.extend(
        triangles.iter().map(|&[a, b, c]| [mirror[a as usize], mirror[c as usize], mirror[b as usize]]),
    );
    Ok(Whole { topology: Topology::new(positions.len(), all)?, positions, mirror })
}
