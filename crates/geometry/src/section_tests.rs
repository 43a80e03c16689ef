use super::*;
use crate::hull::hull_perimeter;

/// A tube along z: rings of `around` points, radius by height and angle, capped.
pub(crate) fn tube(
    rings: usize,
    around: usize,
    height: f64,
    radius: impl Fn(f64, f64) -> [f64; 2],
) -> (Topology, Vec<Point>) {
    let mut p = Vec::new();
    let mut t = Vec::new();
    for r in 0..rings {
        let z = height * r as f64 / (rings - 1) as f64;
        for a in 0..around {
            let [x, y] = radius(z, std::f64::consts::TAU * a as f64 / around as f64);
            p.push([x, y, z]);
        }
    }
    let id = |r: usize, a: usize| (r * around + a % around) as u32;
    for r in 0..rings - 1 {
        for a in 0..around {
            t.push([id(r, a), id(r, a + 1), id(r + 1, a + 1)]);
            t.push([id(r, a), id(r + 1, a + 1), id(r + 1, a)]);
        }
    }
    let (low, high) = (p.len() as u32, p.len() as u32 + 1);
    p.push([0.0; 3]);
    p.push([0.0, 0.0, height]);
    for a in 0..around {
        t.push([low, id(0, a + 1), id(0, a)]);
        t.push([high, id(rings - 1, a), id(rings - 1, a + 1)]);
    }
    (Topology::new(p.len(), t).unwrap(), p)
}

fn ellipse(a: f64, b: f64) -> impl Fn(f64, f64) -> [f64; 2] {
    move |_, w| [a * w.cos(), b * w.sin()]
}

/// An icosphere would do as well: rings from pole to pole.
pub(crate) fn sphere(r: f64, n: usize) -> (Topology, Vec<Point>) {
    let (t, mut p) = tube(n + 1, 2 * n, 1.0, |_, w| [w.cos(), w.sin()]);
    let last = p.len();
    for q in p.iter_mut().take(last - 2) {
        let polar = std::f64::consts::PI * (0.5 + q[2] * n as f64) / (n as f64 + 1.0);
        *q = [r * polar.sin() * q[0], r * polar.sin() * q[1], -r * polar.cos()];
    }
    p[last - 2] = [0.0, 0.0, -r];
    p[last - 1] = [0.0, 0.0, r];
    (t, p)
}

#[test]
fn a_cylinder_has_the_girth_of_a_circle() {
    let (t, p) = tube(11, 4096, 500.0, ellipse(150.0, 150.0));
    assert!(t.summary().watertight);
    for height in [123.0, 250.0] {
        // the second runs through a ring of vertices
        let plane = Plane::horizontal(height);
        let loops = section(&t, &p, &plane);
        assert_eq!((loops.len(), loops[0].closed), (1, true));
        assert!((loops[0].length() - 942.477_796).abs() < 1e-3, "{}", loops[0].length());
        assert!((hull_perimeter(&loops[0].points, plane.normal) - 942.477_796).abs() < 1e-3);
        let area = loops[0].area(plane.normal);
        assert!((area - std::f64::consts::PI * 22_500.0).abs() < 0.1, "{area}");
        assert!(norm(sub(loops[0].centroid(), [0.0, 0.0, height])) < 1e-9);
        assert!(loops[0].surrounds([0.0, 0.0, height], plane.normal));
        assert!(!loops[0].surrounds([151.0, 3.0, height], plane.normal));
    }
}

#[test]
fn ellipses_have_their_published_perimeters() {
    // 4 a E(1 - b^2/a^2): the complete elliptic integral of the second kind
    for (a, b, expected) in [(2.0, 1.0, 9.688_448_220_548), (10.0, 1.0, 40.639_741_801)] {
        let (t, p) = tube(2, 8192, 1.0, ellipse(a, b));
        let length = section(&t, &p, &Plane::horizontal(0.4))[0].length();
        assert!((length / expected - 1.0).abs() < 1e-6, "{length}");
    }
}

