//! Surface strain against the closed forms of simple shear.

use formkin_motion::strain::StrainReference;
use formkin_tests::bodies::{tube, tube_positions};

/// A wall of a tall, wide tube is not plane, so the shear is done in 3-D on the plane of a cap: x' = x + g y.
fn shear(g: f64) -> Vec<[f64; 2]> {
    let (rings, around) = (2, 24);
    let topology = tube(rings, around).unwrap();
    let pose = tube_positions(rings, around, 100.0, |_| [300.0, 200.0]);
    let (s, c) = 0.4f64.sin_cos();
    // Sheared, then turned in space and moved: a rigid motion must make no difference.
    let frame: Vec<_> = pose
        .iter()
        .map(|&[x, y, z]| [x + g * y, y, z])
        .map(|[x, y, z]| [c * x - s * z + 40.0, y - 7.0, s * x + c * z + 900.0])
        .collect();
    let strain = StrainReference::new(&topology, &pose).unwrap().strain(&frame).unwrap();
    let caps = topology.triangles().iter().zip(&strain);
    let flat = caps.filter(|(t, _)| t.iter().all(|&v| (pose[v as usize][2] - 100.0).abs() < 1e-9));
    flat.map(|(_, s)| s.stretches).collect()
}

#[test]
fn simple_shear_has_its_stretches() {
    // sqrt(1 + g^2 / 4) +- g / 2 (closed form).
    for (g, larger, smaller) in
        [(1.0, 1.618_034, 0.618_034), (0.5, 1.280_776, 0.780_776), (2.0, 2.414_214, 0.414_214)]
    {
        let found = shear(g);
        assert_eq!(found.len(), 24);
        for [l1, l2] in found {
            assert!((l1 - larger).abs() < 1e-6 && (l2 - smaller).abs() < 1e-6, "g = {g}: {l1} {l2}");
            assert!((l1 * l2 - 1.0).abs() < 1e-9, "shear keeps areas");
        }
    }
}

#[test]
fn rigid_motion_is_no_strain() {
    for [l1, l2] in shear(0.0) {
        assert!((l1 - 1.0).abs() < 1e-9 && (l2 - 1.0).abs() < 1e-9);
    }
}
