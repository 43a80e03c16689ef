//! A tree of boxes over the triangles: the nearest point of a surface, and where a surface crosses itself.
//!
//! Triangles never change, so the tree is made once, on a template, by halving along the longest side. On a body every box is drawn anew around its triangles, which takes one walk
//! over them; a body of whatever shape widens its boxes, and results are exact on every body.

use crate::vector::{add, cross, dot, scale, sub};
use crate::{Point, Topology};

/// Triangles a leaf, at most.
const LEAF: usize = 4;

/// Triangles in a tree.
#[derive(Debug, Clone)]
pub struct Tree {
    /// Triangles, leaf by leaf.
    order: Vec<u32>,
    nodes: Vec<Node>,
}

/// A part of `order`; its first child follows it, its second is `second`; 0 for a leaf.
#[derive(Debug, Clone, Copy)]
struct Node {
    from: u32,
    to: u32,
    second: u32,
}

/// A box: its lower and its upper corner.
#[derive(Debug, Clone, Copy)]
struct Cuboid {
    low: Point,
    high: Point,
}

/// The tree on one body.
#[derive(Debug, Clone)]
pub struct Placed<'a> {
    tree: &'a Tree,
    triangles: &'a [[u32; 3]],
    positions: &'a [Point],
    boxes: Vec<Cuboid>,
}

/// The point of a surface nearest to another.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Nearest {
    /// The point.
    pub point: Point,
    /// The triangle it lies on.
    pub triangle: u32,
    /// How far it is.
    pub distance: f64,
}

impl Tree {
    /// The tree of the triangles as they lie on `positions`, one a vertex. Triangles with a vertex beyond `positions` are left out.
    #[must_use]
    pub fn new(topology: &Topology, positions: &[Point]) -> Self {
        let all = topology.triangles();
        let mut order: Vec<(u32, Point)> = (0..all.len() as u32)
            .filter(|t| all[*t as usize].iter().all(|&v| (v as usize) < positions.len()))
            .map(|t| {
                let corners = all[t as usize].map(|v| positions[v as usize]);
                (t, std::array::from_fn(|k| corners.iter().map(|c| c[k]).sum::<f64>() / 3.0))
            })
            .collect();
        let mut nodes = Vec::new();
        if !order.is_empty() {
            grow(&mut order, 0, &mut nodes);
        }
        Self { order: order.into_iter().map(|(t, _)| t).collect(), nodes }
    }

    /// The tree on a body: positions in the order of the vertices of the same topology.
    #[must_use]
    pub fn on<'a>(&'a self, topology: &'a Topology, positions: &'a [Point]) -> Placed<'a> {
        let triangles = topology.triangles();
        let nothing = Cuboid { low: [f64::INFINITY; 3], high: [f64::NEG_INFINITY; 3] };
        let mut boxes = vec![nothing; self.nodes.len()];
        // children come after their parent
        for (i, node) in self.nodes.iter().enumerate().rev() {
            boxes[i] = if node.second == 0 {
                let mut own = nothing;
                for &t in &self.order[node.from as usize..node.to as usize] {
                    for v in triangles[t as usize] {
                        own.take_in(positions[v as usize]);
                    }
                }
                own
            } else {
                let (a, b) = (boxes[i + 1], boxes[node.second as usize]);
                Cuboid {
                    low: std::array::from_fn(|k| a.low[k].min(b.low[k])),
                    high: std::array::from_fn(|k| a.high[k].max(b.high[k])),
                }
            };
        }
        Placed { tree: self, triangles, positions, boxes }
    }
}

fn grow(order: &mut [(u32, Point)], from: u32, nodes: &mut Vec<Node>) {
    let at = nodes.len();
    nodes.push(Node { from, to: from + order.len() as u32, second: 0 });
    if order.len() <= LEAF {
        return;
    }
    let mut around = Cuboid { low: [f64::INFINITY; 3], high: [f64::NEG_INFINITY; 3] };
    for (_, c) in order.iter() {
        around.take_in(*c);
    }
    let length = |k: usize| around.high[k] - around.low[k];
    let axis = (0..3).max_by(|&a, &b| length(a).total_cmp(&length(b))).unwrap_or(0);
    let half = order.len() / 2;
    order.select_nth_unstable_by(half, |a, b| a.1[axis].total_cmp(&b.1[axis]).then(a.0.cmp(&b.0)));
    let (first, second) = order.split_at_mut(half);
    grow(first, from, nodes);
    nodes[at].second = nodes.len() as u32;
    grow(second, from + half as u32, nodes);
}

