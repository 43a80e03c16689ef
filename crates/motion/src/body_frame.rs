//! A rigid frame fixed to a region of the body.
//!
//! Every frame's region is laid on the region of the reference pose by the best rotation, never a reflection. The fit is robust: vertices
//! are weighted by Tukey's biweight of their distance (4.685 scale units, the scale 1.4826 times the median distance), in rounds, so
//! that a part of the region that moves on its own does not drag the frame along. The studied tissue is left out of the region.
//!
//! The axes are set in the reference pose, the longitudinal one first: vertical is exactly the direction given for it; lateral is what of
//! the direction to the left is across it; fore-aft completes a right-handed frame and points backward. Another order gives other
//! ranges: 8 % were found on a vertical range (published comparison of axis orders, from memory).

use formkin_align::Transform;
use formkin_geometry::areas::volume;
use formkin_geometry::kabsch::best_rotation;
use formkin_geometry::vector::{add, add_outer, cross, dot, norm, scale, sub, unit};
use formkin_geometry::{Point, ShapeSource, Topology};
use formkin_stats::quantile::{MAD_TO_SD, median_of};
use rayon::prelude::*;
use serde::{Deserialize, Serialize};

use crate::MotionError;

/// Rounds of reweighting.
const ROUNDS: usize = 20;
/// Tukey's constant: 95 % efficiency under normal noise.
const TUKEY: f64 = 4.685;
/// Fewest vertices of a region.
const FEWEST: usize = 4;
/// A mirrored region must fit so much better than the unmirrored one for a frame to be refused.
const MIRRORED: f64 = 0.5;

/// A direction from one group of vertices (their mean) to another.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Direction {
    /// Where it comes from.
    pub from: Vec<u32>,
    /// Where it goes.
    pub to: Vec<u32>,
}

/// The axes of a body frame, set in the reference pose.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Axes {
    /// The longitudinal axis, upward: it is kept exactly.
    pub up: Direction,
    /// To the left of the body.
    pub left: Direction,
    /// Backward; it only tests that the body is not mirrored.
    pub back: Option<Direction>,
}

/// What a body frame is fixed to.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct FrameParams {
    /// The region's vertices.
    pub region: Vec<u32>,
    /// Vertices of the region that are left out: the studied tissue.
    pub leave_out: Vec<u32>,
    /// The axes; those of the laboratory in the reference pose where absent (z vertical, x to the left, y backward: the body stands
    /// and faces -y).
    pub axes: Option<Axes>,
    /// The frame, from 0, that is the reference pose.
    pub reference_frame: usize,
    /// Whether vertices that move on their own are weighted down.
    pub robust: bool,
}

impl FrameParams {
    /// A robust frame on a region with the laboratory's axes in frame 0.
    #[must_use]
    pub fn on(region: Vec<u32>) -> Self {
        Self { region, leave_out: Vec::new(), axes: None, reference_frame: 0, robust: true }
    }
}

/// A frame fixed to a region: for every frame of a record where it is.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct BodyFrame {
    /// The vertices it is fixed to.
    pub region: Vec<u32>,
    /// Laboratory to body, one a frame: x lateral (to the left), y fore-aft (backward), z vertical, in mm, from the centre of the
    /// region.
    pub transforms: Vec<Transform>,
    /// Where the centre of the region is in the laboratory, one a frame, in mm.
    pub origins_mm: Vec<Point>,
    /// How well the region fits its reference pose: weighted root mean square distance, one a frame, in mm. This is what the frame
    /// calls rigid.
    pub fit_rms_mm: Vec<f64>,
    /// Share of the region weighted down to under a half, the mean over frames.
    pub weighted_down: f64,
    /// Where the axes come from.
    pub axes: String,
    /// The pose of the reference.
    pub reference_pose: String,
}

