//! Dynamic mode decomposition: frequencies and growth of a movement, with time-delay embedding.
//!
//! The course of the mode coefficients x_i (one row a frame, a constant step dt) is stacked in delays: column i is (x_i, x_(i+1), .., x_(i+d-1)).
//! With X the columns 0 .. m-1 and Y the columns 1 .. m, X = U S V^T truncated to rank r, the eigenvalues mu of U^T Y V S^-1 are those of
//! the linear map that takes each column to the next best (Tu et al. 2014, *Journal of Computational Dynamics*, from memory). Frequency =
//! |Im ln mu| / (2 pi dt), growth = Re ln mu / dt. One delay gives nothing where noise hides the map; with many, noise averages out and
//! a movement that returns on itself is linear in its delays. Constant step only.
//!
//! The rank is that of the singular values above 2.858 times their median for square matrices, in general omega(beta), the optimal hard threshold for
//! noise of unknown size (Gavish & Donoho 2014, from memory), or given.

use std::f64::consts::TAU;

use formkin_stats::general::general_eigen;
use formkin_stats::gram::{add_gram, add_product};
use formkin_stats::quantile::median_of;
use formkin_stats::spectrum::gavish_donoho_factor;
use formkin_stats::svd::{Svd, svd};
use formkin_stats::symmetric::symmetric_eigen;
use ndarray::{Array2, s};
use serde::{Deserialize, Serialize};

use crate::{MotionError, Timing};

/// Most numbers in a stacked matrix.
const MOST: usize = 40_000_000;

/// Settings of a dynamic mode decomposition.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct DynamicParams {
    /// Delays that are stacked; a third of the record where absent. 1 is none.
    pub delays: Option<usize>,
    /// The rank; found by the threshold where absent.
    pub rank: Option<usize>,
    /// Most modes to report: pairs count as one.
    pub most: usize,
}

impl Default for DynamicParams {
    fn default() -> Self {
        Self { delays: None, rank: None, most: 12 }
    }
}

/// One dynamic mode: a conjugate pair of eigenvalues, or a single real one.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct DynamicMode {
    /// Frequency, in Hz; 0 for a real eigenvalue.
    pub hz: f64,
    /// Growth rate, in 1/s: negative where the mode dies away.
    pub growth_per_s: f64,
    /// Damping ratio: -growth / sqrt(growth^2 + (2 pi hz)^2).
    pub damping_ratio: f64,
    /// The eigenvalue: real and imaginary part.
    pub eigenvalue: (f64, f64),
    /// Root mean square over the record of what the mode adds to the coefficients, in their unit (mm).
    pub rms_mm: f64,
    /// Real and imaginary part of the shape, in coefficients of the motion modes, at the first frame: the pair adds
    /// 2 Re(shape mu^i) to frame i (a real mode shape mu^i).
    pub shape: Vec<(f64, f64)>,
}

/// A dynamic mode decomposition.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Dynamics {
    /// Number of frames.
    pub frames: usize,
    /// The step, in s.
    pub step_s: f64,
    /// Delays used.
    pub delays: usize,
    /// Rank used.
    pub rank: usize,
    /// Singular values of the stacked matrix, largest first.
    pub singular_values: Vec<f64>,
    /// The mean that was taken off, coefficient by coefficient.
    pub mean: Vec<f64>,
    /// Modes, the largest part of the movement first.
    pub modes: Vec<DynamicMode>,
    /// Root mean square of what all eigenvalues together leave of the coefficients, in mm.
    pub error_mm: f64,
}

