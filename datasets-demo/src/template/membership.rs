//! How much each vertex belongs to an arm, to a leg and to the head: 1 inside, 0 outside, smooth between, along the surface.

use formkin_geometry::{Point, Topology};

use crate::body::solid::{Part, Solid};

/// Memberships of every vertex; `arm` is that of its own side, `leg` that of both legs together.
#[derive(Debug, Clone)]
pub(crate) struct Membership {
    pub(crate) arm: Vec<f64>,
    pub(crate) leg: Vec<f64>,
    /// The part of `leg` that is the left leg's; the rest is the right leg's.
    pub(crate) left_leg: Vec<f64>,
    pub(crate) head: Vec<f64>,
    pub(crate) foot: Vec<f64>,
    /// Hard parts, before smoothing.
    pub(crate) is_arm: Vec<bool>,
    pub(crate) is_leg: Vec<bool>,
}

/// How far memberships spread along the surface, mm: wide enough that no skin folds over in the movements.
const ARM_SPREAD_MM: f64 = 50.0;
const LEG_SPREAD_MM: f64 = 74.0;

/// 0 below 0, 1 above 1, smooth between (twice differentiable).
pub(crate) fn step(x: f64) -> f64 {
    let t = x.clamp(0.0, 1.0);
    t * t * t * (t * (6.0 * t - 15.0) + 10.0)
}

/// Height of a point over the plane through the groin and the fold of the buttock, on its own side: negative on the leg.
pub(crate) fn over_groin(p: Point) -> f64 {
    let front = step((70.0 - p[1]) / 140.0);
    p[2] - (800.0 + p[0].abs() * (0.30 + 0.42 * front))
}

/// Height of a point over the plane from below the chin to the nape.
pub(crate) fn over_chin(p: Point) -> f64 {
    p[2] - (1480.0 + (p[1] + 90.0) * 0.36)
}

impl Membership {
    pub(crate) fn new(solid: &Solid, topology: &Topology, positions: &[Point], mirror: &[u32]) -> Self {
        let n = positions.len();
        let mut is_arm = vec![false; n];
        let mut is_leg = vec![false; n];
        for v in 0..n {
            let p = positions[v];
            if p[0] < 0.0 {
                continue;
            }
            let along = solid.figure.arm.coordinates(p);
            // the arm begins at the vertical plane through shoulder and armpit
            is_arm[v] = along[2] > 120.0 && solid.part(p) == Part::Arm
                || p[2] > 1180.0
                    && p[0] > 168.0 + 0.10 * (1340.0 - p[2])
                    && solid.part(p) != Part::Leg
                    && along[2] < 200.0
                    && (along[2] < 95.0 || solid.part(p) == Part::Arm);
            is_leg[v] = over_groin(p) < 0.0 && !is_arm[v];
        }
        for v in 0..n {
            if positions[v][0] < 0.0 {
                is_arm[v] = is_arm[mirror[v] as usize];
                is_leg[v] = is_leg[mirror[v] as usize];
            }
        }
        let neighbours = topology.neighbours();
        let edge = mean_edge(positions, &neighbours);
        let diffuse = |hard: &[bool], spread: f64| -> Vec<f64> {
            // one averaging over self and neighbours spreads by about 0.7 edges
            let rounds = (2.0 * (spread / edge).powi(2)).ceil().max(3.0) as usize;
            let mut now: Vec<f64> = hard.iter().map(|&h| f64::from(u8::from(h))).collect();
            for _ in 0..rounds {
                now = neighbours
                    .iter()
                    .zip(&now)
                    .map(|(ring, own)| {
                        let sum: f64 = ring.iter().map(|&w| now[w as usize]).sum();
                        0.5 * own + 0.5 * sum / ring.len().max(1) as f64
                    })
                    .collect();
            }
            // the far tails to exactly 0 and 1
            now.into_iter().map(|x| ((x - 0.01) / 0.98).clamp(0.0, 1.0)).collect()
        };
        let mut arm = diffuse(&is_arm, ARM_SPREAD_MM);
        // the left leg alone, so that the two legs part smoothly in the middle
        let is_left: Vec<bool> = (0..n).map(|v| is_leg[v] && positions[v][0] > 0.0).collect();
        let mut left = diffuse(&is_left, LEG_SPREAD_MM);
        for v in 0..n {
            let m = mirror[v] as usize;
            if m < v {
                arm[v] = arm[m];
            }
        }
        for (v, l) in left.iter_mut().enumerate() {
            *l = l.min(1.0 - arm[v]);
        }
        let mut leg = vec![0.0; n];
        for v in 0..n {
            let both = left[v] + left[mirror[v] as usize];
            leg[v] = both.min(1.0 - arm[v]);
            if both > leg[v] {
                left[v] *= leg[v] / both;
            }
        }
        let head = positions
            .iter()
            .map(|&p| {
                if p[2] < 1440.0 { 0.0 } else { step((p[2] - (1466.0 + (p[1] + 90.0) * 0.55) + 20.0) / 40.0) }
            })
            .collect();
        let foot =
            positions.iter().map(|&p| if p[2] < 130.0 { step((118.0 - p[2]) / 62.0) } else { 0.0 }).collect();
        let mut all = Self { arm, leg, left_leg: left, head, foot, is_arm, is_leg };
        // exact mirror pairs
        for v in 0..n {
            let m = mirror[v] as usize;
            if m < v {
                for field in [&mut all.leg, &mut all.head, &mut all.foot] {
                    field[v] = field[m];
                }
            }
        }
        all
    }
}

/// The mean length of an edge over the body, in mm.
pub(crate) fn mean_edge(positions: &[Point], neighbours: &[Vec<u32>]) -> f64 {
    let mut sum = 0.0;
    let mut count = 0usize;
    for (v, ring) in neighbours.iter().enumerate() {
        for &w in ring {
            sum += formkin_geometry::vector::distance(positions[v], positions[w as usize]);
            count += 1;
        }
    }
    sum / count.max(1) as f64
}
