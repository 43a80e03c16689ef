//! The pose of a frame: turns of all joints and the shift of the whole, by robust least squares on the skin.
//!
//! minimise sum_v r_v |posed(v) - x_v|^2 over the turns q_j and the shift, by Gauss-Newton steps in turns about the joints' present centres. A vertex
//! moves with joint j by W_vj w x (x_v - c_j), W_vj the sum of its weights on j and all below. The start is the pose before, or, for the first
//! frame, the best turn of each joint's own vertices from the root outward. r_v is Tukey's biweight of the distance after the first steps, so that soft
//! tissue that swings does not bend the skeleton. A weak pull to the present turn keeps joints with little skin still.

use formkin_geometry::Point;
use formkin_geometry::kabsch::best_rotation;
pub use formkin_geometry::turn::angle_between_deg;
use formkin_geometry::turn::{NONE, back, from_rotation, from_vector, rotate, then, unit};
use formkin_geometry::vector::{add, add_outer, dot, norm, scale, sub};
use formkin_stats::cholesky::Cholesky;
use formkin_stats::quantile::{MAD_TO_SD, median_of};
use ndarray::Array2;
use serde::{Deserialize, Serialize};

use super::rig::{Pose, Rig};

/// Most steps of a frame.
const STEPS: usize = 40;
/// Steps before distances are weighted.
const PLAIN: usize = 3;
/// The steps end when no joint turns more than this, in radians, and the whole shifts less, in mm.
const STILL: f64 = 2e-6;
/// Most vertices used.
const VERTICES: usize = 4000;
const TUKEY: f64 = 4.685;

/// The pose of a frame and how well it fits.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Estimate {
    /// The pose.
    pub pose: Pose,
    /// Root mean square distance of all vertices used from their place, in mm.
    pub rms_mm: f64,
    /// Median distance, in mm.
    pub median_mm: f64,
    /// Steps made.
    pub steps: usize,
    /// Whether the steps came to rest.
    pub settled: bool,
}

/// Estimates poses on one rig.
pub(crate) struct Estimator<'a> {
    rig: &'a Rig,
    /// The vertices used.
    vertices: Vec<usize>,
    /// For each of them the joints that move it, with the sum of weights on the joint and all below.
    pulls: Vec<Vec<(usize, f64)>>,
}

impl<'a> Estimator<'a> {
    /// An estimator that leaves `leave_out` (soft tissue) out; at most some thousand vertices are used, evenly.
    #[must_use]
    pub(crate) fn new(rig: &'a Rig, leave_out: &[u32]) -> Self {
        let mut out = leave_out.to_vec();
        out.sort_unstable();
        let all: Vec<usize> =
            (0..rig.rest.len()).filter(|&v| out.binary_search(&(v as u32)).is_err()).collect();
        let step = all.len().div_ceil(VERTICES).max(1);
        let vertices: Vec<usize> = all.into_iter().step_by(step).collect();
        let pulls = vertices
            .iter()
            .map(|&v| {
                let mut sums = vec![0.0; rig.joints.len()];
                for &(j, w) in &rig.skin[v] {
                    let mut at = Some(j);
                    while let Some(k) = at {
                        sums[k] += w;
                        at = rig.parents[k];
                    }
                }
                sums.into_iter().enumerate().filter(|(_, w)| *w > 0.0).collect()
            })
            .collect();
        Self { rig, vertices, pulls }
    }

