//! Which triangles a plane can meet, without looking at all of them.
//!
//! Triangles never change, so they are put into small groups near each other once, on the template. On a body each group has a box around
//! its vertices, and a plane looks only into the groups whose box it meets. Nothing is missed: the signed distance `normal . (p - point)`
//! is, in floating-point numbers too, monotone in every coordinate of `p` (each of its roundings is), so that the distances computed at the corners of a
//! box bound those computed at the vertices inside it, without any slack. A body of whatever shape widens its boxes, never the groups.

use crate::section::{Loop, Plane, section_of};
use crate::vector::dot;
use crate::{Point, Topology};

/// Triangles a group.
const SIZE: usize = 48;
/// Added to ranges along a normal, far above the rounding of distances on a body.
const SLACK_MM: f64 = 1e-3;

/// Triangles in groups near each other.
#[derive(Debug, Clone)]
pub struct Clusters {
    /// Triangles, group by group; ascending in each.
    triangles: Vec<u32>,
    /// Their vertices, group by group, each once.
    vertices: Vec<u32>,
    /// Where each group begins in both, and the end.
    starts: Vec<[u32; 2]>,
}

/// The groups on one body: a box each.
#[derive(Debug, Clone)]
pub struct Boxes<'a> {
    clusters: &'a Clusters,
    topology: &'a Topology,
    positions: &'a [Point],
    corners: Vec<[Point; 2]>,
}

impl Clusters {
    /// Groups the triangles of a template: halved along the longest side of their centres' box until small.
    ///
    /// Triangles with a vertex beyond `positions` are in no group.
    #[must_use]
    pub fn new(topology: &Topology, positions: &[Point]) -> Self {
        let all = topology.triangles();
        let centre = |t: u32| -> Point {
            let corners = all[t as usize].map(|v| positions[v as usize]);
            std::array::from_fn(|k| corners.iter().map(|c| c[k]).sum::<f64>() / 3.0)
        };
        let inside = |t: &u32| all[*t as usize].iter().all(|&v| (v as usize) < positions.len());
        let mut order: Vec<(u32, Point)> =
            (0..all.len() as u32).filter(inside).map(|t| (t, centre(t))).collect();
        let mut groups = Vec::new();
        split(&mut order, &mut groups);
        let mut made = Self { triangles: Vec::new(), vertices: Vec::new(), starts: Vec::new() };
        let mut seen = vec![u32::MAX; positions.len()];
        for (g, mut group) in groups.into_iter().enumerate() {
            made.starts.push([made.triangles.len() as u32, made.vertices.len() as u32]);
            group.sort_unstable();
            for &t in &group {
                for v in all[t as usize] {
                    if seen[v as usize] != g as u32 {
                        seen[v as usize] = g as u32;
                        made.vertices.push(v);
                    }
                }
            }
            made.triangles.extend(group);
        }
        made.starts.push([made.triangles.len() as u32, made.vertices.len() as u32]);
        made
    }

    /// The groups that hold a triangle with a corner in the mask.
    #[must_use]
    pub fn touching(&self, topology: &Topology, mask: &[bool]) -> Vec<u32> {
        let touches =
            |t: &u32| topology.triangles()[*t as usize].iter().any(|&v| mask.get(v as usize) == Some(&true));
        (0..self.starts.len().saturating_sub(1))
            .filter(|&g| self.triangles[self.range(g)].iter().any(touches))
            .map(|g| g as u32)
            .collect()
    }

    /// Every triangle once, those near each other beside each other: an order in which sums over a surface find its positions in the cache.
    #[must_use]
    pub fn order(&self) -> &[u32] {
        &self.triangles
    }

    fn range(&self, group: usize) -> std::ops::Range<usize> {
        self.starts[group][0] as usize..self.starts[group + 1][0] as usize
    }

    /// The groups on a body. `positions` must be as many as those of the template.
    #[must_use]
    pub fn on<'a>(&'a self, topology: &'a Topology, positions: &'a [Point]) -> Boxes<'a> {
        let corners = self
            .starts
            .windows(2)
            .map(|ends| {
                let mut low = [f64::INFINITY; 3];
                let mut high = [f64::NEG_INFINITY; 3];
                for &v in &self.vertices[ends[0][1] as usize..ends[1][1] as usize] {
                    // a triangle with a position that is not finite is never cut, so it need not be in the box
                    if let Some(p) = positions.get(v as usize).filter(|p| p.iter().all(|c| c.is_finite())) {
                        for k in 0..3 {
                            low[k] = low[k].min(p[k]);
                            high[k] = high[k].max(p[k]);
                        }
                    }
                }
                [low, high]
            })
            .collect();
        Boxes { clusters: self, topology, positions, corners }
    }
}

fn split(part: &mut [(u32, Point)], groups: &mut Vec<Vec<u32>>) {
    if part.len() <= SIZE {
        if !part.is_empty() {
            groups.push(part.iter().map(|(t, _)| *t).collect());
        }
        return;
    }
    let mut longest = (0, f64::NEG_INFINITY);
    for k in 0..3 {
        let values = || part.iter().map(|(_, c)| c[k]);
        let extent = values().fold(f64::NEG_INFINITY, f64::max) - values().fold(f64::INFINITY, f64::min);
        if extent > longest.1 {
            longest = (k, extent);
        }
    }
    let k = longest.0;
    let middle = part.len() / 2;
    part.select_nth_unstable_by(middle, |a, b| a.1[k].total_cmp(&b.1[k]).then(a.0.cmp(&b.0)));
    let (low, high) = part.split_at_mut(middle);
    split(low, groups);
    split(high, groups);
}