#[test]
fn great_circles_of_a_sphere_agree_in_every_direction() {
    let (t, p) = sphere(100.0, 200);
    for direction in [[0.0, 0.0, 1.0], [1.0, 0.0, 0.0], [1.0, 2.0, -0.7]] {
        let plane = Plane::new([0.0; 3], direction).unwrap();
        let loops = section(&t, &p, &plane);
        assert_eq!(loops.len(), 1);
        assert!((loops[0].length() / (200.0 * std::f64::consts::PI) - 1.0).abs() < 2e-4);
        assert!(loops[0].area(plane.normal) > 0.0);
    }
}

#[test]
fn a_peanut_has_a_tape_shorter_than_its_contour() {
    let (t, p) = tube(5, 2000, 10.0, |_, w| {
        let r = 100.0 * (1.0 + 0.7 * (2.0 * w).cos());
        [r * w.cos(), r * w.sin()]
    });
    let plane = Plane::horizontal(5.0);
    let line = &section(&t, &p, &plane)[0];
    let (contour, tape) = (line.length(), hull_perimeter(&line.points, plane.normal));
    assert!(tape < contour / 1.03, "{tape} {contour}");
    // support function of the hull by brute force: perimeter = integral of the width over half a turn (Cauchy)
    let steps = 20_000;
    let cauchy: f64 = (0..steps)
        .map(|i| {
            let w = std::f64::consts::PI * f64::from(i) / f64::from(steps);
            let at = |p: &Point| p[0] * w.cos() + p[1] * w.sin();
            let (low, high) = line
                .points
                .iter()
                .step_by(2)
                .fold((f64::MAX, f64::MIN), |(l, h), p| (l.min(at(p)), h.max(at(p))));
            (high - low) * std::f64::consts::PI / f64::from(steps)
        })
        .sum();
    assert!((tape / cauchy - 1.0).abs() < 1e-4, "{tape} {cauchy}");
}

#[test]
fn a_turned_body_has_the_same_section() {
    let (t, p) = tube(30, 90, 300.0, |z, w| {
        let r = 80.0 + 20.0 * (z / 40.0).sin() + 9.0 * (3.0 * w).cos();
        [r * w.cos(), 0.6 * r * w.sin()]
    });
    let plane = Plane::new([0.0, 0.0, 140.0], [0.2, -0.1, 1.0]).unwrap();
    let before = section(&t, &p, &plane)[0].length();
    let (s, c) = 0.83f64.sin_cos();
    let turn = |q: Point| {
        let q = [c * q[0] - s * q[1], s * q[0] + c * q[1], q[2]];
        [q[0], c * q[1] - s * q[2], s * q[1] + c * q[2]]
    };
    let moved: Vec<Point> = p.iter().map(|&q| turn(q)).collect();
    let after =
        section(&t, &moved, &Plane { point: turn(plane.point), normal: turn(plane.normal) })[0].length();
    assert!((before - after).abs() < 1e-9);
}

#[test]
fn parts_are_separate_loops_in_the_order_of_their_triangles() {
    let (t, p) = tube(4, 12, 30.0, ellipse(5.0, 5.0));
    let n = p.len() as u32;
    let mut triangles = t.triangles().to_vec();
    triangles.extend(t.triangles().iter().map(|t| t.map(|v| v + n)));
    let mut positions = p.clone();
    positions.extend(p.iter().map(|q| [q[0] + 50.0, q[1], q[2]]));
    let both = Topology::new(positions.len(), triangles).unwrap();
    let plane = Plane::horizontal(14.0);
    let loops = section(&both, &positions, &plane);
    assert_eq!(loops.len(), 2);
    assert!(loops[0].component_seed < n && loops[1].component_seed >= n);
    let first: Vec<u32> = (0..t.triangles().len() as u32).collect();
    let only = section_of(&both, &positions, &plane, &first);
    assert_eq!(only, loops[..1]);
}

