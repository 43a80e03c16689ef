//! Errors of vertices of people held out, also by region.
//!
//! In a fold the modes are combinations of the aligned shapes of the others, so the description of a shape held out is one too:
//! mean + sum_k c_k mode_k = sum_j a_j x_j, a_j = 1/m + sum_k c_k u_jk / sqrt(g_k), less the mean of the latter (eigenvectors sum to 0). The a_j follow from the
//! cross moments, and one more walk over the meshes a fold gives the vertices.

use std::collections::BTreeMap;

use formkin_align::{BLOCK_BYTES, CrossMoments, Transform};
use formkin_geometry::{Point, ShapeSource, Subset};
use formkin_stats::folds::grouped_folds;
use formkin_stats::gram::add_product;
use formkin_stats::symmetric::symmetric_eigen;
use ndarray::{Array2, ArrayViewMut2, s};
use rayon::prelude::*;

use super::{RegionError, VertexErrors};
use crate::gram::rank;
use crate::validate::{MOST_ITEMS, thin};
use crate::{ShapeError, SpaceParams};

/// Width of the bins of the errors, in mm: the precision of percentiles.
const BIN_MM: f64 = 0.01;
/// Beyond this errors share one bin.
const BINS: usize = 50_000;

/// Sums over distances of vertices.
struct Tally {
    bins: Vec<f64>,
    weight: f64,
    square: f64,
    max: f64,
}

impl Tally {
    fn new() -> Self {
        Self { bins: vec![0.0; BINS], weight: 0.0, square: 0.0, max: 0.0 }
    }

    fn add(&mut self, distance: f64, weight: f64) {
        self.bins[((distance / BIN_MM) as usize).min(BINS - 1)] += weight;
        self.weight += weight;
        self.square += weight * distance * distance;
        self.max = self.max.max(distance);
    }

    fn rms(&self) -> f64 {
        (self.square / self.weight).sqrt()
    }

    fn p95(&self) -> f64 {
        let mut sum = 0.0;
        for (i, w) in self.bins.iter().enumerate() {
            sum += w;
            if sum >= 0.95 * self.weight {
                return ((i as f64 + 0.5) * BIN_MM).min(self.max);
            }
        }
        self.max
    }
}

/// The errors of vertices when people held out are described with `modes` modes; people, folds, seed and weights as in the cross-validation of `params`.
///
/// # Errors
/// [`ShapeError::TooFewPeople`] under three people, [`ShapeError::Align`], [`ShapeError::Source`].
#[expect(
    clippy::too_many_lines,
    reason = "one cross-validation: moments, folds and sums share what is read once"
)]
pub fn held_out_errors(
    source: &dyn ShapeSource,
    weights: &[f64],
    people: &[usize],
    modes: usize,
    regions: &BTreeMap<String, Vec<u32>>,
    params: &SpaceParams,
    progress: &(dyn Fn(usize, usize) + Sync),
) -> Result<VertexErrors, ShapeError> {
    params.check()?;
    if people.len() != source.shapes() {
        let (expected, found) = (source.shapes(), people.len());
        return Err(ShapeError::Count { what: "participants of the shapes", expected, found });
    }
    let items = thin(people, MOST_ITEMS, params.seed);
    let people: Vec<usize> = items.iter().map(|&i| people[i]).collect();
    let mut persons = people.clone();
    persons.sort_unstable();
    persons.dedup();
    if persons.len() < 3 {
        return Err(ShapeError::TooFewPeople { people: persons.len() });
    }
    let subset = Subset::new(source, &items);
    let moments = CrossMoments::of(&subset, weights, params.align.removes, &|_, _| ())?;
    let folds = grouped_folds(&people, params.folds, params.seed)?;
    let used: Vec<usize> = (0..weights.len()).filter(|&v| weights[v] > 0.0).collect();
    let mut all = Tally::new();
    let mut square_of = vec![0.0; weights.len()];
    let mut counted = 0;
    let mut by_region: Vec<(&String, Tally)> = regions.keys().map(|name| (name, Tally::new())).collect();
    let mut place = vec![usize::MAX; weights.len()];
    for (i, &v) in used.iter().enumerate() {
        place[v] = i;
    }
    for (f, fold) in folds.iter().enumerate() {
        let alignment = moments.align(&fold.train, &params.align)?;
        let eigen = symmetric_eigen(&alignment.gram())?;
        let least = 16.0 * fold.train.len() as f64 * f64::EPSILON;
        let k = rank(&eigen.values, alignment.mean_square_mm2(), least).min(modes);
        let m = fold.train.len();
        let mut factors = Array2::zeros((fold.test.len(), m));
        let mut laid: Vec<(usize, Transform)> = Vec::with_capacity(fold.test.len());
        for (t, &i) in fold.test.iter().enumerate() {
            let held = alignment.hold_out(i)?;
            let mut row = vec![0.0; m];
            for j in 0..k {
                let u = eigen.vectors.column(j);
                let dot: f64 = u.iter().zip(&held.products_mm2).map(|(u, x)| u * x).sum();
                for (a, u) in row.iter_mut().zip(&u) {
                    *a += u * dot / eigen.values[j];
                }
            }
            let mean = row.iter().sum::<f64>() / m as f64;
            for (j, a) in row.into_iter().enumerate() {
                factors[[t, j]] = a - mean + 1.0 / m as f64;
            }
            laid.push((i, held.transform));
        }
        let trained: Vec<(usize, Transform)> =
            fold.train.iter().copied().zip(alignment.transforms()).collect();
        let distances = distances(&subset, &used, &laid, &trained, &factors)?;
        for row in distances.outer_iter() {
            for (&v, d) in used.iter().zip(row) {
                all.add(*d, weights[v]);
                square_of[v] += d * d;
            }
            counted += 1;
            for ((_, tally), region) in by_region.iter_mut().zip(regions.values()) {
                for &v in region {
                    if let Some(&i) = place.get(v as usize).filter(|i| **i != usize::MAX) {
                        tally.add(row[i], weights[v as usize]);
                    }
                }
            }
        }
        progress(f + 1, folds.len());
    }
    Ok(VertexErrors {
        modes,
        people: persons.len(),
        items: counted,
        rms_mm: all.rms(),
        p95_mm: all.p95(),
        max_mm: all.max,
        regions: by_region
            .into_iter()
            .filter(|(_, t)| t.weight > 0.0)
            .map(|(region, t)| RegionError {
                region: region.clone(),
                rms_mm: t.rms(),
                p95_mm: t.p95(),
                max_mm: t.max,
            })
            .collect(),
        vertex_rms_mm: square_of.into_iter().map(|s| (s / counted as f64).sqrt()).collect(),
    })
}

