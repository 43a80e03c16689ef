//! An editable surface with a boundary on the mid-plane: split, collapse and flip of edges.

use formkin_geometry::Point;
use formkin_geometry::areas::vector_area;
use formkin_geometry::vector::{distance, dot, norm, sub};

const GONE: u32 = u32::MAX;

/// The left half. A vertex is on the boundary where x = 0 exactly.
pub(crate) struct Half {
    pub(crate) positions: Vec<Point>,
    triangles: Vec<[u32; 3]>,
    /// Triangles around each vertex; empty where the vertex is gone.
    around: Vec<Vec<u32>>,
    live: usize,
}

impl Half {
    pub(crate) fn new(positions: Vec<Point>, triangles: Vec<[u32; 3]>) -> Self {
        let mut around = vec![Vec::with_capacity(8); positions.len()];
        for (t, corners) in triangles.iter().enumerate() {
            for &v in corners {
                around[v as usize].push(t as u32);
            }
        }
        let live = around.iter().filter(|a| !a.is_empty()).count();
        Self { positions, triangles, around, live }
    }

    /// Number of vertices in use and how many of them are on the boundary.
    pub(crate) fn counts(&self) -> (usize, usize) {
        let boundary =
            (0..self.positions.len()).filter(|&v| self.lives(v) && self.on_plane(v as u32)).count();
        (self.live, boundary)
    }

    pub(crate) fn lives(&self, v: usize) -> bool {
        !self.around[v].is_empty()
    }

    pub(crate) fn on_plane(&self, v: u32) -> bool {
        self.positions[v as usize][0] == 0.0
    }

    /// The vertices around a vertex, ascending.
    pub(crate) fn ring(&self, v: u32) -> Vec<u32> {
        let mut ring = Vec::with_capacity(12);
        for &t in &self.around[v as usize] {
            for w in self.triangles[t as usize] {
                if w != v && !ring.contains(&w) {
                    ring.push(w);
                }
            }
        }
        ring.sort_unstable();
        ring
    }

