//! The range of every vertex in a body frame, for maps over the surface.

use formkin_align::{Transform, block_shapes};
use formkin_geometry::{Point, ShapeSource};
use rayon::prelude::*;
use serde::{Deserialize, Serialize};

use crate::MotionError;
use crate::body_frame::BodyFrame;
use crate::cycles::cycle::Cycles;
use crate::fault::CyclesFault;

/// Vertices that one task follows.
const CHUNK: usize = 4096;

/// The frames `first..end` with times of `start_s` to `end_s`, both included; `None` where there are none.
fn frames_between(times_s: &[f64], start_s: f64, end_s: f64) -> Option<(usize, usize)> {
    let first = times_s.iter().position(|&t| t >= start_s)?;
    let end = times_s.iter().rposition(|&t| t <= end_s)? + 1;
    (first < end).then_some((first, end))
}

/// The ranges of some vertices, frame by frame.
struct Part {
    low: Vec<Point>,
    high: Vec<Point>,
    sums: Vec<Point>,
}

impl Part {
    fn new(vertices: usize) -> Self {
        Self { low: vec![[0.0; 3]; vertices], high: vec![[0.0; 3]; vertices], sums: vec![[0.0; 3]; vertices] }
    }

    /// Takes a frame of a cycle, the first and the last of it marked. Cycles come one after the other.
    fn take(&mut self, shape: &[Point], transform: &Transform, first: bool, last: bool) {
        for (i, &p) in shape.iter().enumerate() {
            let p = transform.apply(p);
            let (low, high) = (&mut self.low[i], &mut self.high[i]);
            if first {
                (*low, *high) = (p, p);
            } else {
                for c in 0..3 {
                    low[c] = low[c].min(p[c]);
                    high[c] = high[c].max(p[c]);
                }
            }
            if last {
                for c in 0..3 {
                    self.sums[i][c] += high[c] - low[c];
                }
            }
        }
    }
}

/// How far every vertex goes against the body in a cycle, the mean over the cycles.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct RangeField {
    /// Mean range on the lateral, fore-aft and vertical axes, one a vertex, in mm.
    pub ranges_mm: Vec<Point>,
    /// Cycles; 0 where the ranges are of the whole record.
    pub cycles: usize,
}

impl RangeField {
    /// The ranges of all vertices: largest less smallest place in each cycle that counts, averaged; without cycles of the whole record. Places
    /// are not filtered. One pass over the frames, streamed: memory does not grow with their number.
    ///
    /// # Errors
    /// [`MotionError::Count`] where times, frames and the body frame differ in number; [`MotionError::Source`].
    pub fn of(
        source: &dyn ShapeSource,
        times_s: &[f64],
        frame: &BodyFrame,
        cycles: Option<&Cycles>,
    ) -> Result<Self, MotionError> {
        let (n, v) = (source.shapes(), source.vertices());
        for (what, found) in
            [("time stamps", times_s.len()), ("frames of the body frame", frame.transforms.len())]
        {
            if found != n {
                return Err(MotionError::Count { what, expected: n, found });
            }
        }
        let spans: Vec<(usize, usize)> = match cycles {
            Some(c) => c.counting().filter_map(|c| frames_between(times_s, c.start_s, c.end_s)).collect(),
            None if n > 0 => vec![(0, n)],
            None => Vec::new(),
        };
        let Some(end) = spans.iter().map(|s| s.1).max() else {
            return Err(CyclesFault::NoFrames.into());
        };
        let mut parts: Vec<Part> = (0..v.div_ceil(CHUNK)).map(|_| Part::new(CHUNK.min(v))).collect();
        let block = block_shapes(v);
        let mut buffer = vec![[0.0; 3]; block.min(n) * v];
        for first in (0..end).step_by(block) {
            let last = (first + block).min(end);
            let open: Vec<(usize, usize)> =
                spans.iter().copied().filter(|&(a, b)| a < last && b > first).collect();
            if open.is_empty() {
                continue;
            }
            let frames = &mut buffer[..(last - first) * v];
            let read: Vec<Result<(), MotionError>> = frames
                .par_chunks_mut(v)
                .enumerate()
                .map(|(i, shape)| Ok(source.read_block(first + i, shape)?))
                .collect();
            read.into_iter().collect::<Result<(), _>>()?;
            let frames = &*frames;
            parts.par_iter_mut().enumerate().for_each(|(c, part)| {
                let vertices = c * CHUNK..((c + 1) * CHUNK).min(v);
                for &(from, to) in &open {
                    for k in from.max(first)..to.min(last) {
                        let shape = &frames[(k - first) * v..][vertices.clone()];
                        part.take(shape, &frame.transforms[k], k == from, k + 1 == to);
                    }
                }
            });
        }
        let count = spans.len() as f64;
        let ranges_mm = parts.iter().flat_map(|p| &p.sums).take(v).map(|s| s.map(|x| x / count)).collect();
        Ok(Self { ranges_mm, cycles: if cycles.is_some() { spans.len() } else { 0 } })
    }

    /// How much less every vertex moves here than in `reference`, vertical range in mm: negative where it moves more.
    ///
    /// # Errors
    /// [`MotionError::Count`] where the two have not the same vertices.
    pub fn vertical_reduction_mm(&self, reference: &Self) -> Result<Vec<f64>, MotionError> {
        if self.ranges_mm.len() != reference.ranges_mm.len() {
            return Err(MotionError::Count {
                what: "vertices",
                expected: reference.ranges_mm.len(),
                found: self.ranges_mm.len(),
            });
        }
        Ok(self.ranges_mm.iter().zip(&reference.ranges_mm).map(|(a, b)| b[2] - a[2]).collect())
    }
}
