//! Where shapes come from: memory, disk, a subset, an aligned view.

use thiserror::Error;

use crate::Point;

/// A failed read. The cause is kept as text, since sources live in crates above this one.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
#[error("shape {shape} cannot be read: {reason}")]
pub struct SourceError {
    /// Which shape, from 0.
    pub shape: usize,
    /// Why, in words for a person.
    pub reason: String,
}

/// A row of shapes on one topology that can be read in blocks, in any order and from several threads.
pub trait ShapeSource: Sync {
    /// Number of shapes.
    fn shapes(&self) -> usize;

    /// Number of vertices of every shape.
    fn vertices(&self) -> usize;

    /// Reads the shapes `first ..`, as many as fit: `out` holds a whole number of shapes, one after the other,
    /// each `vertices()` positions in millimetres.
    ///
    /// # Errors
    /// [`SourceError`] where a shape cannot be read or is not there.
    fn read_block(&self, first: usize, out: &mut [Point]) -> Result<(), SourceError>;

    /// One shape.
    ///
    /// # Errors
    /// As [`ShapeSource::read_block`].
    fn read_shape(&self, shape: usize) -> Result<Vec<Point>, SourceError> {
        let mut out = vec![[0.0; 3]; self.vertices()];
        self.read_block(shape, &mut out)?;
        Ok(out)
    }
}

/// Shapes in memory.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct ShapeArray {
    vertices: usize,
    positions: Vec<Point>,
}

impl ShapeArray {
    /// An empty array for shapes of so many vertices.
    #[must_use]
    pub fn new(vertices: usize) -> Self {
        Self { vertices, positions: Vec::new() }
    }

    /// Adds a shape.
    ///
    /// # Errors
    /// [`crate::GeometryError::PositionCount`] where its number of vertices is another.
    pub fn push(&mut self, shape: &[Point]) -> Result<(), crate::GeometryError> {
        if shape.len() != self.vertices {
            return Err(crate::GeometryError::PositionCount {
                positions: shape.len(),
                vertices: self.vertices,
            });
        }
        self.positions.extend_from_slice(shape);
        Ok(())
    }

    /// One shape, without a copy.
    #[must_use]
    pub fn shape(&self, i: usize) -> &[Point] {
        &self.positions[i * self.vertices..(i + 1) * self.vertices]
    }
}

impl ShapeSource for ShapeArray {
    fn shapes(&self) -> usize {
        self.positions.len().checked_div(self.vertices).unwrap_or(0)
    }

    fn vertices(&self) -> usize {
        self.vertices
    }

    fn read_block(&self, first: usize, out: &mut [Point]) -> Result<(), SourceError> {
        let start = first * self.vertices;
        match self.positions.get(start..start + out.len()) {
            Some(found) => out.copy_from_slice(found),
            None => {
                return Err(SourceError {
                    shape: first,
                    reason: format!("there are only {} shapes", self.shapes()),
                });
            }
        }
        Ok(())
    }
}

/// Some shapes of another source, in a given order.
pub struct Subset<'a> {
    source: &'a dyn ShapeSource,
    shapes: &'a [usize],
}

impl<'a> Subset<'a> {
    /// The shapes `shapes` of `source`, in that order. An index out of range is an error when it is read.
    #[must_use]
    pub fn new(source: &'a dyn ShapeSource, shapes: &'a [usize]) -> Self {
        Self { source, shapes }
    }
}

impl ShapeSource for Subset<'_> {
    fn shapes(&self) -> usize {
        self.shapes.len()
    }

    fn vertices(&self) -> usize {
        self.source.vertices()
    }

    fn read_block(&self, first: usize, out: &mut [Point]) -> Result<(), SourceError> {
        let v = self.vertices();
        for (i, shape) in out.chunks_mut(v).enumerate() {
            match self.shapes.get(first + i) {
                Some(&s) => self.source.read_block(s, shape)?,
                None => {
                    return Err(SourceError {
                        shape: first + i,
                        reason: format!("the subset has only {} shapes", self.shapes.len()),
                    });
                }
            }
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_subset_reads_its_shapes_in_its_order() {
        let mut a = ShapeArray::new(2);
        for i in 0..4 {
            a.push(&[[f64::from(i), 0.0, 0.0], [0.0, f64::from(i), 0.0]]).unwrap();
        }
        let s = Subset::new(&a, &[3, 1]);
        let mut out = vec![[0.0; 3]; 4];
        s.read_block(0, &mut out).unwrap();
        assert_eq!(out, [[3.0, 0.0, 0.0], [0.0, 3.0, 0.0], [1.0, 0.0, 0.0], [0.0, 1.0, 0.0]]);
        assert!(s.read_block(1, &mut out).is_err());
        assert!(a.read_block(4, &mut out[..2]).is_err());
    }
}
