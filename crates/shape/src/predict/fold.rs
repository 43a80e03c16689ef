//! One fold of the cross-validation of predictions: alignment, modes and regression without the people held out; and the walk over the meshes.

use std::collections::BTreeMap;

use formkin_align::{AlignParams, CrossMoments, Transform};
use formkin_geometry::{Point, ShapeArray, ShapeSource};
use formkin_stats::folds::Fold;
use formkin_stats::symmetric::symmetric_eigen;
use ndarray::Array2;
use rayon::prelude::*;

use super::errors::{IntervalCheck, PredictionParams};
use crate::ShapeError;
use crate::criteria::held_out::offsets;
use crate::gram::{combine, rank};
use crate::predict::{DimensionMoments, Given, PlsParams, Variable, vertex_sd_mm};

/// Width of the bins of |error| / half-width, and their number: the precision of the factor of intervals.
const BIN: f64 = 0.002;
const BINS: usize = 5000;

/// Vertices on which intervals are looked at, at most.
const MOST_VERTICES: usize = 2000;

/// What a method makes of a person held out.
pub(super) struct Prediction {
    /// Predicted coefficients in the modes of the fold, in mm.
    coefficients: Vec<f64>,
    /// Weighted mean square distance from the person, in mm2.
    pub(super) square_mm2: f64,
    /// Errors of the variables.
    pub(super) variables: Vec<f64>,
}

/// A person held out.
pub(super) struct HeldPerson {
    row: usize,
    transform: Transform,
    /// The mean, the conditional, partial least squares with 1, 2, .. components.
    pub(super) methods: Vec<Prediction>,
    /// Whether each variable lies within its interval.
    pub(super) within: Vec<bool>,
    /// Covariance of the coefficients about the conditional mean, in mm2, and Student's t.
    covariance_mm2: Vec<Vec<f64>>,
    t_95: f64,
    beyond_mm2: f64,
}

/// A fold.
pub(super) struct FoldFit {
    trained: Vec<(usize, Transform)>,
    /// Members x modes: u / sqrt g, of which the modes are combinations.
    columns: Array2<f64>,
    pub(super) held: Vec<HeldPerson>,
}

/// Fits a fold and predicts the people held out.
pub(super) fn fit_fold(
    moments: &CrossMoments,
    fold: &Fold,
    align: &AlignParams,
    variables: &[Variable],
    rows: &[Vec<f64>],
    params: &PredictionParams,
) -> Result<FoldFit, ShapeError> {
    let alignment = moments.align(&fold.train, align)?;
    let eigen = symmetric_eigen(&alignment.gram())?;
    let m = fold.train.len();
    let least = 16.0 * m as f64 * f64::EPSILON;
    let k = rank(&eigen.values, alignment.mean_square_mm2(), least).min(params.most_modes);
    let roots: Vec<f64> = eigen.values[..k].iter().map(|g| g.sqrt()).collect();
    let columns = Array2::from_shape_fn((m, k), |(i, j)| eigen.vectors[[i, j]] / roots[j]);
    let coefficients: Vec<Vec<f64>> =
        (0..m).map(|i| (0..k).map(|j| eigen.vectors[[i, j]] * roots[j]).collect()).collect();
    let values: Vec<Vec<Option<f64>>> =
        fold.train.iter().map(|&i| rows[i].iter().map(|x| Some(*x)).collect()).collect();
    let known = DimensionMoments::of(&coefficients, variables.to_vec(), &values, [0.0, 0.0, 1.0])?;
    let minus = |a: &[f64], b: &[f64]| a.iter().zip(b).map(|(a, b)| a - b).collect::<Vec<f64>>();
    let held = fold
        .test
        .iter()
        .map(|&i| {
            let laid = alignment.hold_out(i)?;
            let own: Vec<f64> = (0..k)
                .map(|j| columns.column(j).iter().zip(&laid.products_mm2).map(|(u, x)| u * x).sum())
                .collect();
            let beyond_mm2 = (laid.square_mm2 - own.iter().map(|c| c * c).sum::<f64>()).max(0.0);
            let told = |b: Vec<f64>, m: &[f64]| Prediction {
                square_mm2: beyond_mm2 + minus(&own, &b).iter().map(|x| x * x).sum::<f64>(),
                variables: minus(&rows[i], m),
                coefficients: b,
            };
            let given: Vec<Given> =
                params.given.iter().map(|&v| Given { variable: v, value: rows[i][v], error: 0.0 }).collect();
            let found = known.condition(&given)?;
            let expected: Vec<f64> = found.variables.iter().map(|p| p.value).collect();
            let mut methods = vec![
                told(known.coefficient_means_mm.clone(), &known.means),
                told(found.coefficients_mm, &expected),
            ];
            for components in 1..=given.len() {
                let pls = PlsParams { components, ..PlsParams::default() };
                let (b, m) = known.partial_least_squares(&given, &pls)?;
                methods.push(told(b, &m));
            }
            let within = found
                .variables
                .iter()
                .map(|p| (rows[i][p.variable] - p.value).abs() <= found.t_95 * p.sd)
                .collect();
            Ok(HeldPerson {
                row: i,
                transform: laid.transform,
                methods,
                within,
                covariance_mm2: found.covariance_mm2,
                t_95: found.t_95,
                beyond_mm2,
            })
        })
        .collect::<Result<_, ShapeError>>()?;
    Ok(FoldFit { trained: fold.train.iter().copied().zip(alignment.transforms()).collect(), columns, held })
}

