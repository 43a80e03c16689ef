//! A first surface of the left half (x >= 0), by marching tetrahedra over a sparse grid.
//!
//! Each cube of the grid is cut into six tetrahedra around its diagonal (Kuhn); the surface is a manifold whose boundary lies on
//! the mid-plane, where the grid ends.

use formkin_geometry::Point;
use rayon::prelude::*;

use crate::body::solid::Solid;

/// The box of the left half: lowest and highest corner.
const LOW: Point = [0.0, -240.0, -12.0];
const HIGH: Point = [560.0, 190.0, 1724.0];
/// Cubes a side of a block that is skipped when the surface is far from its centre.
const BLOCK: usize = 4;
/// The directions of the seven kinds of edges, as bits x, y, z.
const KUHN: [[usize; 3]; 6] = [[1, 2, 4], [1, 4, 2], [2, 1, 4], [2, 4, 1], [4, 1, 2], [4, 2, 1]];

struct Grid {
    n: [usize; 3],
    step: f64,
}

impl Grid {
    fn node(&self, i: usize, j: usize, k: usize) -> usize {
        (k * self.n[1] + j) * self.n[0] + i
    }

    fn place(&self, node: usize) -> Point {
        let (i, rest) = (node % self.n[0], node / self.n[0]);
        let (j, k) = (rest % self.n[1], rest / self.n[1]);
        [LOW[0] + self.step * i as f64, LOW[1] + self.step * j as f64, LOW[2] + self.step * k as f64]
    }
}

/// The positions and triangles of the left half; vertices of the mid-plane have x = 0 exactly.
pub(crate) fn polygonise(solid: &Solid, step: f64) -> (Vec<Point>, Vec<[u32; 3]>) {
    let cells: [usize; 3] =
        std::array::from_fn(|c| ((HIGH[c] - LOW[c]) / step / BLOCK as f64).ceil() as usize * BLOCK);
    let grid = Grid { n: cells.map(|c| c + 1), step };
    let blocks = cells.map(|c| c / BLOCK);
    let centre = |b: [usize; 3]| -> Point {
        std::array::from_fn(|c| LOW[c] + step * BLOCK as f64 * (b[c] as f64 + 0.5))
    };
    // blocks the surface may pass through; the distance is approximate, so with a margin
    let reach = step * BLOCK as f64 * 0.87 * 1.8 + 12.0;
    let active: Vec<[usize; 3]> = (0..blocks[0] * blocks[1] * blocks[2])
        .into_par_iter()
        .map(|i| [i % blocks[0], i / blocks[0] % blocks[1], i / blocks[0] / blocks[1]])
        .filter(|&b| solid.distance(centre(b)).abs() < reach)
        .collect();
    let mut wanted = vec![false; grid.n.iter().product()];
    for b in &active {
        for k in 0..=BLOCK {
            for j in 0..=BLOCK {
                for i in 0..=BLOCK {
                    wanted[grid.node(b[0] * BLOCK + i, b[1] * BLOCK + j, b[2] * BLOCK + k)] = true;
                }
            }
        }
    }
    let values: Vec<f32> = wanted
        .par_iter()
        .enumerate()
        .map(|(node, &w)| if w { solid.distance(grid.place(node)) as f32 } else { f32::NAN })
        .collect();
    march(&grid, &values, &active)
}

fn march(grid: &Grid, values: &[f32], active: &[[usize; 3]]) -> (Vec<Point>, Vec<[u32; 3]>) {
    let mut positions = Vec::new();
    let mut triangles = Vec::new();
    // the vertex on the edge from a node in one of the seven directions
    let mut on_edge = vec![u32::MAX; values.len() * 7];
    let mut vertex = |a: usize, b: usize, direction: usize| -> u32 {
        let slot = a.min(b) * 7 + direction - 1;
        if on_edge[slot] == u32::MAX {
            let (fa, fb) = (f64::from(values[a]), f64::from(values[b]));
            let t = (fa / (fa - fb)).clamp(0.02, 0.98);
            let (pa, pb) = (grid.place(a), grid.place(b));
            on_edge[slot] = positions.len() as u32;
            positions.push(std::array::from_fn(|c| pa[c] + t * (pb[c] - pa[c])));
        }
        on_edge[slot]
    };
    for b in active {
        for cell in 0..BLOCK * BLOCK * BLOCK {
            let at = [cell % BLOCK, cell / BLOCK % BLOCK, cell / BLOCK / BLOCK];
            let at: [usize; 3] = std::array::from_fn(|c| b[c] * BLOCK + at[c]);
            let corner: [usize; 8] = std::array::from_fn(|m| {
                grid.node(at[0] + (m & 1), at[1] + (m >> 1 & 1), at[2] + (m >> 2 & 1))
            });
            let inside = corner.iter().filter(|&&n| values[n] < 0.0).count();
            if inside == 0 || inside == 8 {
                continue;
            }
            for walk in KUHN {
                let masks = [0, walk[0], walk[0] | walk[1], 7];
                tetrahedron(&masks, &corner, values, &mut vertex, &mut triangles);
            }
        }
    }
    // a consistent sense: outward, along the growing distance
    for t in &mut triangles {
        let (tri, outward): &mut ([u32; 3], Point) = t;
        let [a, b, c] = tri.map(|v| positions[v as usize]);
        let normal = formkin_geometry::areas::vector_area(a, b, c);
        if formkin_geometry::vector::dot(normal, *outward) < 0.0 {
            tri.swap(1, 2);
        }
    }
    (positions, triangles.into_iter().map(|t| t.0).collect())
}

/// The triangles in one tetrahedron, each with a direction from inside to outside.
fn tetrahedron(
    masks: &[usize; 4],
    corner: &[usize; 8],
    values: &[f32],
    vertex: &mut impl FnMut(usize, usize, usize) -> u32,
    out: &mut Vec<([u32; 3], Point)>,
) {
    let (mut inner, mut outer) = (Vec::with_capacity(4), Vec::with_capacity(4));
    for &m in masks {
        if values[corner[m]] < 0.0 { inner.push(m) } else { outer.push(m) }
    }
    if inner.is_empty() || outer.is_empty() {
        return;
    }
    let bit = |m: usize| -> Point { std::array::from_fn(|c| (m >> c & 1) as f64) };
    let mean = |list: &[usize]| -> Point {
        std::array::from_fn(|c| list.iter().map(|&m| bit(m)[c]).sum::<f64>() / list.len() as f64)
    };
    let (from, to) = (mean(&inner), mean(&outer));
    let outward: Point = std::array::from_fn(|c| to[c] - from[c]);
    let mut edge = |a: usize, b: usize| vertex(corner[a.min(b)], corner[a.max(b)], a ^ b);
    match (inner.len(), outer.len()) {
        (1, _) => out
            .push(([edge(inner[0], outer[0]), edge(inner[0], outer[1]), edge(inner[0], outer[2])], outward)),
        (_, 1) => out
            .push(([edge(inner[0], outer[0]), edge(inner[1], outer[0]), edge(inner[2], outer[0])], outward)),
        _ => {
            let [a, b] = [edge(inner[0], outer[0]), edge(inner[0], outer[1])];
            let [c, d] = [edge(inner[1], outer[1]), edge(inner[1], outer[0])];
            out.push(([a, b, c], outward));
            out.push(([a, c, d], outward));
        }
    }
}
