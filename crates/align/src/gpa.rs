//! The fit: generalised Procrustes analysis (Gower 1975; Dryden & Mardia).
//!
//! Each round lays every shape on the mean, takes the average of the results, and turns it back onto the reference (the gauge: without it the mean could
//! drift). For rigid and standing alignments a round can only lower the sum of squares. For similarities every shape is scaled into the tangent space at the
//! mean, whose size stays that of the reference, or the average centroid size where there is none: full analysis with scale under a constraint of size.

use formkin_geometry::rotation::rotate;
use formkin_geometry::vector::{add_outer, sub};
use formkin_geometry::{Point, ShapeSource, Topology};
use rayon::prelude::*;

use crate::alignment::{Alignment, Reference, Round};
use crate::blocks::{block_shapes, read};
use crate::pose::{LEAST_DISTINCT, Placed, Target, best, place, principal_moments};
use crate::weights::{plain_weights, vertex_weights};
use crate::{AlignError, AlignParams, Removes, Transform, Weighting};

/// Vertices that one task adds up; fixed, so that sums do not depend on the number of threads.
const CHUNK: usize = 4096;

impl AlignParams {
    /// Aligns the shapes of `source`, which lie on `topology`.
    ///
    /// The first round is aligned to `reference`, or, without one, to the average of the shapes as captured, each about its own centre; where they point in
    /// so many directions that this average has no form, to the shape of median size. None of these depends on the order of the shapes. `progress` hears
    /// (shapes read in this round, shapes in all).
    ///
    /// # Errors
    /// [`AlignError`]: settings or sizes that do not fit, a shape without a pose (named), an unreadable shape, no convergence.
    pub fn fit(
        &self,
        source: &dyn ShapeSource,
        topology: &Topology,
        reference: Option<&[Point]>,
        progress: &(dyn Fn(usize, usize) + Sync),
    ) -> Result<Alignment, AlignError> {
        self.check()?;
        let vertices = source.vertices();
        let count = |what, found| {
            if found == vertices {
                Ok(())
            } else {
                Err(AlignError::VertexCount { what, expected: vertices, found })
            }
        };
        count("the topology", topology.vertices())?;
        count("the reference", reference.map_or(vertices, <[Point]>::len))?;
        if source.shapes() == 0 || vertices == 0 {
            return Err(AlignError::NoShapes);
        }
        let fit = |weights, start: Option<&[Point]>| {
            Fit { params: self, source, weights, progress }.run(reference, start)
        };
        let plain = plain_weights(vertices);
        let (weights, run) = if self.weighting == Weighting::Plain {
            let run = fit(&plain, None)?;
            (plain, run)
        } else {
            let first = fit(&plain, None)?;
            let weights = vertex_weights(&self.weighting, topology, &first.mean)?;
            let run = fit(&weights, Some(&first.mean))?;
            (weights, Run { reference: first.reference, ..run })
        };
        let sum = run.history.last().map_or(0.0, |r| r.sum_of_squares_mm2);
        Ok(Alignment {
            params: self.clone(),
            weights,
            rms_mm: (sum / run.transforms.len() as f64).sqrt(),
            sum_of_squares_mm2: sum,
            rounds: run.history.len(),
            transforms: run.transforms,
            mean: run.mean,
            history: run.history,
            centroid_sizes_mm: run.sizes,
            reference: run.reference,
        })
    }
}

struct Fit<'a> {
    params: &'a AlignParams,
    source: &'a dyn ShapeSource,
    weights: &'a [f64],
    progress: &'a (dyn Fn(usize, usize) + Sync),
}

struct Run {
    transforms: Vec<Transform>,
    sizes: Vec<f64>,
    mean: Vec<Point>,
    history: Vec<Round>,
    reference: Reference,
}

/// What a walk over all shapes leaves: each one's `T`, and the sum of what was left in the buffer.
struct Pass<T> {
    each: Vec<T>,
    sum: Vec<Point>,
}