impl Cuboid {
    fn take_in(&mut self, p: Point) {
        for k in 0..3 {
            self.low[k] = self.low[k].min(p[k]);
            self.high[k] = self.high[k].max(p[k]);
        }
    }

    fn meets(&self, other: &Self) -> bool {
        (0..3).all(|k| self.low[k] <= other.high[k] && other.low[k] <= self.high[k])
    }

    fn square(&self, p: Point) -> f64 {
        (0..3).map(|k| (self.low[k] - p[k]).max(p[k] - self.high[k]).max(0.0).powi(2)).sum()
    }
}

impl Placed<'_> {
    fn corners(&self, triangle: u32) -> [Point; 3] {
        self.triangles[triangle as usize].map(|v| self.positions[v as usize])
    }

    /// The nearest point of the surface. `near` is a distance within which there is one, where it is known (that to the vertex of the same number): the search
    /// is shorter then. None where the surface is further than that, or `point` is not finite.
    #[must_use]
    pub fn nearest(&self, point: Point, near: f64) -> Option<Nearest> {
        // a hair more, so that a point at this very distance is found
        let mut best = near * near * (1.0 + 1e-9) + 1e-18;
        let mut found = None;
        let mut open: Vec<(f64, u32)> = Vec::with_capacity(48);
        open.extend(self.boxes.first().map(|b| (b.square(point), 0)));
        while let Some((square, at)) = open.pop() {
            if square.is_nan() || square > best {
                continue;
            }
            let node = self.tree.nodes[at as usize];
            if node.second == 0 {
                for &t in &self.tree.order[node.from as usize..node.to as usize] {
                    let on = on_triangle(point, &self.corners(t));
                    let off = sub(on, point);
                    let square = dot(off, off);
                    if square <= best {
                        best = square;
                        found = Some(Nearest { point: on, triangle: t, distance: square.sqrt() });
                    }
                }
                continue;
            }
            let (a, b) = (at + 1, node.second);
            let (da, db) = (self.boxes[a as usize].square(point), self.boxes[b as usize].square(point));
            // the nearer one is looked into first
            if da < db {
                open.extend([(db, b), (da, a)]);
            } else {
                open.extend([(da, a), (db, b)]);
            }
        }
        found
    }

    /// The pairs of triangles that cross each other, the smaller number first, in order. Triangles with a vertex in common are not looked at, nor do triangles cross that lie in one plane or
    /// only touch.
    #[must_use]
    pub fn self_crossings(&self) -> Vec<[u32; 2]> {
        let mut found = Vec::new();
        let mut open: Vec<(u32, u32)> = Vec::new();
        open.extend(self.boxes.first().map(|_| (0, 0)));
        while let Some((a, b)) = open.pop() {
            if a != b && !self.boxes[a as usize].meets(&self.boxes[b as usize]) {
                continue;
            }
            let (na, nb) = (self.tree.nodes[a as usize], self.tree.nodes[b as usize]);
            match (na.second, nb.second) {
                (0, 0) => self.leaves(na, nb, a == b, &mut found),
                (second, _) if a == b => open.extend([(a + 1, a + 1), (a + 1, second), (second, second)]),
                (0, second) => open.extend([(a, b + 1), (a, second)]),
                (second, 0) => open.extend([(a + 1, b), (second, b)]),
                (sa, sb) => {
                    // the larger part is halved
                    if na.to - na.from >= nb.to - nb.from {
                        open.extend([(a + 1, b), (sa, b)]);
                    } else {
                        open.extend([(a, b + 1), (a, sb)]);
                    }
                }
            }
        }
        found.sort_unstable();
        found
    }

    fn leaves(&self, a: Node, b: Node, same: bool, found: &mut Vec<[u32; 2]>) {
        for i in a.from..a.to {
            let t = self.tree.order[i as usize];
            for j in (if same { i + 1 } else { b.from })..b.to {
                let u = self.tree.order[j as usize];
                let (p, q) = (self.triangles[t as usize], self.triangles[u as usize]);
                if p.iter().any(|v| q.contains(v)) {
                    continue;
                }
                if triangles_cross(&self.corners(t), &self.corners(u)) {
                    found.push([t.min(u), t.max(u)]);
                }
            }
        }
    }
}

