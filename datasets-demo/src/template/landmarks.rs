//! Landmarks of the template: a place each, then the vertex nearest to where it meets the skin.

use std::collections::BTreeMap;

use formkin_geometry::vector::distance;
use formkin_geometry::{Point, Topology};

use crate::body::figure::{ELBOW_AT, SHOULDER, WRIST_AT};
use crate::body::solid::Solid;
use crate::template::membership::Membership;

/// Where the landmark of the mid-plane is looked for.
fn mid_place(name: &str) -> Option<Point> {
    let (y, z) = match name {
        "crown" => (5.0, 1700.0),
        "glabella" => (-104.0, 1606.0),
        "nose_tip" => (-123.0, 1552.0),
        "chin" => (-86.0, 1480.0),
        "head_back" => (92.0, 1615.0),
        "larynx" => (-38.0, 1468.0),
        "neck_front" => (-42.0, 1436.0),
        "c7" => (95.0, 1463.0),
        "sternum" => (-115.0, 1235.0),
        "underbust_front" => (-110.0, 1176.0),
        "chest_back" => (125.0, 1235.0),
        "navel" => (-113.0, 1023.0),
        "waist_front" => (-107.0, 1056.0),
        "waist_back" => (90.0, 1056.0),
        "abdomen_front" => (-113.0, 975.0),
        "hip_front" => (-99.0, 872.0),
        "hip_back" => (106.0, 872.0),
        "sacrum" => (96.0, 1005.0),
        "crotch" => (12.0, 800.0),
        _ => return None,
    };
    Some([0.0, y, z])
}

/// Where the left landmark of a pair is looked for.
fn left_place(solid: &Solid, name: &str) -> Option<Point> {
    let arm = |u: f64, v: f64, s: f64| {
        let k = solid.figure.arm.section(s);
        let radius = |x: f64, plus: f64, minus: f64| if x > 0.0 { x * plus } else { x * minus };
        solid.figure.arm.point(k[0] + radius(u, k[2], k[3]), k[1] + radius(v, k[4], k[5]), s)
    };
    let foot = |u: f64, v: f64, s: f64| solid.figure.foot.point(u, v, s);
    Some(match name {
        "tragion" => [74.0, -2.0, 1572.0],
        "eye" => [33.0, -94.0, 1587.0],
        "neck_side" => [62.0, 36.0, 1474.0],
        "acromion" => [SHOULDER[0] + 19.0, 18.0, 1400.0],
        "deltoid" => arm(1.0, 0.0, 60.0),
        "axilla_front" => [152.0, -62.0, 1278.0],
        "axilla_back" => [156.0, 86.0, 1278.0],
        "bust_point" => [80.0, -122.0, 1235.0],
        "rib_lowest" => [146.0, 0.0, 1096.0],
        "waist_side" => [145.0, -4.0, 1056.0],
        "iliac_crest" => [158.0, -4.0, 1005.0],
        "iliac_spine" => [118.0, -90.0, 962.0],
        "trochanter" => [174.0, 8.0, 850.0],
        "buttock" => [72.0, 130.0, 872.0],
        "gluteal_fold" => [92.0, 104.0, 790.0],
        "thigh_front" => [98.0, -96.0, 668.0],
        "mid_patella" => [100.0, -64.0, 471.0],
        "knee_back" => [100.0, 56.0, 471.0],
        "knee_lateral" => [154.0, 0.0, 471.0],
        "knee_medial" => [45.0, 0.0, 471.0],
        "calf_back" => [101.0, 86.0, 345.0],
        "malleolus_lateral" => [137.0, 30.0, 70.0],
        "malleolus_medial" => [59.0, 22.0, 81.0],
        "heel" => foot(0.0, 22.0, -57.0),
        "toe" => foot(-10.0, 12.0, 211.0),
        "ball_medial" => foot(-45.0, 12.0, 146.0),
        "ball_lateral" => foot(48.0, 12.0, 140.0),
        "biceps" => arm(0.0, -1.0, 160.0),
        "elbow" => arm(0.0, 1.1, ELBOW_AT),
        "elbow_lateral" => arm(1.0, 0.0, ELBOW_AT),
        "forearm" => arm(1.0, 0.0, 350.0),
        "wrist" => arm(0.0, -1.0, WRIST_AT),
        "wrist_ulnar" => arm(0.0, 1.0, WRIST_AT),
        "knuckle" => arm(1.0, -0.1, 614.0),
        _ => return None,
    })
}

/// The vertex of every landmark, and the places on the skin of those of the mid-plane and the left side, by their vertices.
pub(crate) fn landmarks(
    solid: &Solid,
    topology: &Topology,
    positions: &[Point],
    mirror: &[u32],
    membership: &Membership,
) -> (BTreeMap<String, u32>, BTreeMap<u32, Point>) {
    let mut found = BTreeMap::new();
    let mut places = BTreeMap::new();
    let nearest = |to: Point, of: &dyn Fn(usize) -> bool| -> Option<u32> {
        (0..positions.len())
            .filter(|&v| of(v))
            .min_by(|&a, &b| distance(positions[a], to).total_cmp(&distance(positions[b], to)))
            .map(|v| v as u32)
    };
    for (name, _) in crate::names::MID_LANDMARKS {
        if let Some(place) = mid_place(name) {
            let place = solid.project(place, 6);
            if let Some(v) = nearest(place, &|v| mirror[v] as usize == v) {
                found.insert((*name).to_owned(), v);
                places.insert(v, place);
            }
        }
    }
    for (name, _) in crate::names::PAIRED_LANDMARKS {
        if let Some(place) = left_place(solid, name) {
            let place = solid.project(place, 6);
            let limb =
                ["deltoid", "biceps", "elbow", "elbow_lateral", "forearm", "wrist", "wrist_ulnar", "knuckle"];
            let trunk = ["axilla_front", "axilla_back", "trochanter", "iliac_crest", "bust_point"];
            let of = |v: usize| {
                positions[v][0] > 0.0
                    && (!limb.contains(name) || membership.arm[v] > 0.5)
                    && (!trunk.contains(name) || membership.arm[v] < 0.6)
            };
            if let Some(v) = nearest(place, &of) {
                found.insert(format!("{name}_left"), v);
                places.insert(v, place);
                found.insert(format!("{name}_right"), mirror[v as usize]);
            }
        }
    }
    // the highest vertex is the crown, whatever the density
    let highest = (0..positions.len())
        .filter(|&v| mirror[v] as usize == v)
        .max_by(|&a, &b| positions[a][2].total_cmp(&positions[b][2]));
    if let Some(v) = highest {
        found.insert("crown".to_owned(), v as u32);
    }
    debug_assert!(topology.vertices() == positions.len());
    (found, places)
}
