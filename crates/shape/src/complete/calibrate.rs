//! Intervals of completions held against people left out.
//!
//! In every fold alignment and modes are refitted without the people of the fold, of whom the same vertices are then hidden and completed in poses of their own. The share of hidden
//! coordinates within their nominal 95 % intervals is the coverage; the factor that brings it to 95 % is the 95th percentile of |error| / SD, each person counting alike, over 1.96.
//! Where seen vertices are measured with an error, so are those of the people left out: noise of that size is added to what is seen of them.
//! Vertices are thinned evenly, since neighbours say the same: the pattern of patches, not the number of vertices, is what completions rest on.

use formkin_align::{AlignParams, CrossMoments, Transform, Weighting};
use formkin_geometry::{Point, ShapeArray, ShapeSource};
use formkin_stats::folds::grouped_folds;
use formkin_stats::interval::normal_quantile;
use formkin_stats::quantile::quantile;
use formkin_stats::random::stream;
use formkin_stats::symmetric::symmetric_eigen;
use ndarray::Array2;
use rand_distr::{Distribution, StandardNormal};
use rayon::prelude::*;
use serde::{Deserialize, Serialize};

use super::{CompleteParams, Completer};
use crate::fault::SeenFault;
use crate::gram::{combine, rank};
use crate::validate::{MOST_ITEMS, thin};
use crate::{ShapeError, Space};

/// Settings of a calibration.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct CalibrationParams {
    /// Folds; with fewer people, each is left out in turn.
    pub folds: usize,
    /// Seen vertices used at most, and hidden ones.
    pub vertices: [usize; 2],
    /// The seed of the folds, and of the shapes drawn where there are many.
    pub seed: u64,
}

impl Default for CalibrationParams {
    fn default() -> Self {
        Self { folds: 10, vertices: [2000, 1000], seed: 1 }
    }
}

/// How intervals of completions fared on people left out.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Calibration {
    /// People left out, each once.
    pub people: usize,
    /// Shapes of them: all, or as many as a cross-validation takes at most, drawn evenly over people.
    #[serde(default)]
    pub items: usize,
    /// Folds.
    pub folds: usize,
    /// Seen and hidden vertices used.
    pub vertices: [usize; 2],
    /// Share of hidden coordinates within nominal 95 % intervals, the mean over people.
    pub coverage_95: f64,
    /// Its standard error over people.
    pub coverage_se: f64,
    /// What SDs are multiplied by so that it is 95 %.
    pub factor: f64,
    /// RMS distance of hidden vertices from where they were put, in mm.
    pub rms_mm: f64,
    /// The same of the mean body laid on the seen vertices, in mm: the yardstick.
    pub mean_rms_mm: f64,
    /// The seed of the folds.
    pub seed: u64,
}

/// A completion of a person left out: coverage, |z| of every hidden coordinate, mean squares of the distances with completion and with the mean.
struct Tried {
    within: f64,
    z: Vec<f64>,
    square: f64,
    mean_square: f64,
}