/// The point of a triangle nearest to `p` (Ericson 2005, *Real-Time Collision Detection*, 5.1.5).
#[must_use]
pub(crate) fn on_triangle(p: Point, [a, b, c]: &[Point; 3]) -> Point {
    let (ab, ac) = (sub(*b, *a), sub(*c, *a));
    let ap = sub(p, *a);
    let (d1, d2) = (dot(ab, ap), dot(ac, ap));
    if d1 <= 0.0 && d2 <= 0.0 {
        return *a;
    }
    let bp = sub(p, *b);
    let (d3, d4) = (dot(ab, bp), dot(ac, bp));
    if d3 >= 0.0 && d4 <= d3 {
        return *b;
    }
    let vc = d1 * d4 - d3 * d2;
    if vc <= 0.0 && d1 >= 0.0 && d3 <= 0.0 {
        return add(*a, scale(ab, d1 / (d1 - d3)));
    }
    let cp = sub(p, *c);
    let (d5, d6) = (dot(ab, cp), dot(ac, cp));
    if d6 >= 0.0 && d5 <= d6 {
        return *c;
    }
    let vb = d5 * d2 - d1 * d6;
    if vb <= 0.0 && d2 >= 0.0 && d6 <= 0.0 {
        return add(*a, scale(ac, d2 / (d2 - d6)));
    }
    let va = d3 * d6 - d5 * d4;
    if va <= 0.0 && d4 - d3 >= 0.0 && d5 - d6 >= 0.0 {
        return add(*b, scale(sub(*c, *b), (d4 - d3) / ((d4 - d3) + (d5 - d6))));
    }
    let whole = va + vb + vc;
    if whole <= 0.0 {
        return *a;
    }
    add(*a, add(scale(ab, vb / whole), scale(ac, vc / whole)))
}

/// Whether two triangles cross: an edge of one goes through the other. Touching and lying in one plane are no crossing.
#[must_use]
pub(crate) fn triangles_cross(a: &[Point; 3], b: &[Point; 3]) -> bool {
    let sides = |of: &[Point; 3], plane: &[Point; 3]| {
        let normal = cross(sub(plane[1], plane[0]), sub(plane[2], plane[0]));
        of.map(|p| dot(normal, sub(p, plane[0])))
    };
    let apart = |s: &[f64; 3]| s.iter().all(|x| *x >= 0.0) || s.iter().all(|x| *x <= 0.0);
    let of_a = sides(a, b);
    if apart(&of_a) {
        return false;
    }
    let of_b = sides(b, a);
    if apart(&of_b) {
        return false;
    }
    through(a, &of_a, b) || through(b, &of_b, a)
}

/// Whether an edge of `a`, whose corners lie on these sides of the plane of `b`, goes through `b`.
fn through(a: &[Point; 3], sides: &[f64; 3], b: &[Point; 3]) -> bool {
    (0..3).any(|i| {
        let (p, q) = (a[i], a[(i + 1) % 3]);
        if sides[i] * sides[(i + 1) % 3] >= 0.0 {
            return false;
        }
        let d = sub(q, p);
        let [x, y, z] = b.map(|c| sub(c, p));
        let volumes = [dot(d, cross(x, y)), dot(d, cross(y, z)), dot(d, cross(z, x))];
        volumes.iter().all(|v| *v > 0.0) || volumes.iter().all(|v| *v < 0.0)
    })
}

#[cfg(test)]
#[path = "tree_tests.rs"]
mod tests;