/// Decomposes coefficients (one row a frame) with these time stamps.
///
/// # Errors
/// [`MotionError::NotUniformTimes`] where the step is not constant; [`MotionError::Count`] for rows of unequal length;
/// [`MotionError::SignalTooShort`]; [`MotionError::OutOfRange`] for delays or a rank that do not fit.
pub fn dynamic_modes(
    rows: &[Vec<f64>],
    times_s: &[f64],
    params: &DynamicParams,
) -> Result<Dynamics, MotionError> {
    let n = rows.len();
    let width = rows.first().map_or(0, Vec::len);
    let timing = Timing::of(times_s, n)?;
    let Some(fps) = timing.fps else { return Err(MotionError::NotUniformTimes) };
    if width == 0 || n < 6 {
        return Err(MotionError::SignalTooShort { samples: n * width.min(1), needed: 6 });
    }
    check_rows(rows, width)?;
    let (delays, columns) = stack(params, n, width)?;
    let mean: Vec<f64> = (0..width).map(|c| rows.iter().map(|r| r[c]).sum::<f64>() / n as f64).collect();
    let stacked = Array2::from_shape_fn((delays * width, columns), |(i, j)| {
        let (d, c) = (i / width, i % width);
        rows[j + d][c] - mean[c]
    });
    let m = columns - 1;
    let (x, y) = (stacked.slice(s![.., ..m]), stacked.slice(s![.., 1..]));
    let wide = x.nrows().min(m);
    let Svd { values: singular_values, left, right } = svd(x)?;
    let largest = singular_values.first().copied().unwrap_or(0.0);
    let possible = singular_values.iter().take(wide).take_while(|&&v| v > 1e-7 * largest).count();
    let rank = match params.rank {
        Some(r) if r == 0 || r > possible => {
            return Err(MotionError::OutOfRange {
                name: "rank",
                value: r as f64,
                range: "1 to the number of singular values that are not zero",
            });
        }
        Some(r) => r,
        None => threshold(&singular_values[..wide.min(singular_values.len())], x.nrows(), m)
            .clamp(1, possible.max(1)),
    };
    if possible == 0 {
        return Ok(Dynamics {
            frames: n,
            step_s: 1.0 / fps,
            delays,
            rank: 0,
            singular_values,
            mean,
            modes: Vec::new(),
            error_mm: 0.0,
        });
    }
    // A = U^T Y V S^-1
    let u = left.slice(s![.., ..rank]);
    let v = Array2::from_shape_fn((rank, m), |(k, j)| right[[j, k]] / singular_values[k]);
    let mut yv = Array2::zeros((x.nrows(), rank));
    add_gram(&mut yv, y, v.view())?;
    let mut a = Array2::zeros((rank, rank));
    add_product(a.view_mut(), u.t(), yv.view())?;
    let eigen = general_eigen(&a)?;
    // shapes in the first block of delays: Phi = U w; amplitudes by least squares over all frames
    let shapes: Vec<Vec<(f64, f64)>> = eigen
        .vectors
        .iter()
        .map(|w| {
            (0..width)
                .map(|c| {
                    (0..rank).fold((0.0, 0.0), |s, k| (s.0 + u[[c, k]] * w[k].0, s.1 + u[[c, k]] * w[k].1))
                })
                .collect()
        })
        .collect();
    let centred: Vec<Vec<f64>> =
        rows.iter().map(|r| r.iter().zip(&mean).map(|(v, m)| v - m).collect()).collect();
    assemble(&eigen.values, &shapes, &centred, 1.0 / fps, params.most).map(|(modes, error_mm)| Dynamics {
        frames: n,
        step_s: 1.0 / fps,
        delays,
        rank,
        singular_values,
        mean,
        modes,
        error_mm,
    })
}

/// Refuses rows that are not of `width` finite values.
fn check_rows(rows: &[Vec<f64>], width: usize) -> Result<(), MotionError> {
    for row in rows {
        if row.len() != width {
            return Err(MotionError::Count {
                what: "coefficients of a frame",
                expected: width,
                found: row.len(),
            });
        }
    }
    if let Some(frame) = rows.iter().position(|r| r.iter().any(|v| !v.is_finite())) {
        return Err(MotionError::NotFinite { what: "a coefficient".to_owned(), frame });
    }
    Ok(())
}

/// How many delays are stacked for `n` rows of `width` values, and the columns that this leaves.
fn stack(params: &DynamicParams, n: usize, width: usize) -> Result<(usize, usize), MotionError> {
    let delays = params.delays.unwrap_or((n / 3).max(1));
    let columns = (n + 1).saturating_sub(delays);
    if delays == 0 || columns < 3 {
        return Err(MotionError::OutOfRange {
            name: "delays",
            value: delays as f64,
            range: "at least 1, and three frames fewer than there are",
        });
    }
    if delays * width * columns > MOST {
        return Err(MotionError::OutOfRange {
            name: "delays",
            value: delays as f64,
            range: "fewer: the stacked matrix would be too large",
        });
    }
    Ok((delays, columns))
}

