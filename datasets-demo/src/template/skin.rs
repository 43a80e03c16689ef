//! Joints of the template (a ring of vertices each) and the skinning weights.

use formkin_geometry::vector::{cross, dot, sub, unit};
use formkin_geometry::{Joint, Point, Skin};

use crate::body::figure::{ELBOW_AT, WRIST_AT};
use crate::body::solid::Solid;
use crate::names::JOINTS;
use crate::template::membership::{Membership, step};

/// Where the left joint of a name is about, the direction across its ring, and which vertices may be on it.
fn ring_place(solid: &Solid, name: &str) -> Option<(Point, Point, Who)> {
    let up = [0.0, 0.0, 1.0];
    let arm = &solid.figure.arm;
    let on_arm = |s: f64| {
        let k = arm.section(s);
        arm.point(k[0], k[1], s)
    };
    let axis = sub(arm.point(0.0, 0.0, 1.0), arm.point(0.0, 0.0, 0.0));
    let toe = sub(solid.figure.foot.point(0.0, 0.0, 1.0), solid.figure.foot.point(0.0, 0.0, 0.0));
    Some(match name {
        "pelvis" => ([0.0, 0.0, 945.0], up, Who::Trunk),
        "spine_lower" => ([0.0, 0.0, 1035.0], up, Who::Trunk),
        "spine_upper" => ([0.0, 5.0, 1165.0], up, Who::Trunk),
        "neck" => ([0.0, 33.0, 1462.0], [0.0, -0.17, 1.0], Who::Trunk),
        "head" => ([0.0, 12.0, 1535.0], [0.0, -0.36, 1.0], Who::Trunk),
        "clavicle" => ([48.0, 15.0, 1390.0], [1.0, 0.0, 0.0], Who::Collar),
        "shoulder" => ([172.0, 10.0, 1330.0], [1.0, 0.0, 0.1], Who::Shoulder),
        "elbow" => (on_arm(ELBOW_AT), axis, Who::Arm),
        "wrist" => (on_arm(WRIST_AT), axis, Who::Arm),
        "hip" => ([92.0, 5.0, 867.0], [-0.58, 0.0, 0.81], Who::Thigh),
        "knee" => ([100.0, 0.0, 471.0], up, Who::Leg),
        "ankle" => ([98.0, 26.0, 84.0], up, Who::Leg),
        "toe" => (solid.figure.foot.point(0.0, 18.0, 135.0), toe, Who::Leg),
        _ => return None,
    })
}

#[derive(Clone, Copy)]
enum Who {
    Trunk,
    Collar,
    Shoulder,
    Arm,
    Thigh,
    Leg,
}

impl Who {
    fn allows(self, p: Point, arm: f64, leg: f64) -> bool {
        match self {
            Self::Trunk => arm < 0.2 && leg < 0.9,
            Self::Collar => p[0] > 0.0 && p[2] > 1335.0 && arm < 0.3,
            Self::Shoulder => p[0] > 0.0 && p[2] > 1240.0 && p[2] < 1440.0,
            Self::Arm => p[0] > 0.0 && arm > 0.6,
            Self::Thigh => p[0] >= 0.0 && p[2] > 760.0 && arm < 0.2,
            Self::Leg => p[0] > 0.0 && leg > 0.6,
        }
    }
}

/// The joints; each ring has up to 16 vertices around its joint.
pub(crate) fn joints(
    solid: &Solid,
    positions: &[Point],
    mirror: &[u32],
    membership: &Membership,
    edge: f64,
) -> Vec<Joint> {
    JOINTS
        .iter()
        .map(|&(name, parent)| {
            let bare = name.trim_end_matches("_left").trim_end_matches("_right");
            let mut ring = ring_place(solid, bare)
                .map(|(centre, across, who)| {
                    let around = Around { centre, across, who, half: bare == name };
                    ring(solid, positions, membership, &around, edge)
                })
                .unwrap_or_default();
            if bare == name {
                // a joint of the middle: the left half of the ring and its mirror image
                ring = ring.into_iter().flat_map(|v| [v, mirror[v as usize]]).collect();
            } else if name.ends_with("_right") {
                ring = ring.into_iter().map(|v| mirror[v as usize]).collect();
            }
            ring.sort_unstable();
            ring.dedup();
            Joint { name: name.to_owned(), parent: parent.map(str::to_owned), ring }
        })
        .collect()
}

