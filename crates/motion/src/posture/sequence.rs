//! Poses of a record, unposed bodies, angles through time, and what posture explains.

use formkin_geometry::turn::to_vector;
use formkin_geometry::vector::{add, dot, scale, sub};
use formkin_geometry::{Point, ShapeArray, ShapeSource};
use rayon::prelude::*;
use serde::{Deserialize, Serialize};

use super::estimate::{Estimate, Estimator};
use super::rig::{Pose, Rig};
use crate::{Motion, MotionError};

/// Frames of one run: the first is estimated from none, the others from the one before. Runs are worked on in parallel.
const RUN: usize = 16;

/// Settings of posture.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct PostureParams {
    /// Vertices left out of the estimation: soft tissue.
    pub leave_out: Vec<u32>,
    /// Rounds in which the body at rest is made anew from unposed frames: 0 where the person's own body at rest is given, some where it
    /// is the template's. The stance of the rest is that of the start.
    pub rest_rounds: usize,
}

/// The poses of a record.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Posture {
    /// Names of the joints.
    pub joints: Vec<String>,
    /// One a frame.
    pub frames: Vec<Estimate>,
    /// The body at rest that was used, in mm.
    pub rest: Vec<Point>,
    /// Root mean square over frames and vertices of the unposed bodies from their mean, in mm.
    pub unposed_rms_mm: f64,
}

impl PostureParams {
    /// Estimates the pose of every frame. `rig` holds the body at rest and is changed where rounds are asked for.
    ///
    /// # Errors
    /// [`MotionError::VertexCount`], [`MotionError::TooFewFrames`] without a frame, [`MotionError::Source`].
    pub fn fit(
        &self,
        rig: &mut Rig,
        source: &dyn ShapeSource,
        progress: &(dyn Fn(usize, usize) + Sync),
    ) -> Result<Posture, MotionError> {
        let n = source.shapes();
        if n == 0 {
            return Err(MotionError::TooFewFrames { frames: 0, needed: 1 });
        }
        if source.vertices() != rig.rest.len() {
            return Err(MotionError::VertexCount {
                frames_vertices: source.vertices(),
                topology_vertices: rig.rest.len(),
            });
        }
        let some: Vec<usize> = (0..n).step_by(n.div_ceil(12).max(1)).collect();
        for _ in 0..self.rest_rounds {
            let estimator = Estimator::new(rig, &self.leave_out);
            let unposed: Vec<Result<Vec<Point>, MotionError>> = some
                .par_iter()
                .map(|&k| {
                    let frame = source.read_shape(k)?;
                    let found = estimator.estimate(&frame, None);
                    Ok(rig.unposed(&frame, &found.pose))
                })
                .collect();
            let unposed = unposed.into_iter().collect::<Result<Vec<_>, _>>()?;
            let mean = mean_of(&unposed);
            rig.set_rest(mean);
        }
        let rig = &*rig;
        let estimator = Estimator::new(rig, &self.leave_out);
        let firsts: Vec<usize> = (0..n).step_by(RUN).collect();
        let runs: Vec<Result<Vec<Estimate>, MotionError>> = firsts
            .par_iter()
            .map(|&first| {
                let mut found: Vec<Estimate> = Vec::new();
                for k in first..(first + RUN).min(n) {
                    let frame = source.read_shape(k)?;
                    if !frame.iter().flatten().all(|c| c.is_finite()) {
                        return Err(MotionError::NotFinite { what: "a position".to_owned(), frame: k });
                    }
                    let next = estimator.estimate(&frame, found.last().map(|f| &f.pose));
                    found.push(next);
                }
                progress((first + RUN).min(n), n);
                Ok(found)
            })
            .collect();
        let mut frames = Vec::with_capacity(n);
        for run in runs {
            frames.extend(run?);
        }
        // mean and spread of the unposed bodies, in one pass
        let v = rig.rest.len();
        let (mut sum, mut squares) = (vec![[0.0; 3]; v], 0.0);
        for (k, f) in frames.iter().enumerate() {
            let unposed = rig.unposed(&source.read_shape(k)?, &f.pose);
            for ((s, u), r) in sum.iter_mut().zip(&unposed).zip(&rig.rest) {
                let d = sub(*u, *r);
                *s = add(*s, d);
                squares += dot(d, d);
            }
        }
        let count = n as f64;
        let of_mean: f64 = sum.iter().map(|s| dot(*s, *s)).sum::<f64>() / count;
        Ok(Posture {
            joints: rig.joints.clone(),
            frames,
            rest: rig.rest.clone(),
            unposed_rms_mm: ((squares - of_mean).max(0.0) / count / v as f64).sqrt(),
        })
    }
}