impl FrameParams {
    /// Fixes the frame. The frames are streamed; each is fitted on its own.
    ///
    /// # Errors
    /// [`MotionError::NoSuchFrame`], [`MotionError::RegionVertex`], [`MotionError::RegionTooSmall`]; [`MotionError::NoAxis`] for axes
    /// without a direction; [`MotionError::LeftHanded`] for a mirrored reference pose, mirrored axes, or a mirrored frame;
    /// [`MotionError::Source`].
    pub fn fit(&self, source: &dyn ShapeSource, topology: &Topology) -> Result<BodyFrame, MotionError> {
        let (n, v) = (source.shapes(), source.vertices());
        if self.reference_frame >= n {
            return Err(MotionError::NoSuchFrame { frame: self.reference_frame, last: n.saturating_sub(1) });
        }
        let mut region = self.region.clone();
        region.sort_unstable();
        region.dedup();
        let mut out = self.leave_out.clone();
        out.sort_unstable();
        region.retain(|i| out.binary_search(i).is_err());
        if let Some(&vertex) = region.iter().find(|&&i| i as usize >= v) {
            return Err(MotionError::RegionVertex { vertex, last: v.saturating_sub(1) });
        }
        if region.len() < FEWEST {
            return Err(MotionError::RegionTooSmall { vertices: region.len(), needed: FEWEST });
        }
        let pose = source.read_shape(self.reference_frame)?;
        if topology.vertices() == v && topology.summary().watertight && volume(topology, &pose) < 0.0 {
            return Err(MotionError::LeftHanded {
                what: "the body of the reference pose".to_owned(),
                reason: "its triangles face inward".to_owned(),
            });
        }
        let axes = self.axes(&pose)?;
        let points: Vec<Point> = region.iter().map(|&i| pose[i as usize]).collect();
        let centre = mean(&points);
        let reference: Vec<Point> = points.iter().map(|&p| turned(&axes, sub(p, centre))).collect();
        let fits: Vec<Result<Fit, MotionError>> = (0..n)
            .into_par_iter()
            .map_init(Vec::new, |shape, frame| {
                shape.resize(v, [0.0; 3]);
                source.read_block(frame, shape)?;
                let points: Vec<Point> = region.iter().map(|&i| shape[i as usize]).collect();
                if let Some(i) = points.iter().position(|p| !p.iter().all(|c| c.is_finite())) {
                    let what = format!("vertex {}", region[i]);
                    return Err(MotionError::NotFinite { what, frame });
                }
                fit_one(&points, &reference, self.robust, frame)
            })
            .collect();
        let fits = fits.into_iter().collect::<Result<Vec<_>, _>>()?;
        Ok(BodyFrame {
            origins_mm: fits.iter().map(|f| f.transform.inverse().apply([0.0; 3])).collect(),
            fit_rms_mm: fits.iter().map(|f| f.rms).collect(),
            weighted_down: fits.iter().map(|f| f.down).sum::<f64>() / n as f64,
            transforms: fits.into_iter().map(|f| f.transform).collect(),
            region,
            axes: match &self.axes {
                Some(_) => "longitudinal first, then lateral, of landmarks in the reference pose",
                None => "those of the laboratory in the reference pose: z up, x to the left, y backward",
            }
            .to_owned(),
            reference_pose: format!("frame {}", self.reference_frame),
        })
    }

    /// The unit axes of the body (lateral, fore-aft, vertical) as rows, in the reference pose.
    fn axes(&self, pose: &[Point]) -> Result<[Point; 3], MotionError> {
        let Some(axes) = &self.axes else { return Ok([[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]]) };
        let direction = |d: &Direction| -> Result<Point, MotionError> {
            let place = |list: &[u32]| {
                if let Some(&vertex) = list.iter().find(|&&i| i as usize >= pose.len()) {
                    return Err(MotionError::RegionVertex { vertex, last: pose.len().saturating_sub(1) });
                }
                Ok(mean(&list.iter().map(|&i| pose[i as usize]).collect::<Vec<_>>()))
            };
            Ok(sub(place(&d.to)?, place(&d.from)?))
        };
        axes_along(
            direction(&axes.up)?,
            direction(&axes.left)?,
            axes.back.as_ref().map(direction).transpose()?,
        )
    }
}

/// Unit axes (lateral, fore-aft, vertical) as rows from the directions upward, to the left and, as a test of handedness, backward. The
/// vertical one is kept exactly.
pub(crate) fn axes_along(up: Point, left: Point, back: Option<Point>) -> Result<[Point; 3], MotionError> {
    let known = |axis: &'static str, d: Point| {
        unit(d)
            .ok_or_else(|| MotionError::NoAxis { axis, reason: "its two ends are in one place".to_owned() })
    };
    let z = known("vertical", up)?;
    let left = known("lateral", left)?;
    let across = sub(left, scale(z, dot(left, z)));
    // under three degrees from the vertical it says nothing
    let x = unit(across).filter(|_| norm(across) > 0.05).ok_or_else(|| MotionError::NoAxis {
        axis: "lateral",
        reason: "it runs along the vertical one".to_owned(),
    })?;
    let y = cross(z, x);
    if let Some(back) = back
        && dot(known("fore-aft", back)?, y) <= 0.0
    {
        return Err(MotionError::LeftHanded {
            what: "the set of axes of the body frame".to_owned(),
            reason: "up, left and back do not make a right-handed frame".to_owned(),
        });
    }
    Ok([x, y, z])
}