/// What the meshes say.
pub(super) struct Walk {
    /// By region, RMS in mm of each method wanted.
    pub(super) regions: Vec<(String, Vec<f64>)>,
    /// Intervals of the conditional normal.
    pub(super) intervals: Option<IntervalCheck>,
}

/// Lays predictions of the methods `wanted`, the conditional first, beside the people held out.
#[expect(clippy::too_many_lines, reason = "one walk over the meshes, with all that is gathered in it")]
pub(super) fn walk(
    source: &dyn ShapeSource,
    weights: &[f64],
    fits: &[FoldFit],
    wanted: &[usize],
    regions: &BTreeMap<String, Vec<u32>>,
) -> Result<Walk, ShapeError> {
    let used: Vec<usize> = (0..weights.len()).filter(|&v| weights[v] > 0.0).collect();
    let mut place = vec![usize::MAX; weights.len()];
    for (i, &v) in used.iter().enumerate() {
        place[v] = i;
    }
    let inside: Vec<(&String, Vec<usize>)> = regions
        .iter()
        .map(|(name, all)| {
            let of = |v: &u32| place.get(*v as usize).copied().filter(|i| *i != usize::MAX);
            (name, all.iter().filter_map(of).collect())
        })
        .collect();
    let mut sums = vec![vec![0.0; wanted.len()]; inside.len()];
    let mut bins = vec![0.0; BINS];
    let mut people = 0usize;
    // neighbours say the same of intervals: they are looked at on some vertices, evenly
    let some: Vec<usize> = (0..used.len()).step_by(used.len().div_ceil(MOST_VERTICES).max(1)).collect();
    let thin: Vec<Vec<Point>> = (0..source.shapes())
        .into_par_iter()
        .map(|i| {
            let shape = source.read_shape(i)?;
            Ok(some.iter().map(|s| shape[used[*s]]).collect())
        })
        .collect::<Result<_, ShapeError>>()?;
    // what the modes leave of people held out, a coordinate
    let held = || fits.iter().flat_map(|f| &f.held);
    let noise_mm2 = held().map(|h| h.beyond_mm2).sum::<f64>() / (3 * held().count().max(1)) as f64;
    for fit in fits {
        let m = fit.trained.len();
        let mut factors = Array2::zeros((wanted.len() * fit.held.len(), m));
        let mut laid = Vec::new();
        for (w, &method) in wanted.iter().enumerate() {
            for (t, h) in fit.held.iter().enumerate() {
                let b = &h.methods[method].coefficients;
                let row: Vec<f64> =
                    fit.columns.outer_iter().map(|u| u.iter().zip(b).map(|(u, b)| u * b).sum()).collect();
                let mean = row.iter().sum::<f64>() / m as f64;
                for (j, a) in row.into_iter().enumerate() {
                    factors[[w * fit.held.len() + t, j]] = a - mean + 1.0 / m as f64;
                }
                laid.push((h.row, h.transform));
            }
        }
        let off = offsets(source, &used, &laid, &fit.trained, &factors)?;
        for w in 0..wanted.len() {
            for t in 0..fit.held.len() {
                let row = off.row(w * fit.held.len() + t);
                for ((_, region), sums) in inside.iter().zip(&mut sums) {
                    let total: f64 = region.iter().map(|&i| weights[used[i]]).sum();
                    let square: f64 = region
                        .iter()
                        .map(|&i| weights[used[i]] * (0..3).map(|a| row[3 * i + a].powi(2)).sum::<f64>())
                        .sum();
                    sums[w] += if total > 0.0 { square / total } else { 0.0 };
                }
            }
        }
        let sds = interval_sds(&thin, fit, noise_mm2)?;
        for (t, (h, sd)) in fit.held.iter().zip(&sds).enumerate() {
            let row = off.row(t);
            for (&i, sd) in some.iter().zip(sd) {
                for a in 0..3 {
                    let ratio = (row[3 * i + a] / (h.t_95 * sd[a])).abs();
                    bins[((ratio / BIN) as usize).min(BINS - 1)] += weights[used[i]];
                }
            }
        }
        people += fit.held.len();
    }
    let total: f64 = bins.iter().sum();
    let mut sum = 0.0;
    let factor = bins.iter().position(|b| {
        sum += b;
        sum >= 0.95 * total
    });
    let within: f64 = bins[..(1.0 / BIN) as usize].iter().sum();
    Ok(Walk {
        regions: inside
            .into_iter()
            .zip(sums)
            .filter(|((_, region), _)| !region.is_empty())
            .map(|((name, _), s)| (name.clone(), s.iter().map(|x| (x / people as f64).sqrt()).collect()))
            .collect(),
        intervals: factor
            .filter(|_| total > 0.0)
            .map(|f| IntervalCheck { coverage_95: within / total, factor: (f as f64 + 0.5) * BIN }),
    })
}

