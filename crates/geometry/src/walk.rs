//! Plane sections found by walking over the surface.
//!
//! A plane enters a triangle through one side and leaves it through another, into the triangle beside it; so a whole loop of a section is found from any one of its
//! triangles, without looking at others and without sorting. The rows come out as those of [`section`](crate::section::section) do, to the last bit: a closed one begins in its
//! lowest triangle, and rows are in order of those.

use crate::section::{EdgePoint, Loop, Plane, chain, cross_triangle, finish};
use crate::{Point, Topology};

/// No neighbour.
pub(crate) const NONE: u32 = u32::MAX;

/// Marks of the triangles visited, kept from section to section so that nothing is cleared in between.
#[derive(Debug, Clone, Default)]
pub struct Walk {
    marks: Vec<u32>,
    round: u32,
}

/// A row of edges that a plane crosses.
#[derive(Debug)]
struct Row {
    lowest: u32,
    edges: Vec<EdgePoint>,
    closed: bool,
}

/// The edge being crossed: its ends on either side of the plane, with their distances.
#[derive(Debug, Clone, Copy)]
struct Crossing {
    positive: (u32, f64),
    negative: (u32, f64),
}

impl Crossing {
    fn point(&self) -> EdgePoint {
        let ((a, sa), (b, sb)) = if self.positive.0 < self.negative.0 {
            (self.positive, self.negative)
        } else {
            (self.negative, self.positive)
        };
        EdgePoint { ends: [a, b], fraction: sa / (sa - sb) }
    }
}

impl Walk {
    /// Marks for a surface.
    #[must_use]
    pub fn new(topology: &Topology) -> Self {
        Self { marks: vec![0; topology.triangles().len()], round: 0 }
    }

    /// The loops of a plane section that run through one of the triangles `seeds`, and only through triangles that are kept: those of
    /// [`section_of`](crate::section::section_of) of the kept triangles, to the last bit and in the same order. Where an edge has more than two triangles, or two that
    /// run the same way along it, there is no telling which is beside which, and every loop of the section is found, as `section_of` does.
    #[must_use]
    pub fn section(
        &mut self,
        topology: &Topology,
        positions: &[Point],
        plane: &Plane,
        seeds: &[u32],
        kept: Option<&[bool]>,
    ) -> Vec<Loop> {
        let side = |v: u32| positions.get(v as usize).map(|&p| plane.side(p));
        self.rows(topology, side, seeds, kept)
            .iter()
            .filter_map(|(edges, closed)| finish(edges, *closed, positions))
            .collect()
    }

    /// Whether the last section ran through this triangle.
    #[must_use]
    pub fn met(&self, triangle: u32) -> bool {
        self.marks.get(triangle as usize) == Some(&self.round)
    }

    /// The rows through the seeds, for any signed distance of the vertices.
    pub(crate) fn rows(
        &mut self,
        topology: &Topology,
        side: impl Fn(u32) -> Option<f64> + Copy,
        seeds: &[u32],
        kept: Option<&[bool]>,
    ) -> Vec<(Vec<EdgePoint>, bool)> {
        let triangles = topology.triangles();
        let stays = |t: u32| kept.is_none_or(|k| k.get(t as usize) == Some(&true));
        let Some(twins) = topology.twins() else {
            let all = (0..triangles.len() as u32).filter(|&t| stays(t));
            return chain(&all.filter_map(|t| cross_triangle(topology, t, side)).collect::<Vec<_>>());
        };
        self.marks.resize(triangles.len(), 0);
        self.round = self.round.checked_add(1).unwrap_or_else(|| {
            self.marks.fill(0);
            1
        });
        let mut rows: Vec<Row> = Vec::new();
        for &seed in seeds {
            if self.marks.get(seed as usize).is_none_or(|&m| m == self.round) || !stays(seed) {
                continue;
            }
            if let Some(row) = self.row(triangles, twins, &side, seed, &stays) {
                rows.push(row);
            }
        }
        rows.sort_unstable_by_key(|r| r.lowest);
        rows.into_iter().map(|r| (r.edges, r.closed)).collect()
    }

