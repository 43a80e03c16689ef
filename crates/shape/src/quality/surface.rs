//! Generalisation and specificity as distances between surfaces.
//!
//! Distances between vertices of the same number count a slide along the surface as an error, and miss nothing else; distances between surfaces do not see the slide. Symmetric: the
//! root of the mean of the weighted mean squares of the distances from the vertices of each surface to the nearest point of the other.

use formkin_align::{CrossMoments, Transform};
use formkin_geometry::tree::{Placed, Tree};
use formkin_geometry::vector::distance;
use formkin_geometry::{Point, ShapeSource, Subset, Topology};
use formkin_stats::folds::grouped_folds;
use formkin_stats::symmetric::symmetric_eigen;
use ndarray::Array2;
use rayon::prelude::*;

use crate::criteria::held_out::offsets;
use crate::gram::rank;
use crate::validate::{MOST_ITEMS, thin};
use crate::{FittedSpace, ShapeError, SpaceParams};

/// Vertices from which distances are taken, at most.
const MOST_POINTS: usize = 400;

/// Drawn shapes whose surfaces are compared, at most: the standard error over draws is told.
pub(super) const MOST_DRAWS: usize = 250;

/// Vertices from which distances are taken, and their weights, which sum to 1.
pub(super) struct Points {
    places: Vec<usize>,
    weights: Vec<f64>,
}

impl Points {
    /// Every s-th vertex with weight.
    pub(super) fn of(weights: &[f64]) -> Self {
        let used: Vec<usize> = (0..weights.len()).filter(|v| weights[*v] > 0.0).collect();
        let places: Vec<usize> =
            used.iter().copied().step_by(used.len().div_ceil(MOST_POINTS).max(1)).collect();
        let sum: f64 = places.iter().map(|v| weights[*v]).sum();
        Self { weights: places.iter().map(|v| weights[*v] / sum).collect(), places }
    }

    /// How many.
    pub(super) fn count(&self) -> usize {
        self.places.len()
    }

    /// The mean square distance of two surfaces, both ways.
    fn square(&self, a: &[Point], on_a: &Placed<'_>, b: &[Point], on_b: &Placed<'_>) -> f64 {
        let one = |from: &[Point], to: &[Point], on: &Placed<'_>| -> f64 {
            self.places
                .iter()
                .zip(&self.weights)
                .map(|(&v, w)| {
                    let near = distance(from[v], to[v]);
                    let found = on.nearest(from[v], near).map_or(near, |n| n.distance);
                    w * found * found
                })
                .sum()
        };
        0.5 * (one(a, b, on_b) + one(b, a, on_a))
    }

    /// The root mean square distance of two surfaces on one topology, both ways, in mm.
    pub(super) fn rms(&self, tree: &Tree, topology: &Topology, a: &[Point], b: &[Point]) -> f64 {
        self.square(a, &tree.on(topology, a), b, &tree.on(topology, b)).sqrt()
    }
}