#[test]
fn a_plane_that_misses_or_only_touches_gives_nothing() {
    let (t, p) = tube(4, 12, 30.0, ellipse(5.0, 5.0));
    assert!(section(&t, &p, &Plane::horizontal(31.0)).is_empty());
    assert!(section(&t, &p, &Plane::horizontal(0.0)).is_empty());
    assert!(Plane::new([0.0; 3], [0.0; 3]).is_err());
    // a tip that touches the plane from below is a loop without length
    let tip = Topology::new(4, vec![[0, 2, 1], [0, 1, 3], [1, 2, 3], [2, 0, 3]]).unwrap();
    let q = [[0.0, 0.0, -1.0], [1.0, 0.0, -1.0], [0.0, 1.0, -1.0], [0.0, 0.0, 0.0]];
    assert!(section(&tip, &q, &Plane::horizontal(0.0)).is_empty());
}

#[test]
fn an_open_surface_gives_an_open_chain() {
    let (t, p) = tube(6, 40, 50.0, ellipse(20.0, 20.0));
    // without the quarter of the triangles on one side
    let kept: Vec<u32> = (0..t.triangles().len() as u32)
        .filter(|&i| {
            let c = t.triangles()[i as usize];
            c.iter().any(|&v| p[v as usize][0] < 10.0)
        })
        .collect();
    let chains = section_of(&t, &p, &Plane::horizontal(22.0), &kept);
    assert_eq!((chains.len(), chains[0].closed), (1, false));
    let whole = section(&t, &p, &Plane::horizontal(22.0))[0].length();
    assert!(chains[0].length() < whole && chains[0].length() > 0.5 * whole);
    assert!(chains[0].trace().len() == chains[0].points.len());
}

#[test]
fn positions_that_are_not_numbers_are_no_panic() {
    let (t, mut p) = tube(6, 40, 50.0, ellipse(20.0, 20.0));
    p[90] = [f64::NAN, 1.0, 2.0];
    p[130] = [0.0, f64::INFINITY, 2.0];
    let loops = section(&t, &p, &Plane::horizontal(22.0));
    assert!(loops.iter().all(|l| l.points.iter().flatten().all(|c| c.is_finite())));
    let nowhere = vec![[f64::NAN; 3]; p.len()];
    assert!(section(&t, &nowhere, &Plane::horizontal(22.0)).is_empty());
    assert!(section(&t, &p[..10], &Plane::horizontal(22.0)).is_empty());
    let collapsed = vec![[1.0, 2.0, 3.0]; p.len()];
    assert!(section(&t, &collapsed, &Plane::horizontal(3.0)).is_empty());
}

#[test]
fn points_follow_the_surface() {
    let (t, p) = tube(6, 40, 50.0, ellipse(20.0, 20.0));
    let ring = &section(&t, &p, &Plane::horizontal(22.0))[0];
    let wider: Vec<Point> = p.iter().map(|q| [2.0 * q[0], 2.0 * q[1], q[2] + 5.0]).collect();
    for (edge, at) in ring.edges.iter().zip(&ring.points) {
        assert_eq!(edge.on(&p), *at);
        let moved = edge.on(&wider);
        assert!((moved[0] - 2.0 * at[0]).abs() < 1e-12 && (moved[2] - 27.0).abs() < 1e-12);
    }
}

#[test]
fn every_level_through_vertices_closes() {
    // integer heights: whole rings lie on the plane, and the slanted plane meets single vertices
    let (t, p) = tube(11, 16, 10.0, |_, w| [w.cos() * 4.0, w.sin() * 4.0]);
    for h in 1..=9 {
        let loops = section(&t, &p, &Plane::horizontal(f64::from(h)));
        assert_eq!((loops.len(), loops[0].closed, loops[0].points.len()), (1, true, 16));
    }
    let plane = Plane::new([4.0, 0.0, 5.0], [0.25, 0.0, 1.0]).unwrap();
    let loops = section(&t, &p, &plane);
    assert_eq!((loops.len(), loops[0].closed), (1, true));
}