/// SDs of the coordinates of some vertices, in the frame of the fold, for each person held out. Their covariances differ by a factor alone.
fn interval_sds(thin: &[Vec<Point>], fit: &FoldFit, noise_mm2: f64) -> Result<Vec<Vec<Point>>, ShapeError> {
    let Some(first) = fit.held.first() else { return Ok(Vec::new()) };
    let vertices = thin.first().map_or(0, Vec::len);
    let mut aligned = ShapeArray::new(vertices);
    for (i, transform) in &fit.trained {
        let shape: Vec<Point> = thin[*i].iter().map(|p| transform.apply(*p)).collect();
        let found = shape.len();
        aligned.push(&shape).map_err(|_| ShapeError::Count {
            what: "vertices of a shape",
            expected: vertices,
            found,
        })?;
    }
    // columns of eigenvectors sum to 0 but for rounding, so that the mean need not be known
    let mut columns = fit.columns.clone();
    for mut column in columns.columns_mut() {
        let mean = column.mean().unwrap_or(0.0);
        column.mapv_inplace(|x| x - mean);
    }
    let modes = combine(&aligned, &vec![[0.0; 3]; vertices], &columns, &|_, _| ())?;
    let one = [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]];
    let plain = vertex_sd_mm(&modes, &first.covariance_mm2, 0.0, &one)?;
    let trace = |h: &HeldPerson| (0..h.covariance_mm2.len()).map(|k| h.covariance_mm2[k][k]).sum::<f64>();
    let of_first = trace(first);
    Ok(fit
        .held
        .iter()
        .map(|h| {
            let ratio = if of_first > 0.0 { trace(h) / of_first } else { 0.0 };
            plain.iter().map(|sd| sd.map(|s| (s * s * ratio + noise_mm2).sqrt().max(1e-9))).collect()
        })
        .collect())
}
