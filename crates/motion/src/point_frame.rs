//! A rigid frame fixed to three or more points, for marker trajectories.
//!
//! The frame is that of [`crate::body_frame`] with points in place of a region: in every frame the points that are seen are laid on their
//! places in the reference pose by the best rotation, and the axes are set in the reference pose, the longitudinal one first. Where fewer
//! than three points are seen, or those that are lie on a line, the frame has no place: what is seen from it is missing there.

use formkin_align::Transform;
use formkin_geometry::Point;
use formkin_geometry::vector::{cross, norm, sub};
use serde::{Deserialize, Serialize};

use crate::MotionError;
use crate::body_frame::{BodyFrame, axes_along, fit_one, mean, turned};
use crate::points::PointTracks;
use crate::soft::displacement::Path;

/// Fewest points of a frame.
const FEWEST: usize = 3;
/// Points lie on a line where none is further from it than this part of their extent.
const ON_A_LINE: f64 = 0.02;

/// A direction from the mean of some points to the mean of others.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct PointDirection {
    /// Where it comes from.
    pub from: Vec<String>,
    /// Where it goes.
    pub to: Vec<String>,
}

/// The axes of a frame of points, set in the reference pose.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct PointAxes {
    /// The longitudinal axis, upward: it is kept exactly.
    pub vertical: PointDirection,
    /// To the left of the body.
    pub lateral: PointDirection,
    /// Backward; it only tests that the body is not mirrored.
    pub fore_aft: Option<PointDirection>,
}

/// What a frame of points is fixed to.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct PointFrameParams {
    /// The points, three or more that do not lie on a line.
    pub points: Vec<String>,
    /// The axes; those of the laboratory in the reference pose where absent (z vertical, x to the left, y backward).
    pub axes: Option<PointAxes>,
    /// The frame, from 0, that is the reference pose; the first after it in which all points are seen.
    pub reference_frame: usize,
}

impl PointFrameParams {
    /// Fixes the frame. Frames in which it cannot be found have places that are not numbers and count as missing.
    ///
    /// # Errors
    /// [`MotionError::NoSuchPoint`], [`MotionError::RegionTooSmall`], [`MotionError::NoSuchFrame`]; [`MotionError::NoAxis`] for points on a
    /// line or axes without a direction; [`MotionError::LeftHanded`].
    pub fn fit(&self, tracks: &PointTracks) -> Result<BodyFrame, MotionError> {
        let n = tracks.times_s.len();
        let mut at = Vec::new();
        for name in &self.points {
            let i = tracks.index(name)?;
            if !at.contains(&i) {
                at.push(i);
            }
        }
        if at.len() < FEWEST {
            return Err(MotionError::RegionTooSmall { vertices: at.len(), needed: FEWEST });
        }
        if self.reference_frame >= n {
            return Err(MotionError::NoSuchFrame { frame: self.reference_frame, last: n.saturating_sub(1) });
        }
        let mut needed = at.clone();
        for d in self.axes.iter().flat_map(|a| [Some(&a.vertical), Some(&a.lateral), a.fore_aft.as_ref()]) {
            for name in d.iter().flat_map(|d| d.from.iter().chain(&d.to)) {
                needed.push(tracks.index(name)?);
            }
        }
        let whole = |row: &Vec<Option<Point>>| needed.iter().all(|&i| row[i].is_some());
        let Some(k) = (self.reference_frame..n).find(|&k| whole(&tracks.positions_mm[k])) else {
            return Err(MotionError::NoAxis {
                axis: "longitudinal",
                reason: "no frame after the reference frame shows all points of the body frame and its axes"
                    .to_owned(),
            });
        };
        let pose = &tracks.positions_mm[k];
        let points: Vec<Point> = at.iter().filter_map(|&i| pose[i]).collect();
        if on_a_line(&points) {
            return Err(MotionError::NoAxis {
                axis: "second",
                reason: "the points of the body frame lie on a line; add one beside it".to_owned(),
            });
        }
        let axes = self.axes(tracks, pose)?;
        let centre = mean(&points);
        let reference: Vec<Point> = points.iter().map(|&p| turned(&axes, sub(p, centre))).collect();
        let mut made = BodyFrame {
            region: at.iter().map(|&i| i as u32).collect(),
            transforms: Vec::with_capacity(n),
            origins_mm: Vec::with_capacity(n),
            fit_rms_mm: Vec::new(),
            weighted_down: 0.0,
            axes: match &self.axes {
                Some(_) => "longitudinal first, then lateral, of points in the reference pose",
                None => "those of the laboratory in the reference pose: z up, x to the left, y backward",
            }
            .to_owned(),
            reference_pose: format!("frame {k}"),
        };
        for (frame, row) in tracks.positions_mm.iter().enumerate() {
            let (seen, wanted): (Vec<Point>, Vec<Point>) =
                at.iter().zip(&reference).filter_map(|(&i, &r)| row[i].map(|p| (p, r))).unzip();
            if seen.len() < FEWEST || on_a_line(&seen) {
                made.transforms.push(Transform { translation: [f64::NAN; 3], ..Transform::default() });
                made.origins_mm.push([f64::NAN; 3]);
                continue;
            }
            let fit = fit_one(&seen, &wanted, false, frame)?;
            made.origins_mm.push(fit.transform.inverse().apply([0.0; 3]));
            made.fit_rms_mm.push(fit.rms);
            made.transforms.push(fit.transform);
        }
        Ok(made)
    }