/// Calibrates completions from the vertices `seen` on the shapes of `source`, those of the space `fitted`: `people[i]` is the participant of shape i. What is seen nowhere and has weight is hidden.
/// Of more than `MOST_ITEMS` shapes so many are used, drawn evenly over people: cross moments take 72 n^2 bytes.
///
/// # Errors
/// [`ShapeError::TooFewPeople`] under three people; [`ShapeError::Seen`] where nothing is hidden or too little is seen; as [`Completer`].
pub fn calibrate(
    source: &dyn ShapeSource,
    people: &[usize],
    fitted: &Space,
    seen: &[u32],
    complete: &CompleteParams,
    params: &CalibrationParams,
) -> Result<Calibration, ShapeError> {
    if people.len() != source.shapes() {
        let (expected, found) = (source.shapes(), people.len());
        return Err(ShapeError::Count { what: "participants of the shapes", expected, found });
    }
    let mut distinct = people.to_vec();
    distinct.sort_unstable();
    distinct.dedup();
    if distinct.len() < 3 {
        return Err(ShapeError::TooFewPeople { people: distinct.len() });
    }
    let items = thin(people, MOST_ITEMS, params.seed);
    let people: Vec<usize> = items.iter().map(|&i| people[i]).collect();
    let thin = thinned(fitted, seen, params)?;
    let (shown, hidden): (Vec<u32>, Vec<u32>) = {
        let n = thin.seen;
        ((0..n as u32).collect(), (n as u32..thin.vertices.len() as u32).collect())
    };
    let all: Vec<Vec<Point>> = items
        .par_iter()
        .map(|&i| {
            let shape = source.read_shape(i)?;
            Ok(thin.vertices.iter().map(|v| shape[*v as usize]).collect())
        })
        .collect::<Result<_, ShapeError>>()?;
    let mut small = ShapeArray::new(thin.vertices.len());
    for shape in &all {
        small.push(shape).map_err(|_| ShapeError::Count {
            what: "vertices of a shape",
            expected: thin.vertices.len(),
            found: shape.len(),
        })?;
    }
    let moments = CrossMoments::of(&small, &thin.weights, fitted.removes, &|_, _| ())?;
    let folds = grouped_folds(&people, params.folds, params.seed)?;
    let tried: Vec<Vec<(usize, Tried)>> = folds
        .par_iter()
        .map(|fold| {
            let space = fold_space(&moments, &small, &fold.train, fitted, &thin.weights)?;
            // as many modes as the whole space takes, and its error of people held out
            let model = fitted.probabilistic(Some(
                complete.modes.unwrap_or_else(|| fitted.best_described()).min(space.modes.len()),
            ))?;
            let own = CompleteParams {
                modes: Some(model.modes),
                noise_mm: Some(complete.noise_mm.unwrap_or(model.noise_mm2.sqrt())),
                // fewer points of the same pattern, of which each is so much more exact
                error_mm: complete.error_mm.map(|e| e * thin.kept.sqrt()),
                white: complete.white,
            };
            let completer = Completer::new(&space, &shown, &own)?;
            fold.test
                .iter()
                .map(|&i| {
                    let given = measured(&all[i], &shown, own.error_mm, params.seed, i);
                    Ok((people[i], attempt(&completer, &space, &all[i], &given, &hidden)?))
                })
                .collect::<Result<_, ShapeError>>()
        })
        .collect::<Result<_, ShapeError>>()?;
    summarise(tried.into_iter().flatten().collect(), folds.len(), [shown.len(), hidden.len()], params.seed)
}

struct Thinned {
    /// Seen vertices first.
    vertices: Vec<u32>,
    seen: usize,
    /// Share of the seen vertices that is kept.
    kept: f64,
    weights: Vec<f64>,
}

/// The seen vertices of a shape, as they are measured.
fn measured(shape: &[Point], shown: &[u32], error_mm: Option<f64>, seed: u64, which: usize) -> Vec<Point> {
    let mut rng = stream(seed, &format!("error of measuring of shape {which}"));
    let mut off = || error_mm.map_or(0.0, |e| e * Distribution::<f64>::sample(&StandardNormal, &mut rng));
    shown.iter().map(|v| shape[*v as usize].map(|x| x + off())).collect()
}

/// Every s-th of the seen vertices and of the hidden ones that have weight; a thinned vertex carries the weight of those left out.
fn thinned(fitted: &Space, seen: &[u32], params: &CalibrationParams) -> Result<Thinned, ShapeError> {
    let mut there = vec![false; fitted.mean.len()];
    for v in seen {
        match there.get_mut(*v as usize) {
            Some(t) => *t = true,
            None => {
                let last = fitted.mean.len().max(1) - 1;
                return Err(SeenFault::NoVertex { vertex: *v, last }.into());
            }
        }
    }
    let mut shown: Vec<u32> = seen.to_vec();
    shown.sort_unstable();
    shown.dedup();
    let hidden: Vec<u32> = (0..fitted.mean.len() as u32)
        .filter(|v| !there[*v as usize] && fitted.weights[*v as usize] > 0.0)
        .collect();
    if hidden.is_empty() {
        return Err(SeenFault::NothingHidden.into());
    }
    let every = |all: &[u32], most: usize| -> Vec<u32> {
        all.iter().copied().step_by(all.len().div_ceil(most.max(3)).max(1)).collect()
    };
    let (some_shown, some_hidden) = (every(&shown, params.vertices[0]), every(&hidden, params.vertices[1]));
    let total = |of: &[u32]| of.iter().map(|v| fitted.weights[*v as usize]).sum::<f64>();
    let mut weights = Vec::new();
    for (all, some) in [(&shown, &some_shown), (&hidden, &some_hidden)] {
        let (whole, part) = (total(all), total(some));
        weights.extend(
            some.iter().map(|v| if part > 0.0 { fitted.weights[*v as usize] * whole / part } else { 0.0 }),
        );
    }
    let sum: f64 = weights.iter().sum();
    weights.iter_mut().for_each(|w| *w /= sum);
    Ok(Thinned {
        seen: some_shown.len(),
        kept: some_shown.len() as f64 / shown.len().max(1) as f64,
        vertices: some_shown.into_iter().chain(some_hidden).collect(),
        weights,
    })
}

