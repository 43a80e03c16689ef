//! The aligned shapes as a source.

use formkin_geometry::{Point, ShapeSource, SourceError};

use crate::Transform;

/// The shapes of another source, each under its own transform. Nothing is copied: the transforms are applied while reading.
pub struct Aligned<'a> {
    source: &'a dyn ShapeSource,
    transforms: &'a [Transform],
}

impl<'a> Aligned<'a> {
    /// Shape i of `source` under `transforms[i]`.
    #[must_use]
    pub fn new(source: &'a dyn ShapeSource, transforms: &'a [Transform]) -> Self {
        Self { source, transforms }
    }
}

impl ShapeSource for Aligned<'_> {
    fn shapes(&self) -> usize {
        self.transforms.len().min(self.source.shapes())
    }

    fn vertices(&self) -> usize {
        self.source.vertices()
    }

    fn read_block(&self, first: usize, out: &mut [Point]) -> Result<(), SourceError> {
        self.source.read_block(first, out)?;
        for (i, shape) in out.chunks_mut(self.vertices().max(1)).enumerate() {
            match self.transforms.get(first + i) {
                Some(t) => t.apply_all(shape),
                None => {
                    return Err(SourceError { shape: first + i, reason: "it has no transform".to_owned() });
                }
            }
        }
        Ok(())
    }
}