    /// The row through a triangle; `None` where the plane does not cut it.
    fn row(
        &mut self,
        triangles: &[[u32; 3]],
        twins: &[u32],
        side: &impl Fn(u32) -> Option<f64>,
        seed: u32,
        stays: &impl Fn(u32) -> bool,
    ) -> Option<Row> {
        let corners = triangles[seed as usize];
        let mut s = [0.0; 3];
        for k in 0..3 {
            s[k] = side(corners[k]).filter(|s| s.is_finite())?;
        }
        let positive = s.map(|s| s >= 0.0);
        if positive == [true; 3] || positive == [false; 3] {
            return None;
        }
        // the side that runs from positive to negative, and the one that runs back
        let (mut enter, mut leave) = (0, 0);
        for k in 0..3 {
            match (positive[k], positive[(k + 1) % 3]) {
                (true, false) => enter = k,
                (false, true) => leave = k,
                _ => {}
            }
        }
        let at = |k: usize| (corners[k % 3], s[k % 3]);
        let entered = Crossing { positive: at(enter), negative: at(enter + 1) };
        let mut crossing = Crossing { negative: at(leave), positive: at(leave + 1) };
        self.marks[seed as usize] = self.round;
        let mut edges = Vec::with_capacity(256);
        edges.push(entered.point());
        let mut lowest = (seed, 0);
        let mut half = 3 * seed + leave as u32;
        let next = |half: u32| {
            let twin = twins[half as usize];
            (twin != NONE && stays(twin / 3)).then_some((twin / 3, (twin % 3) as usize))
        };
        let closed = loop {
            edges.push(crossing.point());
            let Some((t, k)) = next(half) else { break false };
            if t == seed {
                edges.pop();
                break true;
            }
            // entered through side k, which runs from the positive end to the negative one
            let third = triangles[t as usize][(k + 2) % 3];
            let Some(s) = side(third).filter(|s| s.is_finite()) else { break false };
            self.marks[t as usize] = self.round;
            if t < lowest.0 {
                lowest = (t, edges.len() - 1);
            }
            if s >= 0.0 {
                crossing.positive = (third, s);
                half = 3 * t + ((k + 1) % 3) as u32;
            } else {
                crossing.negative = (third, s);
                half = 3 * t + ((k + 2) % 3) as u32;
            }
        };
        if closed {
            edges.rotate_left(lowest.1);
            return Some(Row { lowest: lowest.0, edges, closed });
        }
        // what lies before the seed
        let mut before = Vec::new();
        let mut lowest = lowest.0;
        let (mut crossing, mut half) = (entered, 3 * seed + enter as u32);
        while let Some((t, k)) = next(half) {
            let third = triangles[t as usize][(k + 2) % 3];
            let Some(s) = side(third).filter(|s| s.is_finite()) else { break };
            self.marks[t as usize] = self.round;
            lowest = lowest.min(t);
            if s >= 0.0 {
                crossing.positive = (third, s);
                half = 3 * t + ((k + 2) % 3) as u32;
            } else {
                crossing.negative = (third, s);
                half = 3 * t + ((k + 1) % 3) as u32;
            }
            before.push(crossing.point());
        }
        before.reverse();
        before.append(&mut edges);
        Some(Row { lowest, edges: before, closed })
    }
}

/// The rows of edges that a plane crosses, with vertices that are on it by decree (rounding must not put them beside it):
/// the points of [`section`](crate::section::section) before those that repeat are dropped, and whether each row closes. With a walk only the rows through the first of those vertices.
pub(crate) fn rows_through(
    topology: &Topology,
    positions: &[Point],
    plane: &Plane,
    through: [u32; 2],
    walk: Option<&mut Walk>,
) -> Vec<(Vec<EdgePoint>, bool)> {
    let side = |v: u32| {
        if through.contains(&v) { Some(0.0) } else { positions.get(v as usize).map(|&p| plane.side(p)) }
    };
    match walk {
        Some(walk) => walk.rows(topology, side, topology.fans().around(through[0]), None),
        None => {
            let all = 0..topology.triangles().len() as u32;
            chain(&all.filter_map(|t| cross_triangle(topology, t, side)).collect::<Vec<_>>())
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::section::tests::sphere;
    use crate::section::{section, section_of};

    #[test]
    fn walked_sections_are_those_of_all_triangles_to_the_last_bit() {
        let (topology, rest) = sphere(500.0, 40);
        let mut walk = Walk::new(&topology);
        let all: Vec<u32> = (0..topology.triangles().len() as u32).rev().collect();
        for round in 0..12 {
            let f = f64::from(round);
            // folds, so that a level has several loops
            let mut body: Vec<Point> = rest
                .iter()
                .map(|p| {
                    [
                        p[0] * (1.0 + 0.2 * f),
                        p[1] + 40.0 * f * (0.02 * p[2]).sin(),
                        p[2] + 60.0 * (0.02 * p[0]).sin(),
                    ]
                })
                .collect();
            if round > 8 {
                body[77] = [f64::NAN; 3];
                body[500][2] = f64::INFINITY;
            }
            let kept: Vec<bool> = (0..all.len()).map(|t| round % 3 != 1 || t % 97 != 5).collect();
            let of: Vec<u32> = (0..all.len() as u32).filter(|&t| kept[t as usize]).collect();
            for i in 0..40 {
                let a = f64::from(i);
                let point = body[(i * 31) as usize % 70];
                let plane =
                    Plane::new(point, [(a * 0.7).sin(), (a * 1.3).cos(), 0.3 + (a * 0.4).sin()]).unwrap();
                assert_eq!(
                    walk.section(&topology, &body, &plane, &all, None),
                    section(&topology, &body, &plane)
                );
                assert_eq!(
                    walk.section(&topology, &body, &plane, &all, Some(&kept)),
                    section_of(&topology, &body, &plane, &of)
                );
                // through vertices, on which distances are 0
                let level = Plane::horizontal(body[(i * 53 + 80) as usize][2]);
                let loops = section(&topology, &body, &level);
                assert_eq!(walk.section(&topology, &body, &level, &all, None), loops);
                // from one seed, its loop alone
                if let Some(seed) = all.iter().find(|&&t| walk.met(t)) {
                    let one = walk.section(&topology, &body, &level, &[*seed], None);
                    assert!(one.len() <= 1 && one.iter().all(|l| loops.contains(l)));
                }
            }
        }
    }

    #[test]
    fn where_triangles_are_not_two_by_two_every_loop_is_found() {
        // three sheets on one edge
        let topology = Topology::new(5, vec![[0, 1, 2], [1, 0, 3], [0, 1, 4]]).unwrap();
        let body = [[0.0, 0.0, 0.0], [0.0, 0.0, 10.0], [5.0, 0.0, 5.0], [-5.0, 1.0, 5.0], [0.0, 5.0, 5.0]];
        assert!(topology.twins().is_none());
        let plane = Plane::horizontal(4.0);
        let found = Walk::new(&topology).section(&topology, &body, &plane, &[], None);
        assert_eq!(found, section(&topology, &body, &plane));
        assert!(!found.is_empty());
    }
}