pub(crate) struct Fit {
    pub(crate) transform: Transform,
    pub(crate) rms: f64,
    pub(crate) down: f64,
}

/// Lays points on their reference (in body axes about its centre).
pub(crate) fn fit_one(
    points: &[Point],
    reference: &[Point],
    robust: bool,
    frame: usize,
) -> Result<Fit, MotionError> {
    let mut weights = vec![1.0; points.len()];
    let (mut transform, mut squares) = rigid(points, reference, &weights, false);
    let distances = |t: &Transform| -> Vec<f64> {
        points.iter().zip(reference).map(|(&p, &r)| norm(sub(t.apply(p), r))).collect()
    };
    let size: f64 = reference.iter().map(|&r| dot(r, r)).sum::<f64>() / reference.len() as f64;
    let mirrored = rigid(points, reference, &weights, true).1;
    // only where the mirror image matters: a flat region is its own
    if mirrored.sqrt() < MIRRORED * squares.sqrt() && squares > 1e-4 * size {
        return Err(MotionError::LeftHanded {
            what: format!("frame {frame}"),
            reason: format!(
                "its mirror image fits the reference pose within {:.1} mm, it itself within {:.1} mm",
                mirrored.sqrt(),
                squares.sqrt()
            ),
        });
    }
    if robust {
        for _ in 0..ROUNDS {
            let d = distances(&transform);
            let scale_mm = MAD_TO_SD * median_of(&mut d.clone()).unwrap_or(0.0);
            if scale_mm <= 1e-9 * size.sqrt() {
                break;
            }
            for (w, d) in weights.iter_mut().zip(&d) {
                let u = d / (TUKEY * scale_mm);
                *w = if u < 1.0 { (1.0 - u * u).powi(2) } else { 0.0 };
            }
            let (next, left) = rigid(points, reference, &weights, false);
            let change = norm(sub(next.translation, transform.translation));
            (transform, squares) = (next, left);
            if change < 1e-9 * size.sqrt() {
                break;
            }
        }
    }
    let down = weights.iter().filter(|w| **w < 0.5).count() as f64 / weights.len() as f64;
    Ok(Fit { transform, rms: squares.sqrt(), down })
}

/// The best rigid transform points -> reference and the weighted mean square distance; of the mirrored points where asked.
fn rigid(points: &[Point], reference: &[Point], weights: &[f64], mirror: bool) -> (Transform, f64) {
    let flip = |p: Point| if mirror { [-p[0], p[1], p[2]] } else { p };
    let total: f64 = weights.iter().sum();
    let centre = |list: &mut dyn Iterator<Item = (Point, f64)>| {
        let sum = list.fold([0.0; 3], |s, (p, w)| add(s, scale(p, w)));
        scale(sum, 1.0 / total)
    };
    let from = centre(&mut points.iter().zip(weights).map(|(&p, &w)| (flip(p), w)));
    let to = centre(&mut reference.iter().zip(weights).map(|(&p, &w)| (p, w)));
    let mut moment = [[0.0; 3]; 3];
    for ((&p, &r), w) in points.iter().zip(reference).zip(weights) {
        add_outer(&mut moment, *w, sub(flip(p), from), sub(r, to));
    }
    let rotation = best_rotation(&moment).rotation;
    let turn = Transform { rotation, translation: [0.0; 3], scale: 1.0 };
    let transform = Transform { translation: sub(to, turn.apply(from)), ..turn };
    let squares: f64 = points
        .iter()
        .zip(reference)
        .zip(weights)
        .map(|((&p, &r), w)| {
            let d = sub(transform.apply(flip(p)), r);
            w * dot(d, d)
        })
        .sum();
    (transform, squares / total)
}

pub(crate) fn mean(points: &[Point]) -> Point {
    let sum = points.iter().fold([0.0; 3], |s, &p| add(s, p));
    scale(sum, 1.0 / points.len().max(1) as f64)
}

/// A vector in the axes given as rows.
pub(crate) fn turned(axes: &[Point; 3], p: Point) -> Point {
    [dot(axes[0], p), dot(axes[1], p), dot(axes[2], p)]
}
