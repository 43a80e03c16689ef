use super::*;
use crate::section::tests::tube;
use crate::vector::norm;

/// A grid of unit squares, each halved, on z = f(x, y).
fn sheet(n: u32, f: impl Fn(f64, f64) -> f64) -> (Topology, Vec<Point>) {
    let side = n + 1;
    let p = (0..side * side)
        .map(|i| {
            let (x, y) = (f64::from(i % side), f64::from(i / side));
            [x, y, f(x, y)]
        })
        .collect();
    let mut t = Vec::new();
    for y in 0..n {
        for x in 0..n {
            let a = y * side + x;
            t.push([a, a + 1, a + side + 1]);
            t.push([a, a + side + 1, a + side]);
        }
    }
    (Topology::new((side * side) as usize, t).unwrap(), p)
}

#[test]
fn on_a_flat_sheet_the_way_is_straight_and_edges_are_long() {
    let (t, p) = sheet(20, |_, _| 0.0);
    for (from, to) in [(0u32, 20), (0, 440), (3, 400), (21 * 7 + 2, 21 * 13 + 19), (5, 26), (44, 45)] {
        let straight = distance(p[from as usize], p[to as usize]);
        let path = surface_path(&t, &p, &[from, to]).unwrap();
        assert!((polyline_length(&path) - straight).abs() < 1e-9, "{from} {to}");
        let row = edge_path(&t, &p, from, to).unwrap();
        let strip = Strip::along(&t, &row).unwrap().taut(&t, &p);
        assert!(
            (polyline_length(&strip) - straight).abs() < 1e-9,
            "{from} {to}: {}",
            polyline_length(&strip)
        );
        let edges: Vec<Point> = row.iter().map(|&v| p[v as usize]).collect();
        assert!(polyline_length(&edges) >= straight - 1e-12);
    }
    // against the diagonals the way along edges is long by its full bias
    let row = edge_path(&t, &p, 20, 420).unwrap();
    assert!(row.len() == 41);
}

#[test]
fn on_a_cylinder_the_way_is_a_helix() {
    let (around, r, height) = (720usize, 100.0, 300.0);
    let (t, p) = tube(61, around, height, |_, w| [r * w.cos(), r * w.sin()]);
    // from the bottom ring to 200 mm up and 100 degrees on
    let (from, to) = (5 * around as u32, 45 * around as u32 + 200);
    let path = surface_path(&t, &p, &[from, to]).unwrap();
    let expected = (200f64.powi(2) + (r * 100f64.to_radians()).powi(2)).sqrt();
    assert!((polyline_length(&path) / expected - 1.0).abs() < 2e-5, "{} {expected}", polyline_length(&path));
    for q in &path {
        assert!((q[0].hypot(q[1]) - r).abs() < 0.01);
    }
}

#[test]
fn on_a_sphere_the_way_is_a_great_circle_whatever_it_starts_from() {
    let (t, mut p) = tube(120, 240, 1.0, |_, w| [w.cos(), w.sin()]);
    for q in &mut p {
        let polar = std::f64::consts::PI * (0.004 + 0.992 * q[2]);
        *q = [100.0 * polar.sin() * q[0], 100.0 * polar.sin() * q[1], -100.0 * polar.cos()];
    }
    for (from, to) in
        [(240 * 20u32 + 3, 240 * 80 + 90), (240 * 60, 240 * 60 + 119), (240 * 100 + 7, 240 * 5 + 30)]
    {
        let (a, b) = (p[from as usize], p[to as usize]);
        let expected = 100.0 * (crate::vector::dot(a, b) / 1e4).clamp(-1.0, 1.0).acos();
        let path = polyline_length(&surface_path(&t, &p, &[from, to]).unwrap());
        let row = edge_path(&t, &p, from, to).unwrap();
        let other = polyline_length(&Strip::along(&t, &row).unwrap().taut(&t, &p));
        assert!((path / expected - 1.0).abs() < 1e-3, "{path} {expected}");
        assert!((other / expected - 1.0).abs() < 1e-3, "{other} {expected}");
    }
}

#[test]
fn a_bump_lengthens_the_way_and_the_way_is_no_longer_than_edges() {
    let (t, p) = sheet(40, |x, y| 8.0 * (-((x - 20.0).powi(2) + (y - 20.0).powi(2)) / 40.0).exp());
    let (from, to) = (41 * 20, 41 * 20 + 40);
    let path = surface_path(&t, &p, &[from, to]).unwrap();
    let edges: Vec<Point> = edge_path(&t, &p, from, to).unwrap().iter().map(|&v| p[v as usize]).collect();
    let length = polyline_length(&path);
    assert!(length > 40.0 && length <= polyline_length(&edges) + 1e-9);
    // it gives way to the side
    let crest = section_strip(&t, &p, [from, to], None).unwrap();
    assert!(length <= polyline_length(&crest.clone().taut(&t, &p)) + 1e-12);
}

