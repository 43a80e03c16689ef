//! The range of every vertex in a body frame, for maps over the surface.

use formkin_geometry::vector::norm;
use formkin_geometry::{Point, ShapeSource};
use rayon::prelude::*;
use serde::{Deserialize, Serialize};

use crate::MotionError;
use crate::body_frame::BodyFrame;
use crate::cycles::cycle::Cycles;

/// How far every vertex goes against the body in a cycle, the mean over the cycles.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct RangeField {
    /// Mean range on the lateral, fore-aft and vertical axes, one a vertex, in mm.
    pub ranges_mm: Vec<Point>,
    /// Cycles; 0 where the ranges are of the whole record.
    pub cycles: usize,
}

impl RangeField {
    /// The ranges of all vertices: largest less smallest place in each cycle that counts, averaged; without cycles of the whole record. Places
    /// are not filtered. Frames are streamed; memory does not grow with their number.
    ///
    /// # Errors
    /// [`MotionError::Count`] where times, frames and the body frame differ in number; [`MotionError::Source`].
    pub fn of(
        source: &dyn ShapeSource,
        times_s: &[f64],
        frame: &BodyFrame,
        cycles: Option<&Cycles>,
    ) -> Result<Self, MotionError> {
        let (n, v) = (source.shapes(), source.vertices());
        for (what, found) in
            [("time stamps", times_s.len()), ("frames of the body frame", frame.transforms.len())]
        {
            if found != n {
                return Err(MotionError::Count { what, expected: n, found });
            }
        }
        let spans: Vec<(f64, f64)> = match cycles {
            Some(c) => c.counting().map(|c| (c.start_s, c.end_s)).collect(),
            None => vec![(f64::NEG_INFINITY, f64::INFINITY)],
        };
        let mut sums = vec![[0.0; 3]; v];
        let mut counted = 0;
        for &(start, end) in &spans {
            let mut low = vec![[f64::INFINITY; 3]; v];
            let mut high = vec![[f64::NEG_INFINITY; 3]; v];
            let mut any = false;
            let mut shape = vec![[0.0; 3]; v];
            for k in (0..n).filter(|&k| times_s[k] >= start && times_s[k] <= end) {
                any = true;
                source.read_block(k, &mut shape)?;
                let t = frame.transforms[k];
                low.par_iter_mut().zip(&mut high).zip(&shape).for_each(|((l, h), &p)| {
                    let p = t.apply(p);
                    for c in 0..3 {
                        l[c] = l[c].min(p[c]);
                        h[c] = h[c].max(p[c]);
                    }
                });
            }
            if any {
                counted += 1;
                for (s, (l, h)) in sums.iter_mut().zip(low.iter().zip(&high)) {
                    for c in 0..3 {
                        s[c] += h[c] - l[c];
                    }
                }
            }
        }
        if counted == 0 {
            return Err(MotionError::NoCycles { reason: "no frame lies in a cycle that counts".to_owned() });
        }
        let count = counted as f64;
        Ok(Self {
            ranges_mm: sums.into_iter().map(|s| s.map(|x| x / count)).collect(),
            cycles: if cycles.is_some() { counted } else { 0 },
        })
    }

    /// The resultant of every vertex, in mm.
    #[must_use]
    pub fn resultants_mm(&self) -> Vec<f64> {
        self.ranges_mm.iter().map(|&r| norm(r)).collect()
    }

    /// How much less every vertex moves here than in `reference`, vertical range in mm: negative where it moves more.
    ///
    /// # Errors
    /// [`MotionError::Count`] where the two have not the same vertices.
    pub fn vertical_reduction_mm(&self, reference: &Self) -> Result<Vec<f64>, MotionError> {
        if self.ranges_mm.len() != reference.ranges_mm.len() {
            return Err(MotionError::Count {
                what: "vertices",
                expected: reference.ranges_mm.len(),
                found: self.ranges_mm.len(),
            });
        }
        Ok(self.ranges_mm.iter().zip(&reference.ranges_mm).map(|(a, b)| b[2] - a[2]).collect())
    }
}