    fn axes(&self, tracks: &PointTracks, pose: &[Option<Point>]) -> Result<[Point; 3], MotionError> {
        let Some(axes) = &self.axes else { return Ok([[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]]) };
        let place = |names: &[String]| -> Result<Point, MotionError> {
            let all =
                names.iter().map(|n| Ok(pose[tracks.index(n)?])).collect::<Result<Vec<_>, MotionError>>();
            Ok(mean(&all?.into_iter().flatten().collect::<Vec<_>>()))
        };
        let direction =
            |d: &PointDirection| -> Result<Point, MotionError> { Ok(sub(place(&d.to)?, place(&d.from)?)) };
        axes_along(
            direction(&axes.vertical)?,
            direction(&axes.lateral)?,
            axes.fore_aft.as_ref().map(direction).transpose()?,
        )
    }
}

/// The path of a point in a body frame: places that are not numbers where it or the frame is not seen. The frame that goes with it has
/// no place there either.
///
/// # Errors
/// [`MotionError::NoSuchPoint`]; [`MotionError::Count`] where the frame is of another record.
pub fn point_path(
    tracks: &PointTracks,
    name: &str,
    frame: &BodyFrame,
) -> Result<(Path, BodyFrame), MotionError> {
    let (i, n) = (tracks.index(name)?, tracks.times_s.len());
    if frame.transforms.len() != n {
        let found = frame.transforms.len();
        return Err(MotionError::Count { what: "frames of the body frame", expected: n, found });
    }
    let seen = |k: usize| tracks.positions_mm[k][i];
    let places_mm = (0..n).map(|k| seen(k).map_or([f64::NAN; 3], |p| frame.transforms[k].apply(p))).collect();
    let mut own = frame.clone();
    for (k, origin) in own.origins_mm.iter_mut().enumerate() {
        if seen(k).is_none() {
            *origin = [f64::NAN; 3];
        }
    }
    Ok((Path { name: name.to_owned(), vertices: 1, places_mm, normal: None }, own))
}

impl PointTracks {
    /// The same points seen from a body frame: x lateral to the left, y fore-aft backward, z vertical, in mm from the frame's origin.
    #[must_use]
    pub fn seen_from(&self, frame: &BodyFrame) -> Self {
        let moved = |k: usize, p: Option<Point>| {
            let t = frame.transforms.get(k)?;
            let p = t.apply(p?);
            p.iter().all(|c| c.is_finite()).then_some(p)
        };
        Self {
            names: self.names.clone(),
            times_s: self.times_s.clone(),
            positions_mm: self
                .positions_mm
                .iter()
                .enumerate()
                .map(|(k, row)| row.iter().map(|&p| moved(k, p)).collect())
                .collect(),
        }
    }
}

fn on_a_line(points: &[Point]) -> bool {
    let far = |from: Point| points.iter().map(|&p| sub(p, from)).max_by(|a, b| norm(*a).total_cmp(&norm(*b)));
    let Some(&first) = points.first() else { return true };
    let Some(along) = far(first) else { return true };
    let long = norm(along);
    // the distance of a point from the line through the first and the farthest
    let off = points.iter().map(|&p| norm(cross(sub(p, first), along)) / long.max(1e-12)).fold(0.0, f64::max);
    long < 1e-9 || off < ON_A_LINE * long
}

#[cfg(test)]
mod tests {
    use std::f64::consts::TAU;

    use super::*;
    use crate::cycles::cycle::Cycles;
    use crate::soft::tissue::tissue;

    fn direction(from: &str, to: &str) -> PointDirection {
        PointDirection { from: vec![from.to_owned()], to: vec![to.to_owned()] }
    }