/// The mean square distance, in mm2, of every shape held out from its description with each number of modes: by person.
pub(super) fn generalisation(
    source: &dyn ShapeSource,
    fitted: &FittedSpace,
    people: &[usize],
    modes: &[usize],
    topology: &Topology,
    params: &SpaceParams,
) -> Result<Vec<(f64, f64)>, ShapeError> {
    let weights = &fitted.space.weights;
    let items = thin(people, MOST_ITEMS, params.seed);
    let people: Vec<usize> = items.iter().map(|&i| people[i]).collect();
    let subset = Subset::new(source, &items);
    let moments = CrossMoments::of(&subset, weights, params.align.removes, &|_, _| ())?;
    let everywhere: Vec<usize> = (0..weights.len()).collect();
    let points = Points::of(weights);
    let tree = Tree::new(topology, &fitted.space.mean);
    // person, squares by number of modes
    let mut found: Vec<(usize, Vec<f64>)> = Vec::new();
    for fold in grouped_folds(&people, params.folds, params.seed)? {
        let alignment = moments.align(&fold.train, &params.align)?;
        let eigen = symmetric_eigen(&alignment.gram())?;
        let m = fold.train.len();
        let least = 16.0 * m as f64 * f64::EPSILON;
        let most = rank(&eigen.values, alignment.mean_square_mm2(), least);
        let trained: Vec<(usize, Transform)> =
            fold.train.iter().copied().zip(alignment.transforms()).collect();
        let mut factors = Array2::zeros((modes.len() * fold.test.len(), m));
        let mut laid = Vec::new();
        for (t, &i) in fold.test.iter().enumerate() {
            let held = alignment.hold_out(i)?;
            for (w, &k) in modes.iter().enumerate() {
                let mut row = vec![0.0; m];
                for j in 0..k.min(most) {
                    let u = eigen.vectors.column(j);
                    let dot: f64 = u.iter().zip(&held.products_mm2).map(|(u, x)| u * x).sum();
                    for (a, u) in row.iter_mut().zip(&u) {
                        *a += u * dot / eigen.values[j];
                    }
                }
                let mean = row.iter().sum::<f64>() / m as f64;
                for (j, a) in row.into_iter().enumerate() {
                    factors[[t * modes.len() + w, j]] = a - mean + 1.0 / m as f64;
                }
                laid.push((i, held.transform));
            }
        }
        let off = offsets(&subset, &everywhere, &laid, &trained, &factors)?;
        let of_fold: Vec<(usize, Vec<f64>)> = fold
            .test
            .par_iter()
            .enumerate()
            .map(|(t, &i)| {
                let transform = &laid[t * modes.len()].1;
                let shape: Vec<Point> = subset.read_shape(i)?.iter().map(|p| transform.apply(*p)).collect();
                let on_shape = tree.on(topology, &shape);
                let squares = (0..modes.len())
                    .map(|w| {
                        let row = off.row(t * modes.len() + w);
                        let told: Vec<Point> = shape
                            .iter()
                            .enumerate()
                            .map(|(v, p)| std::array::from_fn(|a| p[a] - row[3 * v + a]))
                            .collect();
                        points.square(&shape, &on_shape, &told, &tree.on(topology, &told))
                    })
                    .collect();
                Ok((people[i], squares))
            })
            .collect::<Result<_, ShapeError>>()?;
        found.extend(of_fold);
    }
    Ok((0..modes.len()).map(|w| over_people(found.iter().map(|(p, s)| (*p, s[w])))).collect())
}

/// Root of the mean over people of their mean squares, and its standard error.
fn over_people(squares: impl Iterator<Item = (usize, f64)>) -> (f64, f64) {
    let mut of = std::collections::BTreeMap::<usize, Vec<f64>>::new();
    for (p, s) in squares {
        of.entry(p).or_default().push(s);
    }
    let means: Vec<f64> = of.values().map(|s| s.iter().sum::<f64>() / s.len() as f64).collect();
    let n = means.len() as f64;
    let mean = means.iter().sum::<f64>() / n;
    let variance = means.iter().map(|s| (s - mean).powi(2)).sum::<f64>() / (n - 1.0).max(1.0);
    let rms = mean.sqrt();
    (rms, if rms > 0.0 { (variance / n).sqrt() / (2.0 * rms) } else { 0.0 })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A flat sheet of 11 x 11 vertices, 10 mm apart.
    fn sheet(height: f64, slide: f64) -> Vec<Point> {
        (0..121).map(|i| [10.0 * f64::from(i % 11) + slide, 10.0 * f64::from(i / 11), height]).collect()
    }

    #[test]
    fn a_slide_is_seen_by_vertices_alone() {
        let triangles: Vec<[u32; 3]> = (0..100u32)
            .flat_map(|q| {
                let a = (q / 10) * 11 + q % 10;
                [[a, a + 1, a + 11], [a + 1, a + 12, a + 11]]
            })
            .collect();
        let topology = Topology::new(121, triangles).unwrap();
        let tree = Tree::new(&topology, &sheet(0.0, 0.0));
        let points = Points::of(&[1.0 / 121.0; 121]);
        let flat = sheet(0.0, 0.0);
        // lifted by 3 mm: 3 mm both ways
        assert!((points.rms(&tree, &topology, &flat, &sheet(3.0, 0.0)) - 3.0).abs() < 1e-12);
        // slid by 4 mm: the vertices of one edge a side hang over, a tenth of 16 mm2 or so
        let slid = points.rms(&tree, &topology, &flat, &sheet(0.0, 4.0));
        assert!((slid - (16.0f64 / 11.0).sqrt()).abs() < 1e-9, "{slid}");
    }

    #[test]
    fn people_count_alike() {
        let (rms, se) = over_people([(1, 4.0), (1, 16.0), (2, 4.0), (3, 4.0)].into_iter());
        assert!((rms - 6f64.sqrt()).abs() < 1e-12);
        assert!((se - 2.0 / (2.0 * 6f64.sqrt())).abs() < 1e-12, "{se}");
    }
}
