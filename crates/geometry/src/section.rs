//! Plane sections into closed loops.
//!
//! A vertex exactly on the plane counts as lying on the side the normal points to (a symbolic perturbation, the same
//! for every triangle), so that every triangle is crossed through exactly two of its sides or not at all, and loops
//! close whatever vertices the plane meets. Points of shared sides are computed once a side, from its lower to its
//! higher vertex, so that neighbouring triangles agree to the last bit.

use crate::vector::{add, cross, dot, lerp, norm, scale, sub, unit};
use crate::{GeometryError, Point, Topology};

/// A plane.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Plane {
    /// A point of it, in mm.
    pub point: Point,
    /// Its unit normal.
    pub normal: Point,
}

impl Plane {
    /// The plane through `point` across `direction`, which need not be of unit length.
    ///
    /// # Errors
    /// [`GeometryError::NoDirection`] where the direction has no length or is not finite.
    pub fn new(point: Point, direction: Point) -> Result<Self, GeometryError> {
        match unit(direction) {
            Some(normal) => Ok(Self { point, normal }),
            None => Err(GeometryError::NoDirection { direction }),
        }
    }

    /// The horizontal plane at a height in mm, its normal up.
    #[must_use]
    pub fn horizontal(height: f64) -> Self {
        Self { point: [0.0, 0.0, height], normal: [0.0, 0.0, 1.0] }
    }

    /// The signed distance of a point in mm, positive on the side the normal points to.
    #[inline]
    #[must_use]
    pub fn side(&self, p: Point) -> f64 {
        dot(self.normal, sub(p, self.point))
    }

    /// Two unit vectors that span the plane, so that (first, second, normal) is right-handed.
    #[inline]
    #[must_use]
    pub fn basis(&self) -> (Point, Point) {
        basis(self.normal)
    }
}

/// Two unit vectors across a unit normal, right-handed with it. The first is across the coordinate axis that the
/// normal is least along, so the answer is stable.
#[must_use]
pub fn basis(normal: Point) -> (Point, Point) {
    let mut least = 0;
    for k in 1..3 {
        if normal[k].abs() < normal[least].abs() {
            least = k;
        }
    }
    let mut axis = [0.0; 3];
    axis[least] = 1.0;
    let first = unit(cross(axis, normal)).unwrap_or([1.0, 0.0, 0.0]);
    (first, cross(normal, first))
}

/// A point on an edge of the mesh: it moves with the surface, so that a ring found on one frame can be followed on others.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct EdgePoint {
    /// The ends of the edge, lower vertex first.
    pub ends: [u32; 2],
    /// Where between them: 0 at the first, 1 at the second.
    pub fraction: f64,
}

impl EdgePoint {
    /// The point on these positions.
    ///
    /// # Panics
    /// Where an end is beyond `positions`.
    #[inline]
    #[must_use]
    pub fn on(&self, positions: &[Point]) -> Point {
        let [a, b] = self.ends.map(|v| positions[v as usize]);
        if self.fraction == 0.0 {
            a
        } else if self.fraction == 1.0 {
            b
        } else {
            lerp(a, b, self.fraction)
        }
    }

    /// The end it is nearest to.
    #[inline]
    #[must_use]
    pub fn nearest(&self) -> u32 {
        self.ends[usize::from(self.fraction > 0.5)]
    }

    /// Whether it is exactly at this vertex.
    #[inline]
    #[must_use]
    pub(crate) fn is_at(&self, vertex: u32) -> bool {
        (self.ends[0] == vertex && self.fraction == 0.0) || (self.ends[1] == vertex && self.fraction == 1.0)
    }
}

/// A piece of a plane section: a polyline in the plane.
#[derive(Debug, Clone, PartialEq)]
pub struct Loop {
    /// Its points in order, in mm; the first is not repeated at the end of a closed one. Seen against the normal, a
    /// loop around the inside of an outward surface runs counter-clockwise.
    pub points: Vec<Point>,
    /// Whether the last point joins the first. Open pieces come from surfaces with a boundary and from `section_of`.
    pub closed: bool,
    /// A vertex near it: names the part of the body that was cut.
    pub component_seed: u32,
    /// The edge of the mesh that each point lies on.
    pub edges: Vec<EdgePoint>,
}