/// Held-out shapes x used vertices: the distances between each shape and its combination of the others.
fn distances(
    source: &dyn ShapeSource,
    used: &[usize],
    laid: &[(usize, Transform)],
    trained: &[(usize, Transform)],
    factors: &Array2<f64>,
) -> Result<Array2<f64>, ShapeError> {
    let off = offsets(source, used, laid, trained, factors)?;
    Ok(Array2::from_shape_fn((laid.len(), used.len()), |(t, i)| {
        (0..3).map(|a| off[[t, 3 * i + a]].powi(2)).sum::<f64>().sqrt()
    }))
}

/// Rows of `laid` x three coordinates of used vertices: each shape less its combination of the others.
pub(crate) fn offsets(
    source: &dyn ShapeSource,
    used: &[usize],
    laid: &[(usize, Transform)],
    trained: &[(usize, Transform)],
    factors: &Array2<f64>,
) -> Result<Array2<f64>, ShapeError> {
    let length = 3 * used.len();
    let read = |shapes: &[(usize, Transform)]| -> Result<Array2<f64>, ShapeError> {
        let mut flat = vec![0.0; shapes.len() * length];
        flat.par_chunks_mut(length.max(1)).zip(shapes).try_for_each(|(row, (i, transform))| {
            let shape: Vec<Point> = source.read_shape(*i)?;
            for (out, &v) in row.chunks_mut(3).zip(used) {
                out.copy_from_slice(&transform.apply(shape[v]));
            }
            Ok::<(), ShapeError>(())
        })?;
        let expected = flat.len();
        Array2::from_shape_vec((shapes.len(), length), flat).map_err(|_| ShapeError::Count {
            what: "coordinates of a block",
            expected,
            found: 0,
        })
    };
    let block = (BLOCK_BYTES / (8 * length.max(1))).clamp(1, 256);
    let mut out = Array2::zeros((laid.len(), length));
    for start in (0..laid.len()).step_by(block) {
        let held = &laid[start..(start + block).min(laid.len())];
        let mut left = read(held)?;
        for first in (0..trained.len()).step_by(block) {
            let part = &trained[first..(first + block).min(trained.len())];
            let shapes = read(part)?;
            let minus = factors.slice(s![start..start + held.len(), first..first + part.len()]).mapv(|x| -x);
            let Some(flat) = left.as_slice_mut() else { continue };
            flat.par_chunks_mut(8 * length.max(1)).enumerate().try_for_each(|(g, rows)| {
                let height = rows.len() / length.max(1);
                let out = ArrayViewMut2::from_shape((height, length), rows)
                    .map_err(|_| ShapeError::Count { what: "rows of a block", expected: height, found: 0 })?;
                Ok::<(), ShapeError>(add_product(
                    out,
                    minus.slice(s![8 * g..8 * g + height, ..]),
                    shapes.view(),
                )?)
            })?;
        }
        out.slice_mut(s![start..start + held.len(), ..]).assign(&left);
    }
    Ok(out)
}
