//! Held-out error by contiguous segments.
//!
//! Frames are autocorrelated: a frame left out alone is known from its neighbours. So the record is cut into contiguous segments of
//! equal length, and each is reconstructed from alignment, mean and modes of the others. The same person is on both sides: this
//! says how well the modes hold over time, not over people.

use formkin_align::align_one;
use formkin_geometry::vector::{dot, sub};
use formkin_geometry::{Point, ShapeSource, Subset, Topology};
use rayon::prelude::*;

use crate::modes::{Decomposition, PARTS, decompose};
use crate::{MotionError, MotionParams, Segments};

/// Fewest frames that modes are built from here.
const MIN_TRAINING: usize = 3;
/// Frames read at once.
const BLOCK: usize = 16;

type HeldOut = Result<(Vec<f64>, Segments), String>;

/// Held-out RMS, in mm, with 0, 1, .. `modes` modes, or why there is none. `progress` hears what is done, [`PARTS`] a segment.
pub(crate) fn held_out(
    params: &MotionParams,
    source: &dyn ShapeSource,
    topology: &Topology,
    reference: Option<&[Point]>,
    modes: usize,
    progress: &(dyn Fn(usize) + Sync),
) -> Result<HeldOut, MotionError> {
    let (n, count) = (source.shapes(), params.segments);
    if count == 0 {
        return Ok(Err("not asked for: segments is 0".to_owned()));
    }
    if modes == 0 {
        return Ok(Err("the shape does not change".to_owned()));
    }
    let longest = n.div_ceil(count);
    if n < count || n - longest < MIN_TRAINING {
        return Ok(Err(format!("{n} frames are too few for {count} segments")));
    }
    let mut squares = vec![0.0; modes + 1];
    let mut cut = Vec::new();
    for s in 0..count {
        let (first, end) = (s * n / count, (s + 1) * n / count);
        let training: Vec<usize> = (0..first).chain(end..n).collect();
        let of_others = decompose(params, &Subset::new(source, &training), topology, reference, &|done| {
            progress(s * PARTS + done)
        })?;
        let test: Vec<usize> = (first..end).collect();
        let per_frame = residuals(params, &Subset::new(source, &test), &of_others, modes)?;
        for row in per_frame {
            for (sum, r) in squares.iter_mut().zip(row) {
                *sum += r;
            }
        }
        cut.push((first, end - first));
    }
    let note = "each contiguous segment by alignment, mean and modes of the others; one person, so it says nothing about other people";
    Ok(Ok((
        squares.iter().map(|s| (s / n as f64).sqrt()).collect(),
        Segments { held_out: cut, note: note.to_owned() },
    )))
}

/// For every frame the weighted mean squared residual with 0, 1, .. `modes` modes. Where there are fewer modes, the last stays.
fn residuals(
    params: &MotionParams,
    source: &dyn ShapeSource,
    model: &Decomposition,
    modes: usize,
) -> Result<Vec<Vec<f64>>, MotionError> {
    let (n, v) = (source.shapes(), source.vertices());
    let mut rows = Vec::with_capacity(n);
    let mut block: Vec<Point> = vec![[0.0; 3]; BLOCK.min(n) * v];
    for first in (0..n).step_by(BLOCK) {
        let part = &mut block[..BLOCK.min(n - first) * v];
        source.read_block(first, part)?;
        let found: Vec<Vec<f64>> = part
            .par_chunks(v)
            .map(|shape| {
                let pose = align_one(shape, &model.mean, &model.alignment.weights, params.removes)?;
                let difference: Vec<Point> =
                    shape.iter().zip(&model.mean).map(|(&x, &m)| sub(pose.apply(x), m)).collect();
                let product = |mode: &[Point]| -> f64 {
                    let terms = difference.iter().zip(mode).zip(&model.weights);
                    terms.map(|((&d, &p), w)| w * dot(d, p)).sum()
                };
                let mut left: f64 = product(&difference);
                let mut row = vec![left];
                for k in 0..modes {
                    if let Some(mode) = model.modes.get(k) {
                        left = (left - product(mode).powi(2)).max(0.0);
                    }
                    row.push(left);
                }
                Ok(row)
            })
            .collect::<Result<_, MotionError>>()?;
        rows.extend(found);
    }
    Ok(rows)
}
