//! Reading shapes in blocks of bounded size.

use formkin_geometry::{Point, ShapeSource};
use rayon::prelude::*;

use crate::AlignError;

/// How much a block of shapes may take in memory, in bytes.
pub const BLOCK_BYTES: usize = 64 << 20;

/// How many shapes of so many vertices make a block: at least one, and as many as fit [`BLOCK_BYTES`]. It depends on nothing else, so that
/// sums over blocks are the same on every machine.
#[must_use]
pub fn block_shapes(vertices: usize) -> usize {
    (BLOCK_BYTES / (vertices.max(1) * size_of::<Point>())).max(1)
}

/// Reads the shapes `first..first + count` into `buffer`, several at a time.
pub(crate) fn read(
    source: &dyn ShapeSource,
    first: usize,
    count: usize,
    buffer: &mut Vec<Point>,
) -> Result<(), AlignError> {
    let vertices = source.vertices();
    buffer.resize(count * vertices, [0.0; 3]);
    let read: Vec<_> = buffer
        .par_chunks_mut(vertices)
        .enumerate()
        .map(|(i, out)| source.read_block(first + i, out))
        .collect();
    Ok(read.into_iter().collect::<Result<(), _>>()?)
}