impl Loop {
    /// Its length in mm, the closing side included where it is closed.
    #[must_use]
    pub fn length(&self) -> f64 {
        self.sides().map(|(a, b)| norm(sub(b, a))).sum()
    }

    /// The centre of its line (not of its area): the mean of the middles of its sides, weighted by their lengths.
    #[must_use]
    pub fn centroid(&self) -> Point {
        let mut sum = [0.0; 3];
        let mut total = 0.0;
        for (a, b) in self.sides() {
            let length = norm(sub(b, a));
            sum = add(sum, scale(add(a, b), 0.5 * length));
            total += length;
        }
        if total > 0.0 { scale(sum, 1.0 / total) } else { self.points.first().copied().unwrap_or_default() }
    }

    /// The signed area inside it in mm2, positive where it runs counter-clockwise seen against the normal. An open
    /// piece is closed by a straight side.
    #[must_use]
    pub fn area(&self, normal: Point) -> f64 {
        let Some(&o) = self.points.first() else { return 0.0 };
        let mut sum = 0.0;
        for pair in self.points.windows(2) {
            sum += dot(normal, cross(sub(pair[0], o), sub(pair[1], o)));
        }
        0.5 * sum
    }

    /// Whether it runs around a point of its plane (even-odd rule; open pieces are closed by a straight side).
    #[must_use]
    pub fn surrounds(&self, point: Point, normal: Point) -> bool {
        let (u, v) = basis(normal);
        let flat = |p: Point| {
            let d = sub(p, point);
            [dot(d, u), dot(d, v)]
        };
        let mut inside = false;
        for i in 0..self.points.len() {
            let a = flat(self.points[i]);
            let b = flat(self.points[(i + 1) % self.points.len()]);
            if (a[1] > 0.0) != (b[1] > 0.0) && a[0] + (b[0] - a[0]) * a[1] / (a[1] - b[1]) > 0.0 {
                inside = !inside;
            }
        }
        inside
    }

    /// Its points for drawing: a closed one ends where it begins.
    #[must_use]
    pub fn trace(&self) -> Vec<Point> {
        let mut points = self.points.clone();
        if self.closed {
            points.extend(self.points.first().copied());
        }
        points
    }

    /// The sides, from point to point; the closing one last.
    fn sides(&self) -> impl Iterator<Item = (Point, Point)> + '_ {
        let n = self.points.len();
        let count = if self.closed { n } else { n.saturating_sub(1) };
        (0..count).map(move |i| (self.points[i], self.points[(i + 1) % n]))
    }
}

/// The section of a surface by a plane: every closed loop, and open chains where the surface has a boundary, in the
/// order of their lowest triangle. Triangles with a position that is not finite are left out (which opens the loop
/// there); so are pieces without length, where the plane only touches the surface.
#[must_use]
pub fn section(topology: &Topology, positions: &[Point], plane: &Plane) -> Vec<Loop> {
    let sides: Vec<f64> = positions.iter().map(|&p| plane.side(p)).collect();
    let cut = (0..topology.triangles().len() as u32)
        .filter_map(|t| cross_triangle(topology, t, |v| sides.get(v as usize).copied()));
    finish_all(&cut.collect::<Vec<_>>(), positions)
}

/// As [`section`], of some triangles only, in the order given. A triangle beyond the topology is left out.
#[must_use]
pub fn section_of(topology: &Topology, positions: &[Point], plane: &Plane, triangles: &[u32]) -> Vec<Loop> {
    let side = |v: u32| positions.get(v as usize).map(|&p| plane.side(p));
    let cut = triangles.iter().filter_map(|&t| cross_triangle(topology, t, side));
    finish_all(&cut.collect::<Vec<_>>(), positions)
}

/// Where the plane enters a triangle (from its far side to the normal's) and where it leaves.
pub(crate) type Cut = [EdgePoint; 2];

