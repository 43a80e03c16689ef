//! Regions of the template, and how soft the tissue of each vertex is.

use std::collections::BTreeMap;

use formkin_geometry::Point;

use crate::body::figure::{ELBOW_AT, WRIST_AT};
use crate::body::loft::bell;
use crate::body::solid::Solid;
use crate::template::membership::{Membership, over_chin, step};

/// Height over the neck base: the tilted plane from the notch to the seventh vertebra, higher at the sides.
fn over_neck_base(p: Point) -> f64 {
    p[2] - (1440.0 + (p[1] + 40.0) * 0.17 + 26.0 * (p[0] / 62.0).powi(2).min(4.0))
}

/// The vertices of every region, ascending.
pub(crate) fn regions(
    solid: &Solid,
    positions: &[Point],
    mirror: &[u32],
    membership: &Membership,
    soft: &Soft,
) -> BTreeMap<String, Vec<u32>> {
    let mut regions: BTreeMap<String, Vec<u32>> = BTreeMap::new();
    for v in 0..positions.len() {
        // decided on the left, so that mirror pairs are in mirrored regions
        let p = [positions[v][0].abs(), positions[v][1], positions[v][2]];
        let side = if positions[v][0] < 0.0 || (positions[v][0] == 0.0 && mirror[v] as usize != v) {
            "right"
        } else {
            "left"
        };
        let mut put = |name: &str, paired: bool| {
            let name = if paired { format!("{name}_{side}") } else { name.to_owned() };
            regions.entry(name).or_default().push(v as u32);
        };
        if membership.is_arm[v] {
            let along = solid.figure.arm.coordinates(p)[2];
            let name = if along < ELBOW_AT {
                "upper_arm"
            } else if along < WRIST_AT + 8.0 {
                "forearm"
            } else {
                "hand"
            };
            put(name, true);
        } else if membership.is_leg[v] {
            let name = if p[2] > 471.0 {
                "thigh"
            } else if p[2] > 88.0 {
                "shank"
            } else {
                "foot"
            };
            put(name, true);
            if p[2] < 1.0 {
                put("sole", true);
            }
        } else if over_chin(p) > 0.0 && p[2] > 1440.0 {
            put("head", false);
        } else if over_neck_base(p) > 0.0 {
            put("neck", false);
        } else {
            put("torso", false);
            if p[2] > 1172.0 && p[1] < 30.0 {
                put("chest", false);
            }
            if p[2] <= 1172.0 && p[1] < 0.0 {
                put("abdomen", false);
            }
            if p[2] > 1056.0 && p[1] >= 30.0 {
                put("back", false);
            }
            if p[2] <= 1056.0 && p[1] >= 0.0 {
                put("seat", false);
            }
            let upper = p[2] > 1130.0 && p[2] < 1425.0;
            if upper && soft.chest[v] < 0.08 && soft.belly[v] < 0.05 && membership.arm[v] < 0.05 {
                put("trunk_frame", false);
            }
        }
        if soft.belly[v] > 0.3 {
            put("abdomen_soft", false);
        }
        if soft.chest[v] > 0.3 && p[0] > 8.0 {
            put("chest_soft", true);
        }
        if soft.seat[v] > 0.3 && p[0] > 8.0 {
            put("seat_soft", true);
        }
    }
    regions
}

/// How much of the soft tissue's swing each vertex takes, 0 to 1.
#[derive(Debug, Clone)]
pub(crate) struct Soft {
    pub(crate) chest: Vec<f64>,
    pub(crate) belly: Vec<f64>,
    pub(crate) seat: Vec<f64>,
    /// The trunk from the seat to the chest, which widens as it bends and braces.
    pub(crate) trunk: Vec<f64>,
}

impl Soft {
    pub(crate) fn new(positions: &[Point], membership: &Membership) -> Self {
        let field = |centre: Point, spread: Point| -> Vec<f64> {
            positions
                .iter()
                .enumerate()
                .map(|(v, p)| {
                    let q = [p[0].abs(), p[1], p[2]];
                    // bells fade to exactly nothing, and leave the arms alone
                    let b = (bell(q, centre, spread) - 0.03).max(0.0) / 0.97;
                    b * (1.0 - membership.arm[v])
                })
                .collect()
        };
        Self {
            chest: field([80.0, -118.0, 1232.0], [46.0, 55.0, 44.0]),
            belly: field([0.0, -115.0, 990.0], [95.0, 62.0, 80.0]),
            seat: field([78.0, 125.0, 865.0], [60.0, 62.0, 66.0]),
            trunk: positions
                .iter()
                .zip(&membership.arm)
                .map(|(p, arm)| step((p[2] - 760.0) / 130.0) * step((1400.0 - p[2]) / 150.0) * (1.0 - arm))
                .collect(),
        }
    }
}
