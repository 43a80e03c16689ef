//! Cross-validation of motion modes by cycle.
//!
//! Frames are autocorrelated, and the frames of one cycle belong together: whole cycles are left out. They are dealt into folds of
//! neighbours; in every fold the frames of the other cycles are aligned and decomposed anew, and the frames left out are laid on that mean and
//! described with 0, 1, 2, .. of those modes. All of it follows exactly from the cross moments of the frames ([`formkin_align::CrossMoments`]), so
//! the meshes are read once; vertex weights are fixed. Frames outside of cycles that count take no part. The same person is on both sides: the
//! error says how well the modes hold from cycle to cycle, nothing about other people.

use formkin_align::{AlignParams, CrossMoments};
use formkin_geometry::{ShapeSource, Subset};
use formkin_shape::gram::rank;
use formkin_stats::symmetric::symmetric_eigen;
use rayon::prelude::*;
use serde::{Deserialize, Serialize};

use super::cycle::Cycles;
use crate::fault::CyclesFault;
use crate::{Motion, MotionError};

/// Most folds.
const FOLDS: usize = 5;
/// Frames used at most; beyond, every cycle is thinned by the same step, and of more cycles than this every second, third .. is used.
const MOST_FRAMES: usize = 400;

/// The error of cycles left out with so many modes.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct CycleError {
    /// Number of modes.
    pub modes: usize,
    /// Root of the mean over cycles of the mean over a cycle's frames of the weighted mean square distance, in mm.
    pub rms_mm: f64,
    /// Standard error over cycles, in mm: SD of the cycles' mean squares / sqrt(cycles) / (2 rms), the delta method.
    pub se_mm: f64,
}

/// A cross-validation by cycle.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct CyclesLeftOut {
    /// Number of folds.
    pub folds: usize,
    /// Number of cycles used, each left out once.
    pub cycles: usize,
    /// Frames used.
    pub frames: usize,
    /// Every how many frames one was used.
    pub thinned_by: usize,
    /// Errors for 0, 1, 2, .. modes.
    pub errors: Vec<CycleError>,
    /// What it is and is not.
    pub note: String,
}

/// Leaves the cycles of a movement out in turn, up to `motion.modes.len()` modes.
///
/// # Errors
/// [`MotionError::NoCycles`] where under three cycles that count have frames, or where the frame of reference is fixed to a region, whose weights are not
/// those of the modes; [`MotionError::TimeCount`]; an alignment that fails; [`MotionError::Source`].
#[expect(
    clippy::too_many_lines,
    reason = "one cross-validation: moments, folds and sums share what is read once"
)]
pub fn leave_cycles_out(
    motion: &Motion,
    source: &dyn ShapeSource,
    times_s: &[f64],
    cycles: &Cycles,
) -> Result<CyclesLeftOut, MotionError> {
    let n = source.shapes();
    if times_s.len() != n {
        return Err(MotionError::TimeCount { times: times_s.len(), frames: n });
    }
    if motion.params.region.is_some() {
        return Err(CyclesFault::OnARegion.into());
    }
    // a frame on the border of two cycles belongs to the later one
    let mut of_cycle: Vec<Vec<usize>> = cycles
        .counting()
        .map(|c| (0..n).filter(|&k| times_s[k] >= c.start_s && times_s[k] < c.end_s).collect::<Vec<_>>())
        .filter(|frames| !frames.is_empty())
        .collect();
    if of_cycle.len() < 3 {
        return Err(CyclesFault::FewToLeaveOut { cycles: of_cycle.len() }.into());
    }
    // each keeps a frame at least, and moments grow as the square of the frames
    let there = of_cycle.len();
    of_cycle = of_cycle.into_iter().step_by(there.div_ceil(MOST_FRAMES)).collect();
    let all: usize = of_cycle.iter().map(Vec::len).sum();
    let step = all.div_ceil(MOST_FRAMES).max(1);
    let mut chosen = Vec::new();
    let mut whose = Vec::new();
    for (c, frames) in of_cycle.iter().enumerate() {
        for &k in frames.iter().step_by(step) {
            chosen.push(k);
            whose.push(c);
        }
    }
    let count = of_cycle.len();
    let folds = FOLDS.min(count);
    let subset = Subset::new(source, &chosen);
    let moments = CrossMoments::of(&subset, &motion.weights, motion.params.removes, &|_, _| {})?;
    let align = AlignParams { removes: motion.params.removes, ..AlignParams::default() };
    let most = motion.modes.len();
    // the cycle of every frame held out, and its square left by each number of modes
    type Left = Vec<(usize, Vec<f64>)>;
    let found: Vec<Result<Left, MotionError>> = (0..folds)
        .into_par_iter()
        .map(|fold| {
            let held = fold * count / folds..(fold + 1) * count / folds;
            let (test, train): (Vec<usize>, Vec<usize>) =
                (0..chosen.len()).partition(|&i| held.contains(&whose[i]));
            let alignment = moments.align(&train, &align)?;
            let eigen = symmetric_eigen(&alignment.gram())?;
            let least = 16.0 * train.len() as f64 * f64::EPSILON;
            let known = rank(&eigen.values, alignment.mean_square_mm2(), least).min(most);
            test.iter()
                .map(|&i| {
                    let held = alignment.hold_out(i)?;
                    let mut left = held.square_mm2;
                    let mut row = vec![left];
                    for k in 0..most {
                        if k < known {
                            let terms = eigen.vectors.column(k).into_iter().zip(&held.products_mm2);
                            let b: f64 = terms.map(|(u, x)| u * x).sum();
                            left = (left - b * b / eigen.values[k]).max(0.0);
                        }
                        row.push(left);
                    }
                    Ok((whose[i], row))
                })
                .collect()
        })
        .collect();
    let mut sums = vec![vec![0.0; most + 1]; count];
    let mut frames = vec![0usize; count];
    for fold in found {
        for (c, row) in fold? {
            frames[c] += 1;
            for (sum, square) in sums[c].iter_mut().zip(row) {
                *sum += square;
            }
        }
    }
    let cycles = count as f64;
    let errors = (0..=most)
        .map(|modes| {
            let means: Vec<f64> = (0..count).map(|c| sums[c][modes] / frames[c] as f64).collect();
            let mean = means.iter().sum::<f64>() / cycles;
            let variance = means.iter().map(|m| (m - mean) * (m - mean)).sum::<f64>() / (cycles - 1.0);
            let rms_mm = mean.sqrt();
            let se_mm = if rms_mm > 0.0 { (variance / cycles).sqrt() / (2.0 * rms_mm) } else { 0.0 };
            CycleError { modes, rms_mm, se_mm }
        })
        .collect();
    let mut note = format!(
        "{folds} folds of neighbouring cycles, alignment and modes refitted in each, vertex weights fixed; one person, so it says nothing about other people"
    );
    if count < there {
        note += &format!("; {count} of {there} cycles, evenly in time");
    }
    Ok(CyclesLeftOut { folds, cycles: count, frames: chosen.len(), thinned_by: step, errors, note })
}
