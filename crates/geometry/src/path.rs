//! Distances along a path.
//!
//! Three kinds, which must not be confused: the straight line from point to point ([`polyline_length`] of the points),
//! the way along the edges of the mesh ([`edge_path`], biased long, 5 % and more, because edges zigzag), and the way
//! over the surface ([`surface_path`], a local geodesic, what a tape laid on the skin follows).

use std::cmp::Reverse;
use std::collections::BinaryHeap;

use crate::section::{EdgePoint, Plane};
use crate::strip::Strip;
use crate::vector::{add, cross, distance, sub, unit};
use crate::walk::{Walk, rows_through};
use crate::{Point, Topology, areas};

/// The length of a polyline in mm.
#[must_use]
pub fn polyline_length(points: &[Point]) -> f64 {
    points.windows(2).map(|p| distance(p[0], p[1])).sum()
}

/// The vertices of the shortest way along edges of the mesh (Dijkstra), both ends included; `None` where the two are not
/// joined or not on the mesh. Its length is biased long, since edges seldom run the way the path does: it is no geodesic.
/// Of ways of equal length the one found first in order of vertices is taken.
#[must_use]
pub fn edge_path(topology: &Topology, positions: &[Point], from: u32, to: u32) -> Option<Vec<u32>> {
    /// Distances of finite points are >= 0, and such floats order as their bits do.
    type Waiting = BinaryHeap<Reverse<(u64, u32)>>;
    let n = topology.vertices().min(positions.len());
    if from as usize >= n || to as usize >= n {
        return None;
    }
    let fans = topology.fans();
    let mut best = vec![f64::INFINITY; n];
    let mut before = vec![u32::MAX; n];
    let mut waiting: Waiting = BinaryHeap::from([Reverse((0, from))]);
    best[from as usize] = 0.0;
    while let Some(Reverse((bits, v))) = waiting.pop() {
        let so_far = f64::from_bits(bits);
        if v == to {
            let mut row = vec![to];
            let mut v = to;
            while v != from {
                v = before[v as usize];
                row.push(v);
            }
            row.reverse();
            return Some(row);
        }
        if so_far > best[v as usize] {
            continue;
        }
        for &t in fans.around(v) {
            for w in topology.triangles()[t as usize] {
                if w as usize >= n {
                    continue;
                }
                let length = so_far + distance(positions[v as usize], positions[w as usize]);
                if length < best[w as usize] {
                    best[w as usize] = length;
                    before[w as usize] = v;
                    waiting.push(Reverse((length.to_bits(), w)));
                }
            }
        }
    }
    None
}

/// The way over the surface from vertex to vertex, as a polyline that lies on the surface and passes through all of
/// them: from one to the next a local geodesic. It starts from the section of the surface by the plane through both
/// that holds their mean normal, on its shorter side (or, where that does not join them, from the way along edges), and is
/// pulled taut over the triangles crossed and around the vertices met, until no step shortens it. It may differ from
/// the globally shortest way where the two run on different sides of a limb.
///
/// `None` where two successive vertices are not joined, or a vertex or position is not there or not finite.
#[must_use]
pub fn surface_path(topology: &Topology, positions: &[Point], vertices: &[u32]) -> Option<Vec<Point>> {
    surface_path_in(topology, positions, vertices, None)
}

/// As [`surface_path`], by a walk from vertex to vertex, which makes it fast: the same way to the last bit.
#[must_use]
pub fn surface_path_in(
    topology: &Topology,
    positions: &[Point],
    vertices: &[u32],
    mut walk: Option<&mut Walk>,
) -> Option<Vec<Point>> {
    let n = topology.vertices();
    if positions.len() != n || vertices.iter().any(|&v| v as usize >= n) {
        return None;
    }
    let mut points = vec![positions[*vertices.first()? as usize]];
    for leg in vertices.windows(2) {
        let taut = surface_leg(topology, positions, [leg[0], leg[1]], walk.as_deref_mut())?;
        points.extend_from_slice(&taut[1..]);
    }
    points.iter().flatten().all(|c| c.is_finite()).then_some(points)
}

fn surface_leg(
    topology: &Topology,
    positions: &[Point],
    [from, to]: [u32; 2],
    walk: Option<&mut Walk>,
) -> Option<Vec<Point>> {
    let ends = [from, to].map(|v| positions[v as usize]);
    if ends.iter().flatten().any(|c| !c.is_finite()) {
        return None;
    }
    if from == to {
        return Some(ends.to_vec());
    }
    if let Some(strip) = section_strip(topology, positions, [from, to], walk) {
        return Some(strip.taut(topology, positions));
    }
    let row = edge_path(topology, positions, from, to)?;
    match Strip::along(topology, &row) {
        Some(strip) => Some(strip.taut(topology, positions)),
        None => Some(row.iter().map(|&v| positions[v as usize]).collect()),
    }
}

/// The edges crossed by the plane through both vertices and their mean normal, on the shorter way from one to the other.
fn section_strip(
    topology: &Topology,
    positions: &[Point],
    [from, to]: [u32; 2],
    walk: Option<&mut Walk>,
) -> Option<Strip> {
    let normal_of = |v: u32| {
        let sum = topology.fans().around(v).iter().fold([0.0; 3], |sum, &t| {
            let [a, b, c] = topology.triangles()[t as usize].map(|v| positions[v as usize]);
            add(sum, areas::vector_area(a, b, c))
        });
        unit(sum)
    };
    let normal = add(normal_of(from)?, normal_of(to)?);
    let along = sub(positions[to as usize], positions[from as usize]);
    // a normal along the way gives no plane
    let across = cross(unit(along)?, unit(normal)?);
    if crate::vector::norm(across) < 0.05 {
        return None;
    }
    let plane = Plane::new(positions[from as usize], across).ok()?;
    let mut best: Option<(f64, Vec<[u32; 2]>)> = None;
    for (row, closed) in rows_through(topology, positions, &plane, [from, to], walk) {
        for (start, end) in [(from, to), (to, from)] {
            for portals in ways(&row, closed, start, end) {
                let mut points = vec![positions[start as usize]];
                points.extend(portals.iter().map(|e| e.on(positions)));
                points.push(positions[end as usize]);
                let length = polyline_length(&points);
                if best.as_ref().is_none_or(|(shortest, _)| length < *shortest) {
                    let mut edges: Vec<[u32; 2]> = portals.iter().map(|e| e.ends).collect();
                    if start == to {
                        edges.reverse();
                    }
                    best = Some((length, edges));
                }
            }
        }
    }
    best.map(|(_, portals)| Strip { from, to, portals })
}

/// The stretches of a row that run forward from one vertex to another: the edges crossed between them.
fn ways(row: &[EdgePoint], closed: bool, from: u32, to: u32) -> Vec<Vec<EdgePoint>> {
    let n = row.len();
    let mut found = Vec::new();
    for first in (0..n).filter(|&i| row[i].is_at(from)) {
        let steps = if closed { n } else { n - first };
        let mut way = Vec::new();
        for step in 1..steps {
            let point = row[(first + step) % n];
            if point.is_at(from) {
                break;
            }
            if point.is_at(to) {
                found.push(way);
                break;
            }
            way.push(point);
        }
    }
    found
}

#[cfg(test)]
#[path = "path_tests.rs"]
mod tests;