fn mean_of(shapes: &[Vec<Point>]) -> Vec<Point> {
    let n = shapes.len() as f64;
    (0..shapes[0].len())
        .map(|v| scale(shapes.iter().fold([0.0; 3], |s, shape| add(s, shape[v])), 1.0 / n))
        .collect()
}

/// What posture explains of a mode.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Explained {
    /// The mode, from 0.
    pub mode: usize,
    /// Its variance before, in mm2.
    pub before_mm2: f64,
    /// What is left where the body at rest in the frame's pose is taken off, in mm2.
    pub after_mm2: f64,
    /// 1 - after / before.
    pub share: f64,
}

impl Posture {
    /// The turn of a joint through time as rotation vectors in the axes of the rest pose, in degrees; `None` for a name that is not there.
    #[must_use]
    pub fn angles_deg(&self, joint: &str) -> Option<Vec<Point>> {
        let j = self.joints.iter().position(|n| n == joint)?;
        Some(self.frames.iter().map(|f| to_vector(f.pose.turns[j]).map(f64::to_degrees)).collect())
    }

    /// All frames brought back to rest, for a shape space of unposed bodies.
    ///
    /// # Errors
    /// [`MotionError::Source`], [`MotionError::Count`] where the record is another.
    pub fn unposed(&self, rig: &Rig, source: &dyn ShapeSource) -> Result<ShapeArray, MotionError> {
        self.check(source)?;
        let mut all = ShapeArray::new(source.vertices());
        for (k, f) in self.frames.iter().enumerate() {
            all.push(&rig.unposed(&source.read_shape(k)?, &f.pose))?;
        }
        Ok(all)
    }

    fn check(&self, source: &dyn ShapeSource) -> Result<(), MotionError> {
        if source.shapes() == self.frames.len() {
            return Ok(());
        }
        Err(MotionError::Count { what: "frames", expected: self.frames.len(), found: source.shapes() })
    }

    /// How much of each motion mode of the same frames posture explains: the coefficients of a frame less those of the body at rest in
    /// the frame's pose.
    ///
    /// # Errors
    /// [`MotionError::Source`], [`MotionError::Count`].
    pub fn explains(
        &self,
        rig: &Rig,
        source: &dyn ShapeSource,
        motion: &Motion,
    ) -> Result<Vec<Explained>, MotionError> {
        self.check(source)?;
        let n = source.shapes();
        let left: Vec<Result<Vec<f64>, MotionError>> = (0..n)
            .into_par_iter()
            .map(|k| {
                let frame = source.read_shape(k)?;
                let model = rig.posed(&self.frames[k].pose);
                let t = motion.alignment.transforms.get(k).copied().unwrap_or_default();
                let turn = formkin_align::Transform { translation: [0.0; 3], ..t };
                let d: Vec<Point> = frame.iter().zip(&model).map(|(&a, &b)| turn.apply(sub(a, b))).collect();
                Ok(motion
                    .modes
                    .iter()
                    .map(|m| {
                        let terms = d.iter().zip(m).zip(&motion.weights);
                        terms.map(|((&x, &p), w)| w * dot(x, p)).sum()
                    })
                    .collect())
            })
            .collect();
        let left = left.into_iter().collect::<Result<Vec<_>, _>>()?;
        Ok((0..motion.modes.len())
            .map(|mode| {
                let mean = left.iter().map(|r| r[mode]).sum::<f64>() / n as f64;
                let after_mm2 =
                    left.iter().map(|r| (r[mode] - mean).powi(2)).sum::<f64>() / (n.max(2) - 1) as f64;
                let before_mm2 = motion.variances_mm2[mode];
                Explained { mode, before_mm2, after_mm2, share: 1.0 - after_mm2 / before_mm2 }
            })
            .collect())
    }

    /// The pose of a frame.
    #[must_use]
    pub fn pose(&self, frame: usize) -> Option<&Pose> {
        self.frames.get(frame).map(|f| &f.pose)
    }
}