/// Where a ring lies, and which vertices may be on it.
struct Around {
    centre: Point,
    across: Point,
    who: Who,
    /// Of a joint of the middle: the left half, whose mirror image completes it.
    half: bool,
}

/// Up to 16 vertices around a joint, one a sector. They are chosen among those near its plane so that their mean is that of the points where
/// rays from its middle leave the body: the joint lies at the same place at every density.
fn ring(solid: &Solid, positions: &[Point], membership: &Membership, around: &Around, edge: f64) -> Vec<u32> {
    const SECTORS: usize = 16;
    let Around { centre, across, who, half } = *around;
    let w = unit(across).unwrap_or([0.0, 0.0, 1.0]);
    let helper = if w[1].abs() < 0.9 { [0.0, 1.0, 0.0] } else { [1.0, 0.0, 0.0] };
    let u = unit(cross(helper, w)).unwrap_or([1.0, 0.0, 0.0]);
    let v = cross(w, u);
    let mut near: [Vec<(f64, u32)>; SECTORS] = Default::default();
    for (i, &p) in positions.iter().enumerate() {
        let q = sub(p, centre);
        let off = dot(q, w).abs();
        if off > 1.2 * edge || !who.allows(p, membership.arm[i], membership.leg[i]) || half && p[0] < 0.0 {
            continue;
        }
        let angle = dot(q, v).atan2(dot(q, u)) / std::f64::consts::TAU + 1.0;
        near[(angle * SECTORS as f64) as usize % SECTORS].push((off, i as u32));
    }
    let mut leaving = Vec::new();
    for (sector, near) in near.iter_mut().enumerate() {
        near.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
        let (s, c) = ((sector as f64 + 0.5) / SECTORS as f64 * std::f64::consts::TAU).sin_cos();
        let ray: Point = std::array::from_fn(|k| c * u[k] + s * v[k]);
        if near.is_empty() || half && ray[0] < 0.0 {
            continue;
        }
        leaving.extend(leave(solid, centre, ray));
    }
    let wanted = mean(leaving.iter().copied(), half);
    let off = |ring: &[u32]| -> f64 {
        let [x, y, z] = sub(mean(ring.iter().map(|&v| positions[v as usize]), half), wanted);
        if half { y * y + z * z } else { x * x + y * y + z * z }
    };
    let sectors: Vec<&Vec<(f64, u32)>> = near.iter().filter(|n| !n.is_empty()).collect();
    let mut ring: Vec<u32> = sectors.iter().map(|n| n[0].1).collect();
    if leaving.is_empty() {
        return ring;
    }
    for _ in 0..8 {
        let before = off(&ring);
        let mut best = before;
        for (k, sector) in sectors.iter().enumerate() {
            for &(_, candidate) in *sector {
                let kept = std::mem::replace(&mut ring[k], candidate);
                let now = off(&ring);
                if now < best { best = now } else { ring[k] = kept }
            }
        }
        if best >= before {
            break;
        }
    }
    ring
}

/// The mean of points; of a half, those of the mid-plane have no image and count half.
fn mean(points: impl Iterator<Item = Point>, half: bool) -> Point {
    let (mut sum, mut total) = ([0.0; 3], 0.0);
    for p in points {
        let weight = if half && p[0] == 0.0 { 0.5 } else { 1.0 };
        total += weight;
        (0..3).for_each(|k| sum[k] += weight * p[k]);
    }
    sum.map(|s: f64| s / total)
}