    fn params() -> PointFrameParams {
        PointFrameParams {
            points: ["back", "left", "right"].map(str::to_owned).to_vec(),
            axes: Some(PointAxes {
                vertical: direction("low", "high"),
                lateral: direction("right", "left"),
                fore_aft: None,
            }),
            reference_frame: 0,
        }
    }

    /// A trunk that turns and travels, with a point that swings 22 mm upward and downward at 3 Hz, 35 degrees late behind the trunk.
    fn record() -> PointTracks {
        let names = ["back", "left", "right", "low", "high", "soft"].map(str::to_owned).to_vec();
        let fixed: [Point; 5] = [
            [0.0, 120.0, 1300.0],
            [150.0, 20.0, 1350.0],
            [-150.0, 20.0, 1350.0],
            [0.0, 0.0, 1000.0],
            [0.0, 0.0, 1450.0],
        ];
        let times_s: Vec<f64> = (0..600).map(|i| f64::from(i) / 100.0).collect();
        let positions_mm = times_s
            .iter()
            .map(|t| {
                let late = 35f64.to_radians();
                let soft = [60.0, -100.0, 1250.0 + 11.0 * (TAU * 3.0 * t - late).sin()];
                let (angle, walk) = (0.3 * t, 900.0 * t);
                let (s, c) = angle.sin_cos();
                let bounce = 30.0 * (TAU * 3.0 * t).sin();
                fixed
                    .iter()
                    .copied()
                    .chain([soft])
                    .map(|p| Some([c * p[0] - s * p[1] + walk, s * p[0] + c * p[1], p[2] + bounce]))
                    .collect()
            })
            .collect();
        PointTracks { names, times_s, positions_mm }
    }

    #[test]
    fn a_planted_swing_of_a_point_is_recovered_on_a_turning_trunk() {
        let mut tracks = record();
        let events: Vec<f64> = (0..17).map(|i| 0.3 + f64::from(i) / 3.0).collect();
        let check = |tracks: &PointTracks, least: usize| {
            let frame = params().fit(tracks).unwrap();
            let (path, own) = point_path(tracks, "soft", &frame).unwrap();
            let cycles = Cycles::between(&events, |_, _| true, 3.0).unwrap();
            let found = tissue(&path, &own, &tracks.times_s, &cycles, Some(45.0)).unwrap();
            let s = found.summary.unwrap();
            assert!((s.vertical_mm.mean - 22.0).abs() < 0.22, "{s:?}");
            assert!(s.lateral_mm.mean < 0.1 && s.vertical_mm.cycles >= least, "{s:?}");
            assert!((found.lag.unwrap().degrees.unwrap() - 35.0).abs() < 0.5, "{:?}", found.lag);
            assert!(found.noise_mm.unwrap().iter().all(|v| v.is_finite()));
        };
        check(&tracks, 16);
        // a marker of the frame is hidden for a while, and the point for another
        for k in 100..150 {
            tracks.positions_mm[k][1] = None;
        }
        for k in 300..330 {
            tracks.positions_mm[k][5] = None;
        }
        check(&tracks, 9);
        let seen = tracks.seen_from(&params().fit(&tracks).unwrap());
        assert!(seen.positions_mm[120][0].is_none() && seen.positions_mm[50][0].is_some());
    }

    #[test]
    fn frames_that_cannot_be_fixed_are_refused() {
        let tracks = record();
        let mut line = params();
        line.points = ["low", "high", "low"].map(str::to_owned).to_vec();
        assert!(matches!(line.fit(&tracks), Err(MotionError::RegionTooSmall { vertices: 2, .. })));
        line.points = vec!["low".into(), "high".into(), "elbow".into()];
        assert!(line.fit(&tracks).unwrap_err().to_string().contains("elbow"));
        let mut flat = tracks.clone();
        for row in &mut flat.positions_mm {
            row[0] = Some([0.0, 20.0, 1350.0]);
            row[1] = Some([150.0, 20.0, 1350.0]);
            row[2] = Some([-150.0, 20.0, 1350.0]);
        }
        assert!(matches!(params().fit(&flat), Err(MotionError::NoAxis { .. })));
        let mut mirrored = params();
        if let Some(axes) = &mut mirrored.axes {
            axes.fore_aft = Some(direction("back", "low"));
        }
        assert!(matches!(mirrored.fit(&tracks), Err(MotionError::LeftHanded { .. })));
        let mut hidden = tracks;
        for row in &mut hidden.positions_mm {
            row[2] = None;
        }
        assert!(params().fit(&hidden).is_err());
    }
}
