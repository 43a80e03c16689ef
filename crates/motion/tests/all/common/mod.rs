//! A body by formula, and a way for it to go.

#![allow(clippy::unwrap_used)] // helpers of tests

use std::collections::BTreeMap;

use formkin_geometry::vector::{add, cross, dot, norm, scale};
use formkin_geometry::{Point, Topology};

/// An ellipsoid from an octahedron cut `levels` times: it and its triangles are the same in all three mirrors.
pub(crate) fn ellipsoid(levels: usize, radii: Point) -> (Topology, Vec<Point>) {
    let mut points: Vec<Point> = vec![
        [1.0, 0.0, 0.0],
        [-1.0, 0.0, 0.0],
        [0.0, 1.0, 0.0],
        [0.0, -1.0, 0.0],
        [0.0, 0.0, 1.0],
        [0.0, 0.0, -1.0],
    ];
    let mut triangles: Vec<[u32; 3]> =
        vec![[0, 2, 4], [2, 1, 4], [1, 3, 4], [3, 0, 4], [2, 0, 5], [1, 2, 5], [3, 1, 5], [0, 3, 5]];
    for _ in 0..levels {
        let mut middles: BTreeMap<(u32, u32), u32> = BTreeMap::new();
        let mut next = Vec::new();
        for [a, b, c] in triangles {
            let [ab, bc, ca] = [(a, b), (b, c), (c, a)].map(|(i, j)| {
                *middles.entry((i.min(j), i.max(j))).or_insert_with(|| {
                    let m = add(points[i as usize], points[j as usize]);
                    points.push(scale(m, 1.0 / norm(m)));
                    points.len() as u32 - 1
                })
            });
            next.extend([[a, ab, ca], [ab, b, bc], [ca, bc, c], [ab, bc, ca]]);
        }
        triangles = next;
    }
    let points: Vec<Point> =
        points.iter().map(|p| [p[0] * radii[0], p[1] * radii[1], p[2] * radii[2]]).collect();
    (Topology::new(points.len(), triangles).unwrap(), points)
}

/// A turn about a tilted axis that goes on and on, and a walk (Rodrigues' formula).
pub(crate) fn carried(p: Point, t: f64) -> Point {
    let k = [2.0 / 7.0, 3.0 / 7.0, 6.0 / 7.0];
    let (s, c) = (1.7 * t).sin_cos();
    let turned = add(add(scale(p, c), scale(cross(k, p), s)), scale(k, dot(k, p) * (1.0 - c)));
    add(turned, [1200.0 * t, 300.0 * (0.9 * t).sin(), 900.0 + 40.0 * (3.1 * t).cos()])
}
