//! Mirrored copies of shapes: reflected, and the vertices renamed left for right.

use formkin_geometry::{Point, ShapeSource, SourceError};

use crate::ShapeError;

/// The mirrored copy of a shape: x becomes -x, and vertex v takes the place of its mirror pair. A body again, never an inside-out one, since the renaming turns the
/// triangles round once more. `mirror[v]` is the vertex on the other side, v itself on the mid-plane.
#[must_use]
pub fn mirrored(shape: &[Point], mirror: &[u32]) -> Vec<Point> {
    mirror
        .iter()
        .map(|&m| shape.get(m as usize).copied().unwrap_or_default())
        .map(|[x, y, z]| [-x, y, z])
        .collect()
}

/// Checks that pairs are mutual and as many as there are vertices.
pub(crate) fn check_pairs(mirror: &[u32], vertices: usize) -> Result<(), ShapeError> {
    if mirror.len() != vertices {
        return Err(ShapeError::Count { what: "mirror pairs", expected: vertices, found: mirror.len() });
    }
    match mirror
        .iter()
        .enumerate()
        .find(|(v, m)| mirror.get(**m as usize).is_none_or(|back| *back as usize != *v))
    {
        Some((vertex, _)) => Err(ShapeError::MirrorPair { vertex }),
        None => Ok(()),
    }
}

/// The n shapes of a source and, after them, their n mirrored copies.
pub struct WithMirrored<'a> {
    source: &'a dyn ShapeSource,
    mirror: &'a [u32],
}

impl<'a> WithMirrored<'a> {
    /// # Errors
    /// [`ShapeError::Count`] and [`ShapeError::MirrorPair`] where the pairs do not fit the shapes.
    pub fn new(source: &'a dyn ShapeSource, mirror: &'a [u32]) -> Result<Self, ShapeError> {
        check_pairs(mirror, source.vertices())?;
        Ok(Self { source, mirror })
    }
}

impl ShapeSource for WithMirrored<'_> {
    fn shapes(&self) -> usize {
        2 * self.source.shapes()
    }

    fn vertices(&self) -> usize {
        self.source.vertices()
    }

    fn read_block(&self, first: usize, out: &mut [Point]) -> Result<(), SourceError> {
        let (n, v) = (self.source.shapes(), self.vertices().max(1));
        for (i, shape) in out.chunks_mut(v).enumerate() {
            let which = first + i;
            if which < n {
                self.source.read_block(which, shape)?;
            } else if which < 2 * n {
                let plain = self.source.read_shape(which - n)?;
                shape.copy_from_slice(&mirrored(&plain, self.mirror));
            } else {
                return Err(SourceError { shape: which, reason: format!("there are only {} shapes", 2 * n) });
            }
        }
        Ok(())
    }
}