/// How many singular values are above the optimal hard threshold for noise of unknown size.
fn threshold(values: &[f64], rows: usize, columns: usize) -> usize {
    let beta = rows.min(columns) as f64 / rows.max(columns) as f64;
    let median = median_of(&mut values.to_vec()).unwrap_or(0.0);
    let least = (gavish_donoho_factor(beta) * median).max(1e-7 * values.first().copied().unwrap_or(0.0));
    values.iter().take_while(|&&v| v > least).count()
}

type Complex = (f64, f64);

/// Amplitudes by least squares over all frames, pairs joined, sizes, order.
#[expect(
    clippy::too_many_lines,
    reason = "one system of equations: unknowns, matrix and solution belong together"
)]
fn assemble(
    values: &[Complex],
    shapes: &[Vec<Complex>],
    rows: &[Vec<f64>],
    step: f64,
    most: usize,
) -> Result<(Vec<DynamicMode>, f64), MotionError> {
    let (n, r) = (rows.len(), values.len());
    // real unknowns: for a pair Re and Im of its amplitude b: 2 Re(b phi mu^i); for a real value b alone
    let mut units: Vec<(usize, bool)> = Vec::new();
    let mut k = 0;
    while k < r {
        let pair = values[k].1.abs() > 0.0;
        units.push((k, pair));
        k += if pair { 2 } else { 1 };
    }
    let size: usize = units.iter().map(|u| if u.1 { 2 } else { 1 }).sum();
    let width = shapes.first().map_or(0, Vec::len);
    let log: Vec<Complex> = values.iter().map(|v| (v.0.hypot(v.1).ln(), v.1.atan2(v.0))).collect();
    let power = |k: usize, i: usize| {
        let (re, im) = (log[k].0 * i as f64, log[k].1 * i as f64);
        let m = re.exp();
        (m * im.cos(), m * im.sin())
    };
    let times = |a: Complex, b: Complex| (a.0 * b.0 - a.1 * b.1, a.0 * b.1 + a.1 * b.0);
    let mut basis = Array2::<f64>::zeros((size, n * width));
    let mut at = 0;
    for &(k, pair) in &units {
        for i in 0..n {
            let p = power(k, i);
            for c in 0..width {
                let g = times(shapes[k][c], p);
                if pair {
                    basis[[at, i * width + c]] = 2.0 * g.0;
                    basis[[at + 1, i * width + c]] = -2.0 * g.1;
                } else {
                    basis[[at, i * width + c]] = g.0;
                }
            }
        }
        at += if pair { 2 } else { 1 };
    }
    // rows of unit length, so that a small ridge treats all alike
    let lengths: Vec<f64> = basis
        .rows()
        .into_iter()
        .map(|row| row.iter().map(|x| x * x).sum::<f64>().sqrt().max(f64::MIN_POSITIVE))
        .collect();
    for (mut row, l) in basis.rows_mut().into_iter().zip(&lengths) {
        row.mapv_inplace(|x| if x.is_finite() { x / l } else { 0.0 });
    }
    let data = Array2::from_shape_fn((1, n * width), |(_, i)| rows[i / width][i % width]);
    let mut normal = Array2::zeros((size, size));
    add_gram(&mut normal, basis.view(), basis.view())?;
    let mut rhs = Array2::zeros((size, 1));
    add_gram(&mut rhs, basis.view(), data.view())?;
    let eigen = symmetric_eigen(&normal)?;
    let least = 1e-12 * eigen.values.first().copied().unwrap_or(0.0);
    let mut solved = vec![0.0; size];
    for k in 0..size {
        if eigen.values[k] > least {
            let p: f64 = (0..size).map(|i| eigen.vectors[[i, k]] * rhs[[i, 0]]).sum();
            for i in 0..size {
                solved[i] += eigen.vectors[[i, k]] * p / eigen.values[k];
            }
        }
    }
    let mut left = data.row(0).to_vec();
    let mut modes = Vec::new();
    let mut at = 0;
    for &(k, pair) in &units {
        let width_of = if pair { 2 } else { 1 };
        let mut squares = 0.0;
        for (j, l) in left.iter_mut().enumerate() {
            let part: f64 = (at..at + width_of).map(|u| solved[u] * basis[[u, j]]).sum();
            squares += part * part;
            *l -= part;
        }
        let b = if pair {
            (solved[at] / lengths[at], solved[at + 1] / lengths[at + 1])
        } else {
            (solved[at] / lengths[at], 0.0)
        };
        let growth_per_s = log[k].0 / step;
        let hz = log[k].1.abs() / (TAU * step);
        let natural = growth_per_s.hypot(TAU * hz);
        modes.push(DynamicMode {
            hz,
            growth_per_s,
            damping_ratio: if natural > 0.0 { -growth_per_s / natural } else { 0.0 },
            eigenvalue: values[k],
            rms_mm: (squares / n as f64).sqrt(),
            shape: shapes[k].iter().map(|&s| times(s, b)).collect(),
        });
        at += width_of;
    }
    let error_mm = (left.iter().map(|x| x * x).sum::<f64>() / n as f64).sqrt();
    modes.sort_by(|a, b| b.rms_mm.total_cmp(&a.rms_mm));
    modes.truncate(most);
    Ok((modes, error_mm))
}