/// The space of the members of a fold over the thinned vertices.
fn fold_space(
    moments: &CrossMoments,
    source: &ShapeArray,
    train: &[usize],
    fitted: &Space,
    weights: &[f64],
) -> Result<Space, ShapeError> {
    let align = AlignParams { weighting: Weighting::Plain, ..fitted.align.clone() };
    let alignment = moments.align(train, &align)?;
    let eigen = symmetric_eigen(&alignment.gram())?;
    let m = train.len();
    let nonzero = rank(&eigen.values, alignment.mean_square_mm2(), 1e-12);
    let kept = nonzero.min(fitted.modes.len());
    let transforms: Vec<Transform> = alignment.transforms();
    let mut laid = ShapeArray::new(source.vertices());
    let mut mean = vec![[0.0; 3]; source.vertices()];
    for (&i, t) in train.iter().zip(&transforms) {
        let shape: Vec<Point> = source.read_shape(i)?.iter().map(|p| t.apply(*p)).collect();
        for (s, p) in mean.iter_mut().zip(&shape) {
            for k in 0..3 {
                s[k] += p[k] / m as f64;
            }
        }
        laid.push(&shape).map_err(|_| ShapeError::Count {
            what: "vertices of a shape",
            expected: source.vertices(),
            found: shape.len(),
        })?;
    }
    let columns = Array2::from_shape_fn((m, kept), |(i, k)| eigen.vectors[[i, k]] / eigen.values[k].sqrt());
    let modes = combine(&laid, &mean, &columns, &|_, _| ())?;
    let variances_mm2: Vec<f64> = eigen.values[..nonzero].iter().map(|g| g / (m as f64 - 1.0)).collect();
    Ok(Space {
        mean,
        modes,
        total_variance_mm2: variances_mm2.iter().sum(),
        variances_mm2,
        weights: weights.to_vec(),
        triangles: Vec::new(),
        people: m,
        items: m,
        removes: fitted.removes,
        weighting: fitted.weighting.clone(),
        align: fitted.align.clone(),
        cross_validation: None,
        cross_validation_refused: None,
        criteria: None,
        quality: None,
        regression: None,
        measuring: None,
        template_hash: fitted.template_hash.clone(),
        seed: fitted.seed,
        version: fitted.version,
    })
}

fn attempt(
    completer: &Completer<'_>,
    space: &Space,
    shape: &[Point],
    given: &[Point],
    hidden: &[u32],
) -> Result<Tried, ShapeError> {
    let found = completer.fill(given, hidden)?;
    let mean: Vec<Point> = {
        let back = completer.pose_of_mean(given)?;
        hidden.iter().map(|v| back.apply(space.mean[*v as usize])).collect()
    };
    let limit = normal_quantile(0.95);
    let (mut z, mut square, mut mean_square) = (Vec::with_capacity(3 * hidden.len()), 0.0, 0.0);
    for (i, v) in hidden.iter().enumerate() {
        for a in 0..3 {
            let off = found.positions[i][a] - shape[*v as usize][a];
            z.push((off / found.sd_mm[i][a]).abs());
            square += off * off;
            mean_square += (mean[i][a] - shape[*v as usize][a]).powi(2);
        }
    }
    let n = hidden.len() as f64;
    let within = z.iter().filter(|z| **z <= limit).count() as f64 / z.len() as f64;
    Ok(Tried { within, z, square: square / n, mean_square: mean_square / n })
}

fn summarise(
    tried: Vec<(usize, Tried)>,
    folds: usize,
    vertices: [usize; 2],
    seed: u64,
) -> Result<Calibration, ShapeError> {
    // a person's shapes together count as one
    let mut counts = std::collections::BTreeMap::new();
    for (p, _) in &tried {
        *counts.entry(*p).or_insert(0usize) += 1;
    }
    let people = counts.len() as f64;
    let share = |p: usize| 1.0 / (people * counts[&p] as f64);
    let mean = |f: &dyn Fn(&Tried) -> f64| tried.iter().map(|(p, t)| share(*p) * f(t)).sum::<f64>();
    let coverage = mean(&|t| t.within);
    let spread: f64 = mean(&|t| (t.within - coverage).powi(2));
    let mut z = Vec::new();
    let mut weights = Vec::new();
    for (p, t) in &tried {
        weights.extend(std::iter::repeat_n(share(*p), t.z.len()));
        z.extend_from_slice(&t.z);
    }
    let factor = quantile(&z, Some(&weights), 0.95)? / normal_quantile(0.95);
    Ok(Calibration {
        people: counts.len(),
        items: tried.len(),
        folds,
        vertices,
        coverage_95: coverage,
        coverage_se: (spread / (people - 1.0).max(1.0)).sqrt(),
        factor,
        rms_mm: mean(&|t| t.square).sqrt(),
        mean_rms_mm: mean(&|t| t.mean_square).sqrt(),
        seed,
    })
}