/// Where a ray from a point inside leaves the body.
fn leave(solid: &Solid, from: Point, ray: Point) -> Option<Point> {
    let at = |s: f64| -> Point { std::array::from_fn(|k| from[k] + s * ray[k]) };
    let inside = |s: f64| solid.distance(at(s)) < 0.0;
    let outside = (1..100).map(|i| 3.0 * f64::from(i)).find(|&s| !inside(s))?;
    let (mut low, mut high) = (outside - 3.0, outside);
    for _ in 0..12 {
        let middle = 0.5 * (low + high);
        if inside(middle) { low = middle } else { high = middle }
    }
    Some(at(low))
}

/// 0 below 0, 1 above 1, with the least steepness between that is still smooth.
fn ease(x: f64) -> f64 {
    let t = x.clamp(0.0, 1.0);
    t * t * (3.0 - 2.0 * t)
}

/// One row a vertex, one column a joint; rows sum to 1 within rounding.
pub(crate) fn skin(solid: &Solid, positions: &[Point], membership: &Membership) -> Skin {
    let column = |name: &str| JOINTS.iter().position(|j| j.0 == name).unwrap_or(0);
    let n = JOINTS.len();
    let mut weights = vec![0f32; positions.len() * n];
    for (v, row) in weights.chunks_mut(n).enumerate() {
        let right = positions[v][0] < 0.0;
        let p = [positions[v][0].abs(), positions[v][1], positions[v][2]];
        let side = if right { "right" } else { "left" };
        let own = |name: &str| column(&format!("{name}_{side}"));
        let mut exact = vec![0.0; n];
        let (arm, leg) = (membership.arm[v], membership.leg[v]);
        // arm: upper arm, forearm, hand
        let s = solid.figure.arm.coordinates(p)[2];
        let (elbow, wrist) = (ease((s - ELBOW_AT + 74.0) / 148.0), ease((s - WRIST_AT + 28.0) / 56.0));
        exact[own("shoulder")] += arm * (1.0 - elbow);
        exact[own("elbow")] += arm * elbow * (1.0 - wrist);
        exact[own("wrist")] += arm * elbow * wrist;
        // leg: thigh, shank, foot, toes
        // the hollow of the knee needs a longer way than its front
        let reach = 76.0 + 26.0 * step((p[1] + 30.0) / 80.0);
        let knee = ease((471.0 - p[2] + reach) / (2.0 * reach));
        let ankle = ease((92.0 - p[2] + 42.0) / 84.0);
        let toe = step((solid.figure.foot.coordinates(p)[2] - 118.0) / 40.0);
        let left = membership.left_leg[v];
        for (side, leg) in [("left", left), ("right", leg - left)] {
            let at = |name: &str| column(&format!("{name}_{side}"));
            exact[at("hip")] += leg * (1.0 - knee);
            exact[at("knee")] += leg * knee * (1.0 - ankle);
            exact[at("ankle")] += leg * knee * ankle * (1.0 - toe);
            exact[at("toe")] += leg * knee * ankle * toe;
        }
        // trunk: pelvis, spine, neck, head; the collar takes the top of the shoulder
        let rest = (1.0 - arm - leg).max(0.0);
        let lower = step((p[2] - 985.0 + 70.0) / 140.0);
        let upper = step((p[2] - 1110.0 + 80.0) / 160.0);
        let neck = step((p[2] - 1455.0 - 0.17 * (p[1] - 30.0) + 30.0) / 60.0);
        let head = membership.head[v];
        let collar = step((p[0] - 45.0) / 95.0) * step((p[2] - 1290.0) / 90.0) * (1.0 - neck);
        exact[column("pelvis")] += rest * (1.0 - lower);
        exact[column("spine_lower")] += rest * lower * (1.0 - upper);
        exact[column("spine_upper")] += rest * lower * upper * (1.0 - neck) * (1.0 - collar);
        exact[own("clavicle")] += rest * lower * upper * (1.0 - neck) * collar;
        exact[column("neck")] += rest * lower * upper * neck * (1.0 - head);
        exact[column("head")] += rest * lower * upper * neck * head;
        let total: f64 = exact.iter().sum();
        for (w, e) in row.iter_mut().zip(&exact) {
            *w = (e.max(0.0) / total) as f32;
        }
    }
    Skin { weights }
}
