//! The fit of a space.

use std::sync::atomic::{AtomicUsize, Ordering};

use formkin_geometry::{Point, ShapeSource, Topology};
use formkin_stats::symmetric::symmetric_eigen;
use ndarray::Array2;

use crate::gram::{combine, fix_sign, gram_matrix, rank};
use crate::{FittedSpace, ShapeError, Space, SpaceParams, cross_validate, format};

impl SpaceParams {
    /// Aligns the shapes of `source` and finds their weighted principal components.
    ///
    /// `people[i]` is the participant of shape i: repeated scans and frames of a person share a number, and are never counted as people. `reference` is as in
    /// [`formkin_align::AlignParams::fit`]. Degrees of freedom: variances have the divisor n - 1 of n shapes. Mean and modes are rounded to `f32`, as a file holds them, so that a
    /// space read back is the same to the bit. `progress` hears (thousandths done, 1000).
    ///
    /// # Errors
    /// [`ShapeError`]: fewer than two shapes, settings or sizes that do not fit, a shape that cannot be read or aligned. Too few people for a cross-validation is
    /// no error: the space says why it has none.
    #[expect(clippy::too_many_lines, reason = "the steps of one fit, each on what all before it found")]
    pub fn fit(
        &self,
        source: &dyn ShapeSource,
        topology: &Topology,
        people: &[usize],
        reference: Option<&[Point]>,
        progress: &(dyn Fn(usize, usize) + Sync),
    ) -> Result<FittedSpace, ShapeError> {
        self.check()?;
        let n = source.shapes();
        if n < 2 {
            return Err(ShapeError::TooFewShapes { shapes: n });
        }
        if people.len() != n {
            return Err(ShapeError::Count {
                what: "participants of the shapes",
                expected: n,
                found: people.len(),
            });
        }
        let told = AtomicUsize::new(0);
        let phase = |from: usize, to: usize, done: usize, of: usize| {
            let now = from + (to - from) * done.min(of) / of.max(1);
            if told.fetch_max(now, Ordering::Relaxed) < now {
                progress(now, 1000);
            }
        };
        let alignment = self.align.fit(source, topology, reference, &|d, of| phase(0, 200, d, of))?;
        let aligned = alignment.aligned(source);
        let gram =
            gram_matrix(&aligned, &alignment.mean, &alignment.weights, &|d, of| phase(200, 400, d, of))?;
        let eigen = symmetric_eigen(&gram)?;
        let square = alignment
            .centroid_sizes_mm
            .iter()
            .zip(&alignment.transforms)
            .map(|(s, t)| (s * t.scale).powi(2))
            .sum::<f64>()
            / n as f64;
        // deviations are differences of positions: their rounding is about 1e-15 of the size
        let nonzero = rank(&eigen.values, square, 1e-24 * n as f64);
        let kept = nonzero.min(self.max_modes.unwrap_or(usize::MAX));
        let roots: Vec<f64> = eigen.values[..kept].iter().map(|g| g.sqrt()).collect();
        let columns = Array2::from_shape_fn((n, kept), |(i, k)| eigen.vectors[[i, k]] / roots[k]);
        let mut modes = combine(&aligned, &alignment.mean, &columns, &|d, of| phase(400, 500, d, of))?;
        let signs: Vec<f64> = modes.iter_mut().map(|mode| fix_sign(mode)).collect();
        let coefficients = (0..n)
            .map(|i| (0..kept).map(|k| signs[k] * eigen.vectors[[i, k]] * roots[k]).collect())
            .collect();
        let (cross_validation, cross_validation_refused) = if self.cross_validate {
            match cross_validate(source, &alignment.weights, people, self, &|d, of| phase(500, 1000, d, of)) {
                Ok(found) => (Some(found), None),
                Err(reason @ ShapeError::TooFewPeople { .. }) => (None, Some(reason.to_string())),
                Err(e) => return Err(e),
            }
        } else {
            (None, None)
        };
        phase(0, 1000, 1, 1);
        let variances_mm2: Vec<f64> = eigen.values[..nonzero].iter().map(|g| g / (n - 1) as f64).collect();
        let mut persons = people.to_vec();
        persons.sort_unstable();
        persons.dedup();
        let mut mean = alignment.mean.clone();
        for points in modes.iter_mut().chain([&mut mean]) {
            for p in points {
                *p = p.map(|c| f64::from(c as f32));
            }
        }
        let space = Space {
            mean,
            modes,
            total_variance_mm2: variances_mm2.iter().sum(),
            variances_mm2,
            weights: alignment.weights.clone(),
            triangles: topology.triangles().to_vec(),
            people: persons.len(),
            items: n,
            removes: self.align.removes,
            weighting: self.align.weighting.name().to_owned(),
            align: self.align.clone(),
            cross_validation,
            cross_validation_refused,
            criteria: None,
            quality: None,
            regression: None,
            measuring: None,
            template_hash: topology.hash().to_owned(),
            seed: self.seed,
            version: format::VERSION,
        };
        Ok(FittedSpace { space, alignment, coefficients })
    }
}