    /// The triangles around a vertex.
    pub(crate) fn fan(&self, v: u32) -> impl Iterator<Item = [u32; 3]> + '_ {
        self.around[v as usize].iter().map(|&t| self.triangles[t as usize])
    }

    /// Triangles on the edge a-b.
    fn on_edge(&self, a: u32, b: u32) -> Vec<u32> {
        self.around[a as usize].iter().copied().filter(|&t| self.triangles[t as usize].contains(&b)).collect()
    }

    /// Every edge once, by its ends, smaller first.
    pub(crate) fn edges(&self) -> Vec<[u32; 2]> {
        let mut edges = Vec::with_capacity(self.live * 3);
        for v in 0..self.positions.len() as u32 {
            edges.extend(self.ring(v).into_iter().filter(|&w| w > v).map(|w| [v, w]));
        }
        edges
    }

    pub(crate) fn length(&self, [a, b]: [u32; 2]) -> f64 {
        distance(self.positions[a as usize], self.positions[b as usize])
    }

    fn replace(&mut self, t: u32, old: u32, new: u32) {
        for v in &mut self.triangles[t as usize] {
            if *v == old {
                *v = new;
            }
        }
        self.around[old as usize].retain(|&x| x != t);
        self.around[new as usize].push(t);
    }

    /// Puts a vertex in the middle of an edge that exists.
    pub(crate) fn split(&mut self, [a, b]: [u32; 2]) -> Option<u32> {
        let sides = self.on_edge(a, b);
        if sides.is_empty() {
            return None;
        }
        let (pa, pb) = (self.positions[a as usize], self.positions[b as usize]);
        let mut middle: Point = std::array::from_fn(|c| 0.5 * (pa[c] + pb[c]));
        if sides.len() == 2 {
            // an inner edge between two boundary vertices must not put its middle on the plane
            middle[0] = middle[0].max(1e-3);
        }
        let m = self.positions.len() as u32;
        self.positions.push(middle);
        self.around.push(Vec::with_capacity(8));
        self.live += 1;
        for t in sides {
            let corners = self.triangles[t as usize];
            let opposite = corners.into_iter().find(|&v| v != a && v != b)?;
            let twin = self.triangles.len() as u32;
            self.triangles.push(corners.map(|v| if v == a { m } else { v }));
            for v in [m, b, opposite] {
                self.around[v as usize].push(twin);
            }
            self.replace(t, b, m);
        }
        Some(m)
    }

    /// Whether moving `v` to `to` keeps every triangle around it, those with `skip` aside, on its side.
    fn keeps_sides(&self, v: u32, to: Point, skip: u32) -> bool {
        self.fan(v).filter(|t| !t.contains(&skip)).all(|t| {
            let before = t.map(|w| self.positions[w as usize]);
            let after = t.map(|w| if w == v { to } else { self.positions[w as usize] });
            let (n0, n1) =
                (vector_area(before[0], before[1], before[2]), vector_area(after[0], after[1], after[2]));
            let longest = distance(after[0], after[1])
                .max(distance(after[1], after[2]))
                .max(distance(after[2], after[0]));
            dot(n0, n1) > 0.5 * norm(n0) * norm(n1) && norm(n1) > 0.05 * longest * longest
        })
    }

    /// Draws an edge together where the surface stays a manifold, no triangle turns over and no edge becomes longer than `longest`
    /// at its place.
    pub(crate) fn collapse(&mut self, [a, b]: [u32; 2], longest: impl Fn(Point) -> f64) -> bool {
        let sides = self.on_edge(a, b);
        let (on_a, on_b) = (self.on_plane(a), self.on_plane(b));
        if sides.is_empty() || (on_a && on_b && sides.len() == 2) {
            return false;
        }
        let (ring_a, ring_b) = (self.ring(a), self.ring(b));
        if ring_a.iter().filter(|v| ring_b.contains(v)).count() != sides.len() {
            return false;
        }
        // vertices opposite the edge lose a triangle; inner ones need three
        for &t in &sides {
            for v in self.triangles[t as usize] {
                if v != a && v != b && self.around[v as usize].len() <= if self.on_plane(v) { 2 } else { 3 } {
                    return false;
                }
            }
        }
        let (keep, drop) = if on_b && !on_a { (b, a) } else { (a, b) };
        let (pk, pd) = (self.positions[keep as usize], self.positions[drop as usize]);
        let to: Point = if on_a == on_b { std::array::from_fn(|c| 0.5 * (pk[c] + pd[c])) } else { pk };
        let limit = longest(to);
        if ring_a.iter().chain(&ring_b).any(|&v| distance(self.positions[v as usize], to) > limit)
            || !self.keeps_sides(keep, to, drop)
            || !self.keeps_sides(drop, to, keep)
        {
            return false;
        }
        for &t in &sides {
            for v in self.triangles[t as usize] {
                self.around[v as usize].retain(|&x| x != t);
            }
            self.triangles[t as usize] = [GONE; 3];
        }
        for t in std::mem::take(&mut self.around[drop as usize]) {
            for v in &mut self.triangles[t as usize] {
                if *v == drop {
                    *v = keep;
                }
            }
            self.around[keep as usize].push(t);
        }
        self.positions[keep as usize] = to;
        self.live -= 1;
        true
    }

    fn excess(&self, v: u32, change: i32) -> i32 {
        let (ideal, degree) = if self.on_plane(v) {
            (3, self.around[v as usize].len() as i32)
        } else {
            (6, self.around[v as usize].len() as i32)
        };
        (degree + change - ideal).pow(2)
    }

    /// The angle at a corner of a triangle, between the ways to two others.
    fn angle(&self, at: u32, to: u32, and: u32) -> f64 {
        let [p, q, r] = [at, to, and].map(|v| self.positions[v as usize]);
        let (x, y) = (sub(q, p), sub(r, p));
        (dot(x, y) / (norm(x) * norm(y)).max(1e-12)).clamp(-1.0, 1.0).acos()
    }

    /// Turns the edge between two triangles where that brings the numbers of neighbours nearer to six, or, with `by_angle`, where the
    /// angles opposite it are together more than half a turn (Delaunay).
    pub(crate) fn flip(&mut self, [a, b]: [u32; 2], by_angle: bool) -> bool {
        let sides = self.on_edge(a, b);
        let &[s, t] = sides.as_slice() else { return false };
        let other = |t: u32| self.triangles[t as usize].into_iter().find(|&v| v != a && v != b);
        let (Some(c), Some(d)) = (other(s), other(t)) else { return false };
        if c == d || !self.on_edge(c, d).is_empty() {
            return false;
        }
        // an inner edge between two boundary vertices would close off a piece
        if self.on_plane(c) && self.on_plane(d) {
            return false;
        }
        let obtuse = by_angle && self.angle(c, a, b) + self.angle(d, a, b) > std::f64::consts::PI + 0.02;
        let before = self.excess(a, 0) + self.excess(b, 0) + self.excess(c, 0) + self.excess(d, 0);
        let after = self.excess(a, -1) + self.excess(b, -1) + self.excess(c, 1) + self.excess(d, 1);
        let unsafe_edge = self.on_plane(a) && self.on_plane(b);
        if (if by_angle { !obtuse } else { after >= before }) && !unsafe_edge {
            return false;
        }
        // which of the two runs a -> b
        let runs = |t: u32| {
            let [x, y, z] = self.triangles[t as usize];
            [(x, y), (y, z), (z, x)].contains(&(a, b))
        };
        let (s, t, c, d) = if runs(s) { (s, t, c, d) } else { (t, s, d, c) };
        let (new_s, new_t) = ([c, a, d], [d, b, c]);
        let n = |t: [u32; 3]| {
            let p = t.map(|v| self.positions[v as usize]);
            vector_area(p[0], p[1], p[2])
        };
        let (n0, n1) = (n(self.triangles[s as usize]), n(self.triangles[t as usize]));
        let old: Point = std::array::from_fn(|k| n0[k] + n1[k]);
        for fresh in [n(new_s), n(new_t)] {
            if dot(fresh, old) < 0.7 * norm(fresh) * norm(old) || norm(fresh) < 0.1 * norm(old) {
                return false;
            }
        }
        self.triangles[s as usize] = new_s;
        self.triangles[t as usize] = new_t;
        self.around[b as usize].retain(|&x| x != s);
        self.around[a as usize].retain(|&x| x != t);
        self.around[d as usize].push(s);
        self.around[c as usize].push(t);
        true
    }

    /// The vertices and triangles in use, vertices renumbered from the floor up.
    pub(crate) fn compact(&self) -> (Vec<Point>, Vec<[u32; 3]>) {
        let mut order: Vec<u32> =
            (0..self.positions.len() as u32).filter(|&v| self.lives(v as usize)).collect();
        order.sort_by(|&a, &b| {
            let (p, q) = (self.positions[a as usize], self.positions[b as usize]);
            p[2].total_cmp(&q[2]).then(a.cmp(&b))
        });
        let mut number = vec![GONE; self.positions.len()];
        for (i, &v) in order.iter().enumerate() {
            number[v as usize] = i as u32;
        }
        let mut triangles: Vec<[u32; 3]> =
            self.triangles.iter().filter(|t| t[0] != GONE).map(|t| t.map(|v| number[v as usize])).collect();
        triangles.sort_by_key(|t| (t.iter().min().copied(), *t));
        (order.iter().map(|&v| self.positions[v as usize]).collect(), triangles)
    }
}