impl Fit<'_> {
    /// Reads every shape, lets `visit` change it, and adds up what it leaves, in the order of the shapes.
    fn pass<T: Send>(
        &self,
        visit: impl Fn(usize, &mut [Point]) -> Result<T, AlignError> + Sync,
    ) -> Result<Pass<T>, AlignError> {
        let (shapes, vertices) = (self.source.shapes(), self.source.vertices());
        let block = block_shapes(vertices);
        let mut each = Vec::with_capacity(shapes);
        let mut sum = vec![[0.0; 3]; vertices];
        let mut buffer = Vec::new();
        for first in (0..shapes).step_by(block) {
            let count = block.min(shapes - first);
            read(self.source, first, count, &mut buffer)?;
            let visited: Vec<_> = buffer
                .par_chunks_mut(vertices)
                .enumerate()
                .map(|(i, shape)| visit(first + i, shape))
                .collect();
            for result in visited {
                each.push(result?);
            }
            sum.par_chunks_mut(CHUNK).enumerate().for_each(|(c, sum)| {
                for shape in buffer.chunks(vertices) {
                    for (s, p) in sum.iter_mut().zip(&shape[c * CHUNK..]) {
                        for k in 0..3 {
                            s[k] += p[k];
                        }
                    }
                }
            });
            (self.progress)(first + count, shapes);
        }
        Ok(Pass { each, sum })
    }

    /// The reference about its centre, and the size that a mean is kept at where scale is removed.
    fn reference(&self, given: Option<&[Point]>) -> Result<(Vec<Point>, f64, Reference), AlignError> {
        let removes = self.params.removes;
        let centred = |shape: &mut [Point], index| -> Result<Placed, AlignError> {
            let placed = place(shape, self.weights, removes, index)?;
            for p in shape {
                *p = std::array::from_fn(|k| p[k] - placed.centre[k]);
            }
            Ok(placed)
        };
        if let Some(given) = given {
            let mut shape = given.to_vec();
            let size = centred(&mut shape, None)?.size;
            return Ok((shape, size, Reference::Given));
        }
        let pass = self.pass(|i, shape| {
            let placed = centred(shape, Some(i))?;
            let key = shape.first().copied().unwrap_or_default();
            Ok((placed.size, principal_moments(&placed.spread), key))
        })?;
        let n = pass.each.len() as f64;
        let mut average = pass.sum;
        for p in &mut average {
            *p = p.map(|c| c / n);
        }
        let size = pass.each.iter().map(|e| e.0).sum::<f64>() / n;
        // An average of like poses spreads about as far as its shapes along every principal axis; one of unlike poses does not.
        let typical: [f64; 3] = std::array::from_fn(|k| pass.each.iter().map(|e| e.1[k]).sum::<f64>() / n);
        let spread = place(&average, self.weights, removes, None).map(|p| principal_moments(&p.spread));
        if spread.is_ok_and(|s| (0..3).all(|k| s[k] >= 0.5 * typical[k] - 1e-9 * typical[0])) {
            return Ok((average, size, Reference::Average));
        }
        let mut order: Vec<usize> = (0..pass.each.len()).collect();
        order.sort_by(|&a, &b| {
            let key = |i: usize| (pass.each[i].0, pass.each[i].2);
            let ((s, p), (t, q)) = (key(a), key(b));
            s.total_cmp(&t)
                .then_with(|| (0..3).fold(std::cmp::Ordering::Equal, |o, k| o.then(p[k].total_cmp(&q[k]))))
        });
        let shape = order[(order.len() - 1) / 2];
        let mut found = self.source.read_shape(shape)?;
        centred(&mut found, Some(shape))?;
        Ok((found, size, Reference::MedianSize { shape }))
    }

    fn run(&self, given: Option<&[Point]>, start: Option<&[Point]>) -> Result<Run, AlignError> {
        let removes = self.params.removes;
        let (reference, size, chosen) = self.reference(given)?;
        let mut mean = start.map_or_else(|| reference.clone(), <[Point]>::to_vec);
        settle(&mut mean, &reference, self.weights, removes, size)?;
        let mut history: Vec<Round> = Vec::new();
        let (mut relative_change, mut mean_moved_mm) = (f64::INFINITY, f64::INFINITY);
        while history.len() < self.params.max_rounds {
            let target = Target::new(&mean, self.weights, removes)?;
            let pass = self.pass(|i, shape| {
                let (transform, placed) = target.pose(shape, Some(i))?;
                let mut square = 0.0;
                for ((p, m), w) in shape.iter_mut().zip(&mean).zip(self.weights) {
                    let x = transform.apply(*p);
                    *p = std::array::from_fn(|k| x[k] - m[k]);
                    square += w * (p[0] * p[0] + p[1] * p[1] + p[2] * p[2]);
                }
                Ok((transform, placed.size, square))
            })?;
            let n = pass.each.len() as f64;
            let mut next = mean.clone();
            let mut shift2 = 0.0;
            for ((m, d), w) in next.iter_mut().zip(&pass.sum).zip(self.weights) {
                for k in 0..3 {
                    m[k] += d[k] / n;
                    shift2 += w * (d[k] / n).powi(2);
                }
            }
            let gauge = settle(&mut next, &reference, self.weights, removes, size)?;
            let about_mean = pass.each.iter().map(|e| e.2).sum::<f64>() - n * shift2;
            let sum = about_mean.max(0.0) * gauge.scale * gauge.scale;
            mean_moved_mm = rms_between(&mean, &next, self.weights);
            mean = next;
            if let Some(last) = history.last() {
                let change = (last.sum_of_squares_mm2 - sum).abs();
                // sums of squares that are rounding alone do not change
                let rounding = 1e-22 * n * size * size;
                relative_change = if change <= rounding { 0.0 } else { change / sum };
            }
            history.push(Round { sum_of_squares_mm2: sum, mean_moved_mm });
            if relative_change < self.params.relative_tolerance
                && mean_moved_mm < self.params.mean_tolerance_mm
            {
                let sizes = pass.each.iter().map(|e| e.1).collect();
                let transforms = pass.each.iter().map(|e| gauge.compose(&e.0)).collect();
                return Ok(Run { transforms, sizes, mean, history, reference: chosen });
            }
        }
        Err(AlignError::NotConverged { rounds: history.len(), relative_change, mean_moved_mm })
    }
}