    /// The pose of a frame, from a start near it or from none.
    #[must_use]
    pub(crate) fn estimate(&self, frame: &[Point], start: Option<&Pose>) -> Estimate {
        let mut pose = start.cloned().unwrap_or_else(|| self.outward(frame));
        let n = self.rig.joints.len();
        let size = 3 * n + 3;
        let (mut steps, mut settled) = (0, false);
        let mut distances = Vec::new();
        while steps < STEPS && !settled {
            let motions = self.rig.motions(&pose);
            let duals = Rig::duals(&motions);
            let places: Vec<Point> =
                self.vertices.iter().map(|&v| self.rig.place(v, &motions, &duals)).collect();
            let residuals: Vec<Point> =
                self.vertices.iter().zip(&places).map(|(&v, &p)| sub(frame[v], p)).collect();
            distances = residuals.iter().map(|&r| norm(r)).collect();
            let reach =
                if steps < PLAIN { f64::INFINITY } else { TUKEY * MAD_TO_SD * median(&distances).max(1e-6) };
            let centres: Vec<Point> = (0..n).map(|j| motions[j].apply(self.rig.centres[j])).collect();
            let mut normal = Array2::zeros((size, size));
            let mut rhs = vec![0.0; size];
            for (i, &r) in residuals.iter().enumerate() {
                let u = distances[i] / reach;
                if u >= 1.0 {
                    continue;
                }
                let weight = (1.0 - u * u).powi(2);
                // columns: for each joint three axes, and the shift
                let mut columns: Vec<(usize, Point)> = Vec::with_capacity(3 * self.pulls[i].len() + 3);
                for &(j, w) in &self.pulls[i] {
                    let d = sub(places[i], centres[j]);
                    columns.push((3 * j, [0.0, -w * d[2], w * d[1]]));
                    columns.push((3 * j + 1, [w * d[2], 0.0, -w * d[0]]));
                    columns.push((3 * j + 2, [-w * d[1], w * d[0], 0.0]));
                }
                for c in 0..3 {
                    let mut axis = [0.0; 3];
                    axis[c] = 1.0;
                    columns.push((3 * n + c, axis));
                }
                for (a, &(p, x)) in columns.iter().enumerate() {
                    rhs[p] += weight * dot(x, r);
                    for &(q, y) in &columns[..=a] {
                        normal[[p.max(q), p.min(q)]] += weight * dot(x, y);
                    }
                }
            }
            let mean: f64 = normal.diag().sum() / size as f64;
            for k in 0..size {
                normal[[k, k]] += 1e-7 * mean + 1e-9 * normal[[k, k]];
            }
            let Some(change) = solve(normal, &rhs) else { break };
            let mut largest: f64 = 0.0;
            let mut turns = pose.turns.clone();
            for j in 0..n {
                let w: Point = std::array::from_fn(|c| change[3 * j + c]);
                // no step of more than half a radian
                let w = scale(w, (0.5 / norm(w).max(1e-12)).min(1.0));
                largest = largest.max(norm(w));
                // turned in the laboratory, written in the parent's axes
                let above = self.rig.parents[j].map_or(NONE, |p| motions[p].turn);
                let local = rotate(back(above), w);
                turns[j] = unit(then(from_vector(local), pose.turns[j]));
            }
            let shift: Point = std::array::from_fn(|c| change[3 * n + c]);
            pose = Pose { turns, shift_mm: add(pose.shift_mm, shift) };
            settled = largest < STILL && norm(shift) < STILL * 1e3;
            steps += 1;
        }
        let mean = distances.iter().map(|d| d * d).sum::<f64>() / distances.len().max(1) as f64;
        Estimate { pose, rms_mm: mean.sqrt(), median_mm: median(&distances), steps, settled }
    }

    /// From the root outward: the best turn of each joint's own vertices about its centre.
    fn outward(&self, frame: &[Point]) -> Pose {
        let rig = self.rig;
        let mut pose = rig.at_rest();
        for j in 0..rig.joints.len() {
            let motions = rig.motions(&pose);
            let above = rig.parents[j].map(|p| motions[p]);
            // vertices that this joint carries most; the root: the whole body
            let own: Vec<usize> = (0..self.vertices.len())
                .filter(|&i| above.is_none() || rig.skin[self.vertices[i]].first().is_some_and(|p| p.0 == j))
                .collect();
            if own.len() < 4 {
                continue;
            }
            let mean = |points: &mut dyn Iterator<Item = Point>| {
                scale(points.fold([0.0; 3], add), 1.0 / own.len() as f64)
            };
            let turn_above = above.map_or(NONE, |m| m.turn);
            let (from, to) = match above {
                Some(m) => (rig.centres[j], m.apply(rig.centres[j])),
                None => (
                    mean(&mut own.iter().map(|&i| rig.rest[self.vertices[i]])),
                    mean(&mut own.iter().map(|&i| frame[self.vertices[i]])),
                ),
            };
            let mut moment = [[0.0; 3]; 3];
            for &i in &own {
                let v = self.vertices[i];
                let (a, b) = (rotate(turn_above, sub(rig.rest[v], from)), sub(frame[v], to));
                add_outer(&mut moment, 1.0, a, b);
            }
            let world = from_rotation(&best_rotation(&moment).rotation);
            // world o above = above o q
            pose.turns[j] = unit(then(back(turn_above), then(world, turn_above)));
            if above.is_none() {
                let c = rig.centres[j];
                // x -> R (x - c) + c + shift brings `from` to `to`
                let moved = add(rotate(pose.turns[j], sub(from, c)), c);
                pose.shift_mm = sub(to, moved);
            }
        }
        pose
    }
}

fn median(values: &[f64]) -> f64 {
    median_of(&mut values.to_vec()).unwrap_or(0.0)
}

/// The step of the normal equations given by their lower triangle; `None` where they have none.
fn solve(normal: Array2<f64>, rhs: &[f64]) -> Option<Vec<f64>> {
    Cholesky::new(&normal).ok().flatten()?.solve(rhs).ok()
}
