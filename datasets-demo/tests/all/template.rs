//! The demo template: one closed surface, exact mirror pairs, names where they belong.
#![allow(clippy::unwrap_used)] // helpers of tests may panic

use std::collections::BTreeSet;

use formkin_datasets_demo::names::{MID_LANDMARKS, PAIRED_LANDMARKS};
use formkin_datasets_demo::template;
use formkin_geometry::areas::triangle_areas;
use formkin_geometry::vector::distance;

#[test]
fn it_is_one_closed_surface_of_genus_zero_with_the_vertices_asked_for() {
    for vertices in [3_000, 5_001, 12_000, 50_000] {
        let demo = template(vertices, 1).unwrap();
        let mesh = &demo.template().mesh;
        let summary = mesh.topology().summary();
        assert_eq!(summary.vertices, vertices);
        assert!(summary.watertight && summary.manifold && summary.genus == Some(0), "{summary:?}");
        assert_eq!((summary.components, summary.unused_vertices, summary.inconsistent_edges), (1, 0, 0));
        demo.template().validate().unwrap();
        let p = mesh.positions();
        let low = p.iter().map(|p| p[2]).fold(f64::INFINITY, f64::min);
        let high = p.iter().map(|p| p[2]).fold(f64::NEG_INFINITY, f64::max);
        assert!(low.abs() < 0.5 && (high - 1700.0).abs() < 4.0, "{low} {high}");
        // triangles are even and well shaped: 4 sqrt(3) area / (sum of squared sides) is 1 for an equilateral one
        let areas = triangle_areas(mesh.topology(), p);
        let mut shape: Vec<f64> = mesh
            .topology()
            .triangles()
            .iter()
            .zip(&areas)
            .map(|(t, a)| {
                let [x, y, z] = t.map(|v| p[v as usize]);
                let sides = distance(x, y).powi(2) + distance(y, z).powi(2) + distance(z, x).powi(2);
                4.0 * 3f64.sqrt() * a / sides
            })
            .collect();
        shape.sort_by(f64::total_cmp);
        let at = |q: f64| shape[(q * (shape.len() - 1) as f64) as usize];
        assert!(at(0.0) > 0.15 && at(0.01) > 0.6 && at(0.5) > 0.93, "{} {} {}", at(0.0), at(0.01), at(0.5));
    }
}

#[test]
fn mirror_pairs_are_exact() {
    let demo = template(6_000, 1).unwrap();
    let template = demo.template();
    let mirror = template.mirror.as_ref().unwrap();
    let p = template.mesh.positions();
    for (v, &m) in mirror.iter().enumerate() {
        let (a, b) = (p[v], p[m as usize]);
        assert_eq!([-a[0], a[1], a[2]], b);
    }
    let turn = |[a, b, c]: [u32; 3]| {
        let least = a.min(b).min(c);
        if a == least {
            [a, b, c]
        } else if b == least {
            [b, c, a]
        } else {
            [c, a, b]
        }
    };
    let all: BTreeSet<[u32; 3]> = template.mesh.topology().triangles().iter().map(|&t| turn(t)).collect();
    for &[a, b, c] in &all {
        let image = [mirror[a as usize], mirror[c as usize], mirror[b as usize]];
        assert!(all.contains(&turn(image)));
    }
}

#[test]
fn names_are_all_there_and_lie_in_their_regions_at_every_density() {
    for vertices in [3_000, 12_000] {
        let demo = template(vertices, 1).unwrap();
        let t = demo.template();
        let p = t.mesh.positions();
        assert_eq!(t.landmarks.len(), MID_LANDMARKS.len() + 2 * PAIRED_LANDMARKS.len());
        assert_eq!(
            t.landmarks.values().collect::<BTreeSet<_>>().len(),
            t.landmarks.len(),
            "two in one vertex"
        );
        for (landmark, regions) in [
            ("crown", &["head"][..]),
            ("nose_tip", &["head"]),
            ("chin", &["head", "neck"]),
            ("c7", &["torso", "neck"]),
            ("navel", &["torso", "abdomen"]),
            ("sternum", &["torso", "chest"]),
            ("crotch", &["torso", "thigh_left"]),
            ("bust_point_left", &["torso", "chest_soft_left"]),
            ("buttock_right", &["torso", "thigh_right"]),
            ("acromion_left", &["torso", "upper_arm_left"]),
            ("elbow_right", &["upper_arm_right", "forearm_right"]),
            ("wrist_left", &["forearm_left", "hand_left"]),
            ("knuckle_left", &["hand_left"]),
            ("mid_patella_right", &["thigh_right", "shank_right"]),
            ("malleolus_lateral_left", &["foot_left"]),
            ("heel_left", &["foot_left"]),
            ("toe_right", &["foot_right"]),
        ] {
            let v = t.landmarks[landmark];
            assert!(regions.iter().any(|r| t.regions[*r].contains(&v)), "{landmark} at {:?}", p[v as usize]);
        }
        let parts = [
            "head",
            "neck",
            "torso",
            "upper_arm_left",
            "forearm_left",
            "hand_left",
            "thigh_left",
            "shank_left",
            "foot_left",
            "upper_arm_right",
            "forearm_right",
            "hand_right",
            "thigh_right",
            "shank_right",
            "foot_right",
        ];
        let mut covered = vec![0; vertices];
        for part in parts {
            for &v in &t.regions[part] {
                covered[v as usize] += 1;
            }
        }
        assert!(covered.iter().all(|&n| n == 1), "the parts divide the surface");
        for name in ["trunk_frame", "abdomen_soft", "chest_soft_left", "seat_soft_right", "sole_left", "seat"]
        {
            assert!(t.regions[name].len() > 10, "{name}");
        }
        for path in t.paths.values() {
            assert!(path.len() >= 2);
        }
        assert_eq!(t.joints.len(), 21);
        for joint in &t.joints {
            assert!(joint.ring.len() >= 8, "{} has {}", joint.name, joint.ring.len());
        }
    }
}
