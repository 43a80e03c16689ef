//! The fit of a movement.

use formkin_geometry::{ShapeSource, Topology};

use crate::frozen::{changes_mm, frozen};
use crate::modes::{Decomposition, PARTS, decompose};
use crate::segments::held_out;
use crate::{
    Finding, FindingKind, ModeError, Motion, MotionError, MotionParams, NoFrequency, Reference, Timing,
    dominant_frequency,
};

/// Fewest frames of a movement.
const MIN_FRAMES: usize = 2;
/// Fewest vertices of a region that fixes a frame.
const MIN_REGION: usize = 3;

impl MotionParams {
    /// Fits a movement to the frames of `source`, one time stamp (s) each: takes the rigid part out of every frame (generalised Procrustes,
    /// on the region alone where one is set), and describes the rest by its modes over the frames,
    ///
    /// frame_i = mean + sum_k b_ik p_k, with sum_v w_v p_kv . p_lv = 1 where k = l, else 0 and variance_k = sum_i b_ik^2 / (n - 1).
    ///
    /// The frames are read in passes; a few are in memory at a time. `progress` hears (parts of the work done, of).
    ///
    /// # Errors
    /// [`MotionError`]: too few frames, wrong time stamps, a region or reference frame that is not there, settings out of range, or an
    /// alignment that fails. A body that does not change its shape is no error: the result has no modes and a finding says so.
    pub fn fit(
        &self,
        source: &dyn ShapeSource,
        topology: &Topology,
        times_s: &[f64],
        progress: &(dyn Fn(usize, usize) + Sync),
    ) -> Result<Motion, MotionError> {
        let n = source.shapes();
        let steps = PARTS * (1 + self.segments);
        self.check(source, topology)?;
        let timing = Timing::of(times_s, n)?;
        progress(0, steps);
        let frozen = frozen(&changes_mm(source)?);
        let frozen_frames = frozen.iter().map(|f| f.frames).sum();
        let reference = match self.reference_frame {
            Reference::Frame(f) => Some(source.read_shape(f)?),
            Reference::Mean => None,
        };
        let found = decompose(self, source, topology, reference.as_deref(), &|done| progress(done, steps))?;

        let mut findings = timing.findings();
        findings.extend(frozen);
        if found.modes.is_empty() {
            findings.push(still(&found, n));
        }
        let frequencies: Vec<_> = (0..found.modes.len())
            .map(|k| match timing.fps {
                Some(fps) => {
                    let course: Vec<f64> = found.coefficients.iter().map(|row| row[k]).collect();
                    dominant_frequency(&course, fps)
                }
                None => Err(NoFrequency::NotUniform),
            })
            .collect();
        let held = held_out(self, source, topology, reference.as_deref(), found.modes.len(), &|done| {
            progress(PARTS + done, steps)
        })?;
        let (held_errors, segments, no_segments) = match held {
            Ok((errors, segments)) => (errors, Some(segments), None),
            Err(reason) => (Vec::new(), None, Some(reason)),
        };
        let mut left = found.total_variance_mm2;
        let errors = (0..=found.modes.len())
            .map(|modes| {
                if modes > 0 {
                    left = (left - found.variances_mm2[modes - 1]).max(0.0);
                }
                ModeError {
                    modes,
                    rms_mm: (left * (n - 1) as f64 / n as f64).sqrt(),
                    held_out_rms_mm: held_errors.get(modes).copied(),
                }
            })
            .collect();
        progress(steps, steps);
        Ok(Motion {
            params: self.clone(),
            people: 1,
            frames: n,
            times_s: times_s.to_vec(),
            uniform: timing.uniform,
            timing,
            frozen_frames,
            mean: found.mean,
            modes: found.modes,
            variances_mm2: found.variances_mm2,
            total_variance_mm2: found.total_variance_mm2,
            weights: found.weights,
            coefficients: found.coefficients,
            no_frequency: frequencies.iter().map(|f| f.err()).collect(),
            frequencies: frequencies.into_iter().map(Result::ok).collect(),
            errors,
            segments,
            no_segments,
            alignment: found.alignment,
            route: found.route,
            findings,
        })
    }

    fn check(&self, source: &dyn ShapeSource, topology: &Topology) -> Result<(), MotionError> {
        let (n, v) = (source.shapes(), source.vertices());
        if n < MIN_FRAMES {
            return Err(MotionError::TooFewFrames { frames: n, needed: MIN_FRAMES });
        }
        if v != topology.vertices() {
            return Err(MotionError::VertexCount {
                frames_vertices: v,
                topology_vertices: topology.vertices(),
            });
        }
        if let Some(region) = &self.region {
            if let Some(&vertex) = region.iter().find(|&&i| i as usize >= v) {
                return Err(MotionError::RegionVertex { vertex, last: v - 1 });
            }
            let mut different = region.clone();
            different.sort_unstable();
            different.dedup();
            if different.len() < MIN_REGION {
                return Err(MotionError::RegionTooSmall { vertices: different.len(), needed: MIN_REGION });
            }
        }
        if let Reference::Frame(frame) = self.reference_frame
            && frame >= n
        {
            return Err(MotionError::NoSuchFrame { frame, last: n - 1 });
        }
        let out_of_range =
            |name, value: usize, range| Err(MotionError::OutOfRange { name, value: value as f64, range });
        if self.modes == 0 {
            return out_of_range("modes", 0, "at least 1");
        }
        if self.segments == 1 {
            return out_of_range("segments", 1, "0 for none, or at least 2");
        }
        if self.gram_frames < MIN_FRAMES {
            return out_of_range("gram_frames", self.gram_frames, "at least 2");
        }
        Ok(())
    }
}

fn still(found: &Decomposition, frames: usize) -> Finding {
    Finding {
        kind: FindingKind::NoVariation,
        frame: None,
        frames,
        message: "the shape does not change: after alignment all frames are the same".to_owned(),
        amount: Some(found.total_variance_mm2.sqrt()),
        unit: Some("mm".to_owned()),
        advice: "there is no movement to describe; check that the right capture was taken".to_owned(),
    }
}
