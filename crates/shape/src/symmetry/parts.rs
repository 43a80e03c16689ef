//! The symmetric and the asymmetric part of every body, read from the shapes as captured.

use formkin_align::Transform;
use formkin_geometry::{Point, ShapeSource, SourceError};

/// The symmetric parts s = (x + x')/2 or the asymmetric ones d = (x - x')/2 of shapes x laid on a mean that is symmetric about x = 0, with x' the mirrored copy. x = s + d.
pub(super) struct Parts<'a> {
    pub(super) source: &'a dyn ShapeSource,
    pub(super) transforms: &'a [Transform],
    pub(super) mirror: &'a [u32],
    /// 1 for the symmetric parts, -1 for the asymmetric ones.
    pub(super) sign: f64,
}

impl ShapeSource for Parts<'_> {
    fn shapes(&self) -> usize {
        self.transforms.len()
    }

    fn vertices(&self) -> usize {
        self.source.vertices()
    }

    fn read_block(&self, first: usize, out: &mut [Point]) -> Result<(), SourceError> {
        self.source.read_block(first, out)?;
        let v = self.vertices().max(1);
        for (i, shape) in out.chunks_mut(v).enumerate() {
            let Some(transform) = self.transforms.get(first + i) else {
                return Err(SourceError { shape: first + i, reason: "it was not laid on the mean".into() });
            };
            transform.apply_all(shape);
            for a in 0..shape.len() {
                let b = self.mirror[a] as usize;
                if b < a {
                    continue;
                }
                let (p, q) = (shape[a], shape[b]);
                let half = |p: Point, q: Point| -> Point {
                    [
                        (p[0] - self.sign * q[0]) / 2.0,
                        (p[1] + self.sign * q[1]) / 2.0,
                        (p[2] + self.sign * q[2]) / 2.0,
                    ]
                };
                shape[a] = half(p, q);
                shape[b] = half(q, p);
            }
        }
        Ok(())
    }
}