/// Turns a mean about its centre onto the reference, and to `size` where scale is removed. Returns what was done.
fn settle(
    mean: &mut [Point],
    reference: &[Point],
    weights: &[f64],
    removes: Removes,
    size: f64,
) -> Result<Transform, AlignError> {
    let placed = place(mean, weights, removes, None)?;
    let mut cross = [[0.0; 3]; 3];
    for ((p, r), w) in mean.iter().zip(reference).zip(weights) {
        add_outer(&mut cross, *w, sub(*p, placed.centre), *r);
    }
    let found = best(&cross, removes);
    if found.distinctness < LEAST_DISTINCT {
        return Err(AlignError::Ambiguous { shape: None });
    }
    let scale = if removes == Removes::Similarity { size / placed.size } else { 1.0 };
    let mut centre = placed.centre;
    if removes == Removes::Standing {
        centre[2] = 0.0; // the shapes stand on the floor already; their average stays where it is
    }
    let turned = rotate(&found.rotation, centre);
    let gauge = Transform { rotation: found.rotation, translation: turned.map(|c| -scale * c), scale };
    gauge.apply_all(mean);
    Ok(gauge)
}

/// sqrt(sum_v w_v |a_v - b_v|^2), in mm.
fn rms_between(a: &[Point], b: &[Point], weights: &[f64]) -> f64 {
    a.iter()
        .zip(b)
        .zip(weights)
        .map(|((p, q), w)| w * ((p[0] - q[0]).powi(2) + (p[1] - q[1]).powi(2) + (p[2] - q[2]).powi(2)))
        .sum::<f64>()
        .sqrt()
}