#[cfg(test)]
mod tests {
    use formkin_stats::random::stream;
    use rand::Rng;

    use super::*;

    fn noisy(noise: f64, seed: u64) -> (Vec<f64>, Vec<Vec<f64>>) {
        let mut rng = stream(seed, "dmd");
        let mut gauss = || (0..12).map(|_| rng.r#gen::<f64>()).sum::<f64>() - 6.0;
        let times: Vec<f64> = (0..360).map(|i| f64::from(i) / 90.0).collect();
        // 2.00 Hz dying away at 0.25 / s, of 30 mm in two coefficients
        let rows = times
            .iter()
            .map(|t| {
                let fade = 30.0 * (-0.25 * t).exp();
                let (s, c) = (TAU * 2.0 * t).sin_cos();
                vec![fade * c + noise * gauss(), 0.4 * fade * s + noise * gauss(), noise * gauss()]
            })
            .collect();
        (times, rows)
    }

    #[test]
    fn two_hertz_and_the_damping_are_found_under_noise() {
        // every one of forty draws of the noise; 0.25 / s is known to 0.0041 (one SD), a third of the 5 %
        let mut off = Vec::new();
        for seed in 0..40 {
            let (times, rows) = noisy(1.0, seed);
            let found = dynamic_modes(&rows, &times, &DynamicParams::default()).unwrap();
            let first = &found.modes[0];
            assert!(found.rank <= 8, "{}", found.rank);
            if (first.hz - 2.0).abs() >= 0.02 || (first.growth_per_s + 0.25).abs() >= 0.05 * 0.25 {
                off.push((seed, first.hz, first.growth_per_s));
            }
        }
        assert!(off.is_empty(), "{} of 40: {off:?}", off.len());
    }

    #[test]
    fn without_noise_it_is_exact() {
        let (times, rows) = noisy(0.0, 0);
        let params = DynamicParams { delays: Some(20), rank: Some(2), most: 4 };
        let found = dynamic_modes(&rows, &times, &params).unwrap();
        // the mean that is taken off is a third, constant, part of what is left
        assert!((found.modes[0].hz - 2.0).abs() < 2e-3 && (found.modes[0].growth_per_s + 0.25).abs() < 0.02);
        assert!(found.error_mm < 1.0);
    }

    #[test]
    fn what_cannot_be_decomposed_is_an_error() {
        let (mut times, rows) = noisy(0.0, 0);
        let params = DynamicParams { delays: Some(400), ..DynamicParams::default() };
        assert!(dynamic_modes(&rows, &times, &params).is_err());
        times[100] += 0.008;
        assert!(matches!(
            dynamic_modes(&rows, &times, &DynamicParams::default()),
            Err(MotionError::NotUniformTimes)
        ));
        let still = vec![vec![5.0]; 30];
        let even: Vec<f64> = (0..30).map(f64::from).collect();
        assert!(dynamic_modes(&still, &even, &DynamicParams::default()).unwrap().modes.is_empty());
    }
}
