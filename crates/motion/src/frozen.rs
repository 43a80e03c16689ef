//! Frozen frames: a frame that repeats the one before it.
//!
//! The change between two frames is the plain root mean square distance of their vertices, as captured. Under 0.01 mm the second
//! one is frozen (common practice, no source): a living body and a camera never agree that well twice.

use formkin_align::block_shapes;
use formkin_geometry::{Point, ShapeSource};
use rayon::prelude::*;

use crate::{Finding, FindingKind, MotionError};

/// A smaller change than this, in mm, is a frozen frame.
pub(crate) const FROZEN_BELOW_MM: f64 = 0.01;

/// The root mean square change, in mm, of every frame against the one before it: one value fewer than there are frames.
/// One pass in blocks of bounded size.
///
/// # Errors
/// [`MotionError::Source`] where a frame cannot be read.
pub fn changes_mm(source: &dyn ShapeSource) -> Result<Vec<f64>, MotionError> {
    let (n, v) = (source.shapes(), source.vertices());
    let mut changes = Vec::with_capacity(n.saturating_sub(1));
    if n < 2 {
        return Ok(changes);
    }
    let block = block_shapes(v).clamp(2, n.max(2));
    let mut buffer: Vec<Point> = vec![[0.0; 3]; block * v];
    // the last frame of a block is the first of the next
    for first in (0..n - 1).step_by(block - 1) {
        let frames = &mut buffer[..block.min(n - first) * v];
        let read: Vec<Result<(), MotionError>> = frames
            .par_chunks_mut(v)
            .enumerate()
            .map(|(i, shape)| Ok(source.read_block(first + i, shape)?))
            .collect();
        read.into_iter().collect::<Result<(), _>>()?;
        let frames = &*frames;
        let found: Vec<f64> = (1..frames.len() / v)
            .into_par_iter()
            .map(|i| {
                let pairs = frames[(i - 1) * v..i * v].iter().zip(&frames[i * v..(i + 1) * v]);
                let sum: f64 =
                    pairs.map(|(a, b)| (0..3).map(|c| (a[c] - b[c]) * (a[c] - b[c])).sum::<f64>()).sum();
                (sum / v as f64).sqrt()
            })
            .collect();
        changes.extend(found);
    }
    Ok(changes)
}

/// The frozen frames of a row of changes as findings, one a run; the frame named is the first that repeats.
#[must_use]
pub fn frozen(changes_mm: &[f64]) -> Vec<Finding> {
    let mut findings: Vec<Finding> = Vec::new();
    let mut run: Option<(usize, usize, f64)> = None; // first frame, number, largest change
    let mut close = |run: Option<(usize, usize, f64)>| {
        if let Some((first, frames, largest)) = run {
            findings.push(Finding {
                kind: FindingKind::FrozenFrames,
                frame: Some(first),
                frames,
                message: format!(
                    "{frames} frozen from frame {first} on: the change to the frame before is at most {largest:.4} mm"
                ),
                amount: Some(largest),
                unit: Some("mm".to_owned()),
                advice: "leave repeated frames out: they weigh that pose twice and disturb frequencies".to_owned(),
            });
        }
    };
    for (i, &change) in changes_mm.iter().enumerate() {
        run = if change < FROZEN_BELOW_MM {
            Some(run.map_or((i + 1, 1, change), |(f, n, m)| (f, n + 1, m.max(change))))
        } else {
            close(run);
            None
        };
    }
    close(run);
    findings
}

#[cfg(test)]
mod tests {
    use formkin_geometry::ShapeArray;

    use super::*;

    #[test]
    fn runs_of_repeated_frames_are_found_and_counted() {
        let mut a = ShapeArray::new(2);
        for x in [0.0, 1.0, 1.0, 1.005, 2.0, 3.0, 3.0] {
            a.push(&[[x, 0.0, 0.0], [0.0, x, 0.0]]).unwrap();
        }
        let changes = changes_mm(&a).unwrap();
        assert!((changes[0] - 1.0).abs() < 1e-12 && changes.len() == 6);
        let found = frozen(&changes);
        assert_eq!(
            found.iter().map(|f| (f.frame, f.frames)).collect::<Vec<_>>(),
            [(Some(2), 2), (Some(6), 1)]
        );
        assert!(found.iter().all(|f| f.kind == FindingKind::FrozenFrames));
        assert!(changes_mm(&ShapeArray::new(2)).unwrap().is_empty());
    }
}