#[inline]
pub(crate) fn cross_triangle(topology: &Topology, t: u32, side: impl Fn(u32) -> Option<f64>) -> Option<Cut> {
    let corners = *topology.triangles().get(t as usize)?;
    let mut s = [0.0; 3];
    for k in 0..3 {
        s[k] = side(corners[k]).filter(|s| s.is_finite())?;
    }
    let positive = s.map(|s| s >= 0.0);
    if positive == [true; 3] || positive == [false; 3] {
        return None;
    }
    let [a, b, c] = corners;
    if a == b || b == c || c == a {
        return None;
    }
    let (mut enter, mut leave) = (None, None);
    for k in 0..3 {
        let (i, j) = (k, (k + 1) % 3);
        if positive[i] != positive[j] {
            let (low, high) = if corners[i] < corners[j] { (i, j) } else { (j, i) };
            // a side of zero gives exactly 0 or 1
            let point =
                EdgePoint { ends: [corners[low], corners[high]], fraction: s[low] / (s[low] - s[high]) };
            *(if positive[i] { &mut enter } else { &mut leave }) = Some(point);
        }
    }
    Some([enter?, leave?])
}

/// Links the cuts of triangles into loops and chains through the edges they share.
pub(crate) fn chain(cuts: &[Cut]) -> Vec<(Vec<EdgePoint>, bool)> {
    // (edge, cut, which end of it), sorted: the two cuts on an edge are beside each other
    let mut ends: Vec<([u32; 2], u32, u8)> = Vec::with_capacity(2 * cuts.len());
    for (i, cut) in cuts.iter().enumerate() {
        for (e, point) in cut.iter().enumerate() {
            ends.push((point.ends, i as u32, e as u8));
        }
    }
    ends.sort_unstable();
    let mut used = vec![false; cuts.len()];
    // the next unused cut on an edge, and the end at which it is entered
    let next = |edge: [u32; 2], used: &[bool]| {
        let from = ends.partition_point(|e| e.0 < edge);
        ends[from..]
            .iter()
            .take_while(|e| e.0 == edge)
            .find(|e| !used[e.1 as usize])
            .map(|&(_, cut, end)| (cut as usize, end as usize))
    };
    let mut rows = Vec::new();
    for first in 0..cuts.len() {
        if used[first] {
            continue;
        }
        used[first] = true;
        let mut row = vec![cuts[first][0], cuts[first][1]];
        let mut closed = false;
        while let Some((cut, end)) = row.last().and_then(|p| next(p.ends, &used)) {
            used[cut] = true;
            let point = cuts[cut][1 - end];
            if point.ends == row[0].ends {
                closed = true;
                break;
            }
            row.push(point);
        }
        if !closed {
            let mut before = Vec::new();
            while let Some((cut, end)) =
                before.last().or(row.first()).and_then(|p: &EdgePoint| next(p.ends, &used))
            {
                used[cut] = true;
                before.push(cuts[cut][1 - end]);
            }
            before.reverse();
            before.append(&mut row);
            row = before;
        }
        rows.push((row, closed));
    }
    rows
}

fn finish_all(cuts: &[Cut], positions: &[Point]) -> Vec<Loop> {
    chain(cuts).iter().filter_map(|(row, closed)| finish(row, *closed, positions)).collect()
}

/// Drops points that repeat the one before; `None` where no length is left.
pub(crate) fn finish(row: &[EdgePoint], closed: bool, positions: &[Point]) -> Option<Loop> {
    let component_seed = row.first()?.nearest();
    let mut points: Vec<Point> = Vec::with_capacity(row.len());
    let mut edges: Vec<EdgePoint> = Vec::with_capacity(row.len());
    for edge in row {
        let p = edge.on(positions);
        if points.last() != Some(&p) {
            points.push(p);
            edges.push(*edge);
        }
    }
    if closed && points.len() > 1 && points.first() == points.last() {
        points.pop();
        edges.pop();
    }
    (points.len() > 1).then_some(Loop { points, closed, component_seed, edges })
}

#[cfg(test)]
#[path = "section_tests.rs"]
pub(crate) mod tests;