impl Boxes<'_> {
    /// The triangles that have vertices on both sides of the plane, ascending: exactly those that [`section`](crate::section::section) cuts.
    #[must_use]
    pub fn cut(&self, plane: &Plane) -> Vec<u32> {
        let mut found = self.cut_among(plane, None, |_| true);
        found.sort_unstable();
        found
    }

    /// As [`Boxes::cut`], of the triangles of some groups only (`None` for all) and of those that are wanted; in no order.
    #[must_use]
    pub fn cut_among(
        &self,
        plane: &Plane,
        groups: Option<&[u32]>,
        wanted: impl Fn([u32; 3]) -> bool,
    ) -> Vec<u32> {
        let side = |p: Point| plane.side(p);
        // not a number counts as meeting
        self.groups(
            plane.normal,
            groups,
            |near, far| side(near) >= 0.0 || side(far) < 0.0,
            |corners| {
                let s = corners.map(|v| side(self.positions[v as usize]));
                s.iter().any(|s| *s >= 0.0) && s.iter().any(|s| *s < 0.0) && wanted(corners)
            },
        )
    }

    /// The section by a plane; the same to the last bit as [`section`](crate::section::section) of all triangles.
    #[must_use]
    pub fn section(&self, plane: &Plane) -> Vec<Loop> {
        section_of(self.topology, self.positions, plane, &self.cut(plane))
    }

    /// The triangles that reach into `low` to `high` along a unit normal: every triangle that a plane across it there cuts, and a few more. Of some groups only
    /// (`None` for all) and of those that are wanted; in no order.
    #[must_use]
    pub fn reaching(
        &self,
        normal: Point,
        low: f64,
        high: f64,
        groups: Option<&[u32]>,
        wanted: impl Fn([u32; 3]) -> bool,
    ) -> Vec<u32> {
        let along = |p: Point| dot(normal, p);
        let (low, high) = (low - SLACK_MM, high + SLACK_MM);
        self.groups(
            normal,
            groups,
            |near, far| along(near) > high || along(far) < low,
            |corners| {
                let a = corners.map(|v| along(self.positions[v as usize]));
                a.iter().any(|a| *a <= high) && a.iter().any(|a| *a >= low) && wanted(corners)
            },
        )
    }

    /// The groups that a plane meets and whose box reaches into another.
    #[must_use]
    pub fn near(&self, plane: &Plane, [low, high]: [Point; 2]) -> Vec<u32> {
        let meets = |g: &usize| {
            let [a, b] = self.corners[*g];
            let near: Point = std::array::from_fn(|k| if plane.normal[k] >= 0.0 { a[k] } else { b[k] });
            let far: Point = std::array::from_fn(|k| if plane.normal[k] >= 0.0 { b[k] } else { a[k] });
            (0..3).all(|k| a[k] <= high[k] && b[k] >= low[k])
                && plane.side(near) < 0.0
                && plane.side(far) >= 0.0
        };
        (0..self.corners.len()).filter(meets).map(|g| g as u32).collect()
    }

    /// Triangles that pass `keep`, of the groups that `beyond` does not rule out; it sees the corners of a box nearest and furthest along the normal.
    fn groups(
        &self,
        normal: Point,
        among: Option<&[u32]>,
        beyond: impl Fn(Point, Point) -> bool,
        keep: impl Fn([u32; 3]) -> bool,
    ) -> Vec<u32> {
        let all = self.topology.triangles();
        let mut found = Vec::new();
        let mut look = |g: usize| {
            let [a, b] = self.corners[g];
            let near: Point = std::array::from_fn(|k| if normal[k] >= 0.0 { a[k] } else { b[k] });
            let far: Point = std::array::from_fn(|k| if normal[k] >= 0.0 { b[k] } else { a[k] });
            // an empty box: no vertex of the group is finite
            if a[0] > b[0] || beyond(near, far) {
                return;
            }
            found.extend(
                self.clusters.triangles[self.clusters.range(g)].iter().filter(|&&t| keep(all[t as usize])),
            );
        };
        match among {
            None => (0..self.corners.len()).for_each(&mut look),
            Some(some) => some.iter().for_each(|&g| look(g as usize)),
        }
        found
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::section::section;
    use crate::section::tests::sphere;

    #[test]
    fn sections_by_groups_are_those_of_all_triangles_to_the_last_bit() {
        let (topology, rest) = sphere(500.0, 40);
        let clusters = Clusters::new(&topology, &rest);
        assert!(clusters.starts.len() > 60);
        for round in 0..12 {
            let f = f64::from(round);
            // bodies far from the one that was grouped
            let mut body: Vec<Point> = rest
                .iter()
                .map(|p| [p[0] * (1.0 + 0.2 * f), p[1] + 40.0 * (0.01 * f * p[2]).sin(), p[2] - 30.0 * f])
                .collect();
            if round > 8 {
                body[77] = [f64::NAN; 3];
                body[500][2] = f64::INFINITY;
            }
            let boxes = clusters.on(&topology, &body);
            for i in 0..40 {
                let a = f64::from(i);
                let point = body[(i * 31) as usize % 70];
                let plane =
                    Plane::new(point, [(a * 0.7).sin(), (a * 1.3).cos(), 0.3 + (a * 0.4).sin()]).unwrap();
                assert_eq!(boxes.section(&plane), section(&topology, &body, &plane));
                // through vertices, on which distances are 0
                let level = Plane::horizontal(body[(i * 53 + 80) as usize][2]);
                assert_eq!(boxes.section(&level), section(&topology, &body, &level));
                let z = level.point[2];
                let near = boxes.reaching([0.0, 0.0, 1.0], z - 5.0, z + 5.0, None, |_| true);
                assert!(boxes.cut(&level).iter().all(|t| near.contains(t)));
            }
        }
    }
}
