//! Even triangles of a wanted size: split, collapse, flip, relax along the surface, project back
//! (isotropic remeshing after Botsch & Kobbelt 2004), finer at face, hands and feet.

use formkin_geometry::Point;
use formkin_geometry::areas::vector_area;
use formkin_geometry::vector::{dot, sub};
use rayon::prelude::*;

use super::half::Half;
use crate::body::solid::Solid;

/// How long edges are at a place, as a multiple of those of the trunk.
pub(crate) fn fineness(p: Point) -> f64 {
    let step = |x: f64| {
        let t = x.clamp(0.0, 1.0);
        t * t * (3.0 - 2.0 * t)
    };
    let head = step((p[2] - 1470.0) / 50.0);
    let face = head * step((-20.0 - p[1]) / 50.0);
    let fist = step((p[0] - 330.0) / 60.0) * step((900.0 - p[2]) / 60.0);
    let foot = step((105.0 - p[2]) / 60.0);
    1.0 - 0.22 * head - 0.16 * face - 0.34 * fist - 0.32 * foot
}

/// Remeshes the half so that the mirrored whole has `wanted` vertices (2 x inner + boundary), exactly where it can.
pub(crate) fn remesh(solid: &Solid, half: &mut Half, wanted: usize) {
    const ROUNDS: usize = 9;
    // mean area of an equilateral triangle of edge 1, over about twice as many triangles as vertices
    let area: f64 = half_area(half);
    let mut unit = (area / (wanted as f64) / 0.433).sqrt();
    for round in 0..ROUNDS {
        // from fine to coarse, so that thin limbs never lose their shape on the way
        let now = unit * [0.6, 0.75, 0.9].get(round).unwrap_or(&1.0);
        let length = |p: Point| now * fineness(p);
        pass(half, &length);
        relax(solid, half, if round < 3 { 2 } else { 3 });
        let (live, boundary) = half.counts();
        let whole = (2 * live - boundary) as f64;
        if (3..ROUNDS - 1).contains(&round) {
            unit *= (whole / wanted as f64).sqrt();
        }
    }
    finish(half, wanted, unit);
    for round in 0..5 {
        for edge in half.edges() {
            half.flip(edge, round > 1);
        }
        relax(solid, half, if round < 4 { 3 } else { 0 });
    }
}

/// The area of the half, in fine units: each triangle over the square of the fineness there.
fn half_area(half: &Half) -> f64 {
    let (positions, triangles) = half.compact();
    triangles
        .iter()
        .map(|t| {
            let [a, b, c] = t.map(|v| positions[v as usize]);
            let n = vector_area(a, b, c);
            dot(n, n).sqrt() / fineness(a).powi(2)
        })
        .sum::<f64>()
}

fn place(half: &Half, [a, b]: [u32; 2]) -> Point {
    let (p, q) = (half.positions[a as usize], half.positions[b as usize]);
    std::array::from_fn(|c| 0.5 * (p[c] + q[c]))
}

fn pass(half: &mut Half, length: &impl Fn(Point) -> f64) {
    for _ in 0..6 {
        let mut any = false;
        for edge in half.edges() {
            if half.length(edge) > 4.0 / 3.0 * length(place(half, edge)) {
                any |= half.split(edge).is_some();
            }
        }
        if !any {
            break;
        }
    }
    for _ in 0..4 {
        let mut any = false;
        for edge in half.edges() {
            if half.lives(edge[0] as usize)
                && half.lives(edge[1] as usize)
                && half.length(edge) < 0.8 * length(place(half, edge))
            {
                any |= half.collapse(edge, |p| 4.0 / 3.0 * length(p));
            }
        }
        if !any {
            break;
        }
    }
    for _ in 0..2 {
        for edge in half.edges() {
            half.flip(edge, false);
        }
    }
}

