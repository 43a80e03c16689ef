//! Landmarks and rings of joints where they belong at every density: the surface is drawn along itself until its vertices lie at the
//! landmarks' own places. Without it a landmark would be up to half an edge off, and a dimension with it.

use std::collections::BTreeMap;

use formkin_geometry::Point;
use formkin_geometry::vector::{add, distance, scale, sub};

use crate::body::solid::Solid;

/// How far around a landmark the surface goes along, in edges there: the strain stays below a third.
const REACH_EDGES: f64 = 2.6;

/// Draws the surface so that each of these vertices (of the left side or the mid-plane) lies at its place on the skin; the right side
/// is the mirror image of the left.
pub(crate) fn pin(
    solid: &Solid,
    neighbours: &[Vec<u32>],
    mirror: &[u32],
    positions: &mut [Point],
    places: &BTreeMap<u32, Point>,
) {
    let mut pinned = vec![false; positions.len()];
    for (&v, &place) in places {
        let start = positions[v as usize];
        let off = sub(place, start);
        let ring = &neighbours[v as usize];
        let edge = ring.iter().map(|&w| distance(start, positions[w as usize])).sum::<f64>()
            / ring.len().max(1) as f64;
        for w in within(neighbours, v, 5) {
            let p = positions[w as usize];
            let share = (1.0 - (distance(p, start) / (REACH_EDGES * edge)).powi(2)).max(0.0).powi(2);
            if pinned[w as usize] || p[0] < 0.0 || share == 0.0 {
                continue;
            }
            let mut to = add(p, scale(off, share));
            if p[0] == 0.0 {
                to[0] = 0.0;
            }
            to = solid.project(to, 6);
            if p[0] > 0.0 {
                to[0] = to[0].max(1e-3);
            }
            positions[w as usize] = to;
        }
        positions[v as usize] = place;
        pinned[v as usize] = true;
    }
    for v in 0..positions.len() {
        let m = mirror[v] as usize;
        if positions[v][0] < 0.0 && m != v {
            let p = positions[m];
            positions[v] = [-p[0], p[1], p[2]];
        }
    }
}

/// The vertices at most so many edges away, the vertex itself first.
fn within(neighbours: &[Vec<u32>], v: u32, edges: usize) -> Vec<u32> {
    let mut found = vec![v];
    let mut from = 0;
    for _ in 0..edges {
        let to = found.len();
        for i in from..to {
            for &w in &neighbours[found[i] as usize] {
                if !found.contains(&w) {
                    found.push(w);
                }
            }
        }
        from = to;
    }
    found
}
