//! Nearest points and crossings against looking at every triangle.

use super::{Tree, on_triangle, triangles_cross};
use crate::vector::{distance, sub};
use crate::{Point, Topology};

/// Numbers between -1 and 1, the same on every run.
struct Numbers(u64);

impl Numbers {
    fn next(&mut self) -> f64 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        ((self.0 >> 11) as f64 / (1u64 << 53) as f64) * 2.0 - 1.0
    }

    fn point(&mut self) -> Point {
        [self.next(), self.next(), self.next()]
    }
}

/// Loose triangles, three vertices each.
fn soup(count: usize, size: f64, seed: u64) -> (Topology, Vec<Point>) {
    let mut n = Numbers(seed);
    let mut points = Vec::new();
    for _ in 0..count {
        let centre = n.point();
        for _ in 0..3 {
            let d = n.point();
            points.push(std::array::from_fn(|k| centre[k] + size * d[k]));
        }
    }
    let triangles = (0..count as u32).map(|t| [3 * t, 3 * t + 1, 3 * t + 2]).collect();
    (Topology::new(3 * count, triangles).unwrap(), points)
}

fn corners(topology: &Topology, points: &[Point], t: usize) -> [Point; 3] {
    topology.triangles()[t].map(|v| points[v as usize])
}

#[test]
fn nearest_is_the_nearest_of_all() {
    let (topology, template) = soup(200, 0.2, 1);
    // the tree of another shape: boxes are drawn anew
    let (_, points) = soup(200, 0.3, 2);
    let tree = Tree::new(&topology, &template);
    let placed = tree.on(&topology, &points);
    let mut n = Numbers(7);
    for _ in 0..300 {
        let p = n.point();
        let naive = (0..200)
            .map(|t| distance(p, on_triangle(p, &corners(&topology, &points, t))))
            .fold(f64::INFINITY, f64::min);
        let found = placed.nearest(p, f64::INFINITY).unwrap();
        assert!((found.distance - naive).abs() < 1e-12);
        assert!((distance(found.point, p) - naive).abs() < 1e-12);
        // with a bound that is met exactly, and one that is too short
        assert!(placed.nearest(p, naive).is_some());
        assert!(placed.nearest(p, 0.5 * naive).is_none());
    }
    assert!(placed.nearest([f64::NAN; 3], f64::INFINITY).is_none());
}

#[test]
fn the_point_on_a_triangle_is_the_nearest_of_a_fine_grid() {
    let mut n = Numbers(3);
    for _ in 0..100 {
        let t = [n.point(), n.point(), n.point()];
        let p = n.point();
        let found = distance(p, on_triangle(p, &t));
        let mut least = f64::INFINITY;
        for i in 0..=60 {
            for j in 0..=(60 - i) {
                let (u, v) = (f64::from(i) / 60.0, f64::from(j) / 60.0);
                let q: Point =
                    std::array::from_fn(|k| t[0][k] + u * (t[1][k] - t[0][k]) + v * (t[2][k] - t[0][k]));
                least = least.min(distance(p, q));
            }
        }
        assert!(found <= least + 1e-12 && least - found < 0.05, "{found} {least}");
    }
    // a triangle without area is its corner or edge
    let flat = [[0.0, 0.0, 0.0], [1.0, 0.0, 0.0], [2.0, 0.0, 0.0]];
    assert!(sub(on_triangle([1.0, 1.0, 0.0], &flat), [1.0, 0.0, 0.0]).iter().all(|x| x.abs() < 1e-12));
}

#[test]
fn crossings_are_those_of_all_pairs() {
    let (topology, points) = soup(150, 0.5, 5);
    let tree = Tree::new(&topology, &points);
    let mut naive = Vec::new();
    for t in 0..150usize {
        for u in t + 1..150 {
            if triangles_cross(&corners(&topology, &points, t), &corners(&topology, &points, u)) {
                naive.push([t as u32, u as u32]);
            }
        }
    }
    assert!(naive.len() > 20);
    assert_eq!(tree.on(&topology, &points).self_crossings(), naive);
}

#[test]
fn touching_is_no_crossing() {
    let flat = [[0.0, 0.0, 0.0], [1.0, 0.0, 0.0], [0.0, 1.0, 0.0]];
    let at = |z: f64| [[0.2, 0.2, z], [0.3, 0.2, z + 1.0], [0.2, 0.3, z + 1.0]];
    assert!(triangles_cross(&flat, &at(-0.5)));
    assert!(!triangles_cross(&flat, &at(0.0)));
    assert!(!triangles_cross(&flat, &at(0.1)));
    assert!(!triangles_cross(&flat, &flat.map(|[x, y, z]| [x + 0.1, y + 0.1, z])));
    let beside = at(-0.5).map(|[x, y, z]| [x + 3.0, y, z]);
    assert!(!triangles_cross(&flat, &beside));
}

#[test]
fn neighbours_do_not_cross_and_a_fold_does() {
    // a strip of a dozen squares, then bent so that its end goes through its beginning
    let strip = |bend: f64| -> Vec<Point> {
        (0..26)
            .map(|i| {
                let (s, side) = (f64::from(i / 2), f64::from(i % 2));
                let angle = bend * s;
                // a spiral that narrows
                let r = 4.0 - 0.02 * s;
                [r * angle.sin(), r * (1.0 - angle.cos()) + 0.3 * side * (s - 6.0), 2.0 * side]
            })
            .collect()
    };
    let triangles: Vec<[u32; 3]> =
        (0..12u32).flat_map(|i| [[2 * i, 2 * i + 1, 2 * i + 2], [2 * i + 1, 2 * i + 3, 2 * i + 2]]).collect();
    let topology = Topology::new(26, triangles).unwrap();
    let tree = Tree::new(&topology, &strip(0.2));
    assert!(tree.on(&topology, &strip(0.2)).self_crossings().is_empty());
    assert!(!tree.on(&topology, &strip(0.58)).self_crossings().is_empty());
}
