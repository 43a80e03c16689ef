//! Sections and lengths against closed forms.

use std::f64::consts::PI;

use formkin_geometry::hull::hull_perimeter;
use formkin_geometry::path::polyline_length;
use formkin_geometry::section::{Plane, section};
use formkin_geometry::{areas, path};
use formkin_tests::bodies::{tube, tube_positions};

/// The perimeter of the section of an elliptic cylinder, as contour and as taut tape.
fn perimeter(half: [f64; 2], around: u32) -> (f64, f64) {
    let topology = tube(6, around).unwrap();
    let positions = tube_positions(6, around, 1000.0, |_| half);
    let plane = Plane::horizontal(431.0);
    let loops = section(&topology, &positions, &plane);
    assert_eq!(loops.len(), 1);
    assert!(loops[0].closed);
    (loops[0].length(), hull_perimeter(&loops[0].points, plane.normal))
}

#[test]
fn ellipses_have_their_perimeters() {
    // C: complete elliptic integral. Semi-axes 2:1 and 10:1, here in units of 100 and 20 mm.
    for (half, exact) in [
        ([200.0, 100.0], 968.844_822_054_8),
        ([200.0, 20.0], 20.0 * 40.639_741_801),
        ([150.0, 150.0], 300.0 * PI),
    ] {
        let (contour, tape) = perimeter(half, 4000);
        assert!((contour / exact - 1.0).abs() < 2e-6, "{contour} against {exact}");
        assert!((tape / exact - 1.0).abs() < 2e-6, "{tape} against {exact}");
        assert!(tape <= contour * (1.0 + 1e-12));
        // An inscribed polygon converges with the square of its sides.
        let error = |n| 1.0 - perimeter(half, n).0 / exact;
        let order = (error(250) / error(500)).log2();
        assert!((order - 2.0).abs() < 0.1, "order {order}");
    }
}

#[test]
fn a_cylinder_of_150_mm_is_942_48_mm_around_however_it_is_turned() {
    let topology = tube(6, 2000).unwrap();
    let upright = tube_positions(6, 2000, 1000.0, |_| [150.0; 2]);
    let (s, c) = 0.7f64.sin_cos();
    let turned: Vec<_> = upright.iter().map(|&[x, y, z]| [x, c * y - s * z, s * y + c * z]).collect();
    let plane = Plane::new([0.0, -s * 500.0, c * 500.0], [0.0, -s, c]).unwrap();
    let loops = section(&topology, &turned, &plane);
    assert_eq!(loops.len(), 1);
    assert!((loops[0].length() - 942.48).abs() < 0.01, "{}", loops[0].length());
}

#[test]
fn a_peanut_has_a_hull_shorter_than_its_contour() {
    // r = 100 + 60 cos 2a: concave on two sides, so the tape bridges them.
    let n = 720;
    let points: Vec<[f64; 3]> = (0..n)
        .map(|i| {
            let a = 2.0 * PI * f64::from(i) / f64::from(n);
            let r = 100.0 + 60.0 * (2.0 * a).cos();
            [r * a.cos(), r * a.sin(), 0.0]
        })
        .collect();
    let mut ring = points.clone();
    ring.push(points[0]);
    let (contour, tape) = (polyline_length(&ring), hull_perimeter(&points, [0.0, 0.0, 1.0]));
    assert!(contour / tape > 1.03, "{contour} against {tape}");
}

#[test]
fn area_and_volume_of_an_elliptic_cylinder() {
    let (topology, positions) = (tube(3, 4000).unwrap(), tube_positions(3, 4000, 1000.0, |_| [200.0, 100.0]));
    let volume = areas::volume(&topology, &positions);
    assert!((volume / (PI * 200.0 * 100.0 * 1000.0) - 1.0).abs() < 1e-6, "{volume}");
    let area = areas::area(&topology, &positions);
    let exact = 968.844_822_054_8 * 1000.0 + 2.0 * PI * 200.0 * 100.0;
    assert!((area / exact - 1.0).abs() < 2e-6, "{area} against {exact}");
}

#[test]
fn the_way_over_a_cylinder_is_a_helix_and_the_way_along_edges_is_longer() {
    // Against the diagonals of the mesh. Unrolled, the way from (0, 0) to a quarter turn and 600 mm up is a straight line.
    let (rings, around) = (61, 240);
    let topology = tube(rings, around).unwrap();
    let positions = tube_positions(rings, around, 600.0, |_| [150.0; 2]);
    let (from, to) = (0, (rings - 1) * around + around * 3 / 4);
    let exact = (150.0 * PI / 2.0).hypot(600.0);
    let surface = polyline_length(&path::surface_path(&topology, &positions, &[from, to]).unwrap());
    assert!((surface / exact - 1.0).abs() < 2e-3, "{surface} against {exact}");
    let row = path::edge_path(&topology, &positions, from, to).unwrap();
    let edges: Vec<_> = row.iter().map(|&v| positions[v as usize]).collect();
    assert!(polyline_length(&edges) > surface * 1.02);
}