/// Draws every vertex to the weighted middle of its neighbours, along the surface, and back onto the skin.
fn relax(solid: &Solid, half: &mut Half, times: usize) {
    for _ in 0..times {
        let shared: &Half = half;
        let moved: Vec<Point> = (0..shared.positions.len())
            .into_par_iter()
            .map(|v| {
                let p = shared.positions[v];
                if !shared.lives(v) {
                    return p;
                }
                let middle =
                    if shared.on_plane(v as u32) { boundary_middle(shared, v) } else { middle(shared, v) };
                let n = solid.normal(p);
                let mut step = sub(middle, p);
                let along = dot(step, n);
                for c in 0..3 {
                    step[c] -= along * n[c];
                }
                let mut to: Point = std::array::from_fn(|c| p[c] + 0.7 * step[c]);
                if p[0] == 0.0 {
                    to[0] = 0.0;
                    return solid.project(to, 3);
                }
                to[0] = to[0].max(1e-3);
                let mut to = solid.project(to, 3);
                to[0] = to[0].max(1e-3);
                to
            })
            .collect();
        half.positions = moved;
    }
}

fn middle(half: &Half, v: usize) -> Point {
    let mut sum = [0.0; 3];
    let mut total = 0.0;
    for t in half.fan(v as u32) {
        let [a, b, c] = t.map(|w| half.positions[w as usize]);
        let n = vector_area(a, b, c);
        let centre: Point = std::array::from_fn(|k| (a[k] + b[k] + c[k]) / 3.0);
        let w = dot(n, n).sqrt() / fineness(centre).powi(2);
        total += w;
        for k in 0..3 {
            sum[k] += w * centre[k];
        }
    }
    if total > 0.0 { sum.map(|s| s / total) } else { half.positions[v] }
}

fn boundary_middle(half: &Half, v: usize) -> Point {
    let ends: Vec<Point> = half
        .ring(v as u32)
        .into_iter()
        .filter(|&w| half.on_plane(w) && half.fan(v as u32).filter(|t| t.contains(&w)).count() == 1)
        .map(|w| half.positions[w as usize])
        .collect();
    match ends.as_slice() {
        [a, b] => std::array::from_fn(|c| 0.5 * (a[c] + b[c])),
        _ => half.positions[v],
    }
}

/// The last few vertices: the shortest edges drawn together or the longest split until the number is met.
fn finish(half: &mut Half, wanted: usize, unit: f64) {
    for _ in 0..20 {
        let (live, boundary) = half.counts();
        let whole = 2 * live - boundary;
        if whole == wanted {
            return;
        }
        let mut edges: Vec<(f64, [u32; 2])> = half
            .edges()
            .into_iter()
            .map(|e| (half.length(e) / (unit * fineness(place(half, e))), e))
            .collect();
        edges.sort_by(|x, y| x.0.total_cmp(&y.0).then(x.1.cmp(&y.1)));
        let inner = |half: &Half, e: [u32; 2]| !half.on_plane(e[0]) && !half.on_plane(e[1]);
        let odd = whole.abs_diff(wanted) % 2 == 1;
        if odd {
            // one vertex more on the boundary
            let edge = edges.iter().rev().map(|e| e.1).find(|&[a, b]| {
                half.on_plane(a) && half.on_plane(b) && half.fan(a).filter(|t| t.contains(&b)).count() == 1
            });
            if let Some(edge) = edge {
                half.split(edge);
            }
            continue;
        }
        let mut left = whole.abs_diff(wanted) / 2;
        let mut touched = vec![false; half.positions.len()];
        let order: Vec<[u32; 2]> = if whole > wanted {
            edges.iter().map(|e| e.1).collect()
        } else {
            edges.iter().rev().map(|e| e.1).collect()
        };
        for edge in order {
            if left == 0 {
                break;
            }
            if edge.iter().any(|&v| touched[v as usize]) || !inner(half, edge) {
                continue;
            }
            let ring: Vec<u32> = edge.iter().flat_map(|&v| half.ring(v)).collect();
            let done = if whole > wanted {
                half.collapse(edge, |_| f64::INFINITY)
            } else {
                half.split(edge).is_some()
            };
            if done {
                left -= 1;
                for v in ring {
                    touched[v as usize] = true;
                }
            }
        }
    }
}