#[test]
fn ways_pass_all_their_vertices_and_fail_softly() {
    let (t, mut p) = sheet(10, |_, _| 0.0);
    let path = surface_path(&t, &p, &[0, 10, 120, 120]).unwrap();
    assert!((polyline_length(&path) - 20.0).abs() < 1e-9);
    assert!(path.contains(&p[10]) && path.contains(&p[120]));
    assert!(surface_path(&t, &p, &[0, 999]).is_none());
    assert!(surface_path(&t, &p, &[]).is_none());
    assert!(edge_path(&t, &p, 999, 0).is_none());
    assert!(surface_path(&t, &p[..5], &[0, 1]).is_none());
    p[60] = [f64::NAN; 3];
    assert!(surface_path(&t, &p, &[0, 60]).is_none());
    if let Some(path) = surface_path(&t, &p, &[0, 120]) {
        assert!(path.iter().all(|q| norm(*q).is_finite()));
    }
    let collapsed = vec![[1.0; 3]; p.len()];
    assert!(surface_path(&t, &collapsed, &[0, 120]).is_none_or(|q| polyline_length(&q) == 0.0));
    let apart = Topology::new(6, vec![[0, 1, 2], [3, 4, 5]]).unwrap();
    let q: Vec<Point> = (0..6).map(|i| [f64::from(i), f64::from(i % 2), 0.0]).collect();
    assert!(edge_path(&apart, &q, 0, 4).is_none() && surface_path(&apart, &q, &[0, 4]).is_none());
}

#[test]
fn turning_the_surface_does_not_change_the_way() {
    let (t, p) = sheet(30, |x, y| 3.0 * (0.3 * x).sin() * (0.2 * y).cos());
    let (s, c) = 1.1f64.sin_cos();
    let moved: Vec<Point> =
        p.iter().map(|q| [c * q[0] - s * q[2] + 500.0, q[1], s * q[0] + c * q[2] - 80.0]).collect();
    let before = polyline_length(&surface_path(&t, &p, &[7, 31 * 28 + 3, 31 * 14 + 29]).unwrap());
    let after = polyline_length(&surface_path(&t, &moved, &[7, 31 * 28 + 3, 31 * 14 + 29]).unwrap());
    assert!((before - after).abs() < 1e-8);
    let back = polyline_length(&surface_path(&t, &p, &[31 * 14 + 29, 31 * 28 + 3, 7]).unwrap());
    assert!((before - back).abs() < 1e-8);
}

#[test]
fn strings_leave_vertices_that_only_one_edge_lies_beyond() {
    // a cone whose diagonals alternate, so that half of its vertices have four neighbours
    let (across, along, half) = (240u32, 100u32, 0.35f64);
    let slant = |row: u32| 80.0 + 420.0 * f64::from(row) / f64::from(along - 1);
    let turn = |a: u32| std::f64::consts::TAU * f64::from(a) / f64::from(across);
    let mut p: Vec<Point> = Vec::new();
    let mut triangles = Vec::new();
    for row in 0..along {
        for a in 0..across {
            let (s, c) = turn(a).sin_cos();
            p.push([slant(row) * half.sin() * c, slant(row) * half.sin() * s, -slant(row) * half.cos()]);
            if row + 1 < along {
                let b = (a + 1) % across;
                let [i, j, k, l] =
                    [row * across + a, row * across + b, (row + 1) * across + a, (row + 1) * across + b];
                triangles.extend(if (row + a) % 2 == 1 {
                    [[i, l, j], [i, k, l]]
                } else {
                    [[i, k, j], [j, k, l]]
                });
            }
        }
    }
    let t = Topology::new(p.len(), triangles).unwrap();
    for ((r0, a0), (r1, a1)) in
        [((60, 200), (80, 60)), ((50, 0), (50, 60)), ((45, 20), (85, 120)), ((30, 170), (30, 60))]
    {
        let path = surface_path(&t, &p, &[r0 * across + a0, r1 * across + a1]).unwrap();
        let apart = (turn(a0) - turn(a1)).abs();
        let unrolled = apart.min(std::f64::consts::TAU - apart) * half.sin();
        let (x, y) = (slant(r0), slant(r1));
        let expected = (x * x + y * y - 2.0 * x * y * unrolled.cos()).sqrt();
        assert!(
            (polyline_length(&path) / expected - 1.0).abs() < 1e-4,
            "{} {expected}",
            polyline_length(&path)
        );
    }
}
