//! A strip of triangles from one vertex to another, and the taut string in it.
//!
//! The strip is unrolled into the plane, where the shortest way inside it is found exactly by the funnel method (Lee &
//! Preparata 1984); where that way bends around a vertex, the strip is led around the other side of the vertex and the way kept
//! if it is shorter. When no vertex is left that helps, the way is a local geodesic of the surface.

use crate::vector::{cross, distance, dot, lerp, norm, sub};
use crate::{Point, Topology};

/// The edges crossed, in order, on the way from one vertex to another. Successive edges are sides of one triangle;
/// the first is opposite `from`, the last opposite `to`; no edges where the two share one.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Strip {
    pub(crate) from: u32,
    pub(crate) to: u32,
    pub(crate) portals: Vec<[u32; 2]>,
}

/// More passes than this over the strip are not made; a way that starts along edges needs about one a row of triangles it is off.
const MOST_PASSES: usize = 2000;

type Flat = [f64; 2];

/// The taut way inside one strip.
struct Way {
    length: f64,
    /// For each portal where it is crossed, from its first to its second end.
    fractions: Vec<f64>,
    /// Vertices it bends around, each with the portal at which it does.
    bends: Vec<(u32, usize)>,
}

/// The other side of a vertex: the run of portals that would be replaced, and the neighbours from the one before the run to the
/// one after it.
struct Turn {
    first: usize,
    last: usize,
    row: Vec<u32>,
}

impl Strip {
    /// The strip beside a row of vertices joined by edges; `None` where the surface is torn on both sides of one of them.
    pub(crate) fn along(topology: &Topology, row: &[u32]) -> Option<Self> {
        let (&from, &to) = (row.first()?, row.last()?);
        let mut portals: Vec<[u32; 2]> = Vec::new();
        let mut last_third: Option<u32> = None;
        for corner in row.windows(3) {
            let [before, v, after] = [corner[0], corner[1], corner[2]];
            let thirds = third_vertices(topology, v, before);
            // keep to the side on which the strip already runs
            let mut sides = thirds.clone();
            sides.sort_by_key(|t| Some(*t) != last_third);
            let fan = sides.iter().find_map(|&first| fan(topology, v, before, first, after))?;
            if let (Some(last), Some(&first)) = (last_third, fan.first())
                && last != first
                && fan.first() != Some(&after)
            {
                push(&mut portals, [before, v]);
            }
            for &m in fan.iter().filter(|&&m| m != after) {
                push(&mut portals, [v, m]);
            }
            // the triangle that holds v and the next vertex
            last_third = fan.iter().rev().find(|&&m| m != after).copied().or(Some(before));
        }
        Some(Self { from, to, portals })
    }

    /// The points of the local geodesic that this strip leads to, both ends included.
    pub(crate) fn taut(mut self, topology: &Topology, positions: &[Point]) -> Vec<Point> {
        let at = |v: u32| positions[v as usize];
        let Some(mut way) = self.way(positions) else {
            return vec![at(self.from), at(self.to)];
        };
        for _ in 0..MOST_PASSES {
            let Some(other) = self.turned(topology, positions, &way) else { break };
            match other.way(positions) {
                Some(shorter) if shorter.length < way.length => (self, way) = (other, shorter),
                _ => break,
            }
        }
        let mut points = vec![at(self.from)];
        for (portal, fraction) in self.portals.iter().zip(&way.fractions) {
            let p = lerp(at(portal[0]), at(portal[1]), *fraction);
            if points.last().is_none_or(|&q| distance(p, q) > 1e-9) {
                points.push(p);
            }
        }
        points.push(at(self.to));
        points
    }

    /// The strip led around the other side of every vertex where that is less than half a turn, and so shorter; of
    /// vertices beside each other only the last. `None` where there is none.
    fn turned(&self, topology: &Topology, positions: &[Point], way: &Way) -> Option<Self> {
        let mut strip = self.clone();
        let mut untouched = self.portals.len() + 1;
        let mut any = false;
        for &(v, portal) in way.bends.iter().rev() {
            let Some(turn) = self.turn(topology, v, portal) else { continue };
            if turn.last + 1 >= untouched
                || self.angle(&turn, v, positions, way) >= std::f64::consts::PI - 1e-9
            {
                continue;
            }
            untouched = turn.first.saturating_sub(1);
            let mut portals: Vec<[u32; 2]> = self.portals[..turn.first].to_vec();
            let neighbours = turn.row.len();
            for (i, &m) in turn.row.iter().enumerate() {
                // an end of the whole way is reached, not crossed
                if (i > 0 || turn.first > 0) && (i + 1 < neighbours || turn.last + 1 < self.portals.len()) {
                    push(&mut portals, [v, m]);
                }
            }
            for &p in &strip.portals[turn.last + 1..] {
                push(&mut portals, p);
            }
            strip.portals = portals;
            any = true;
        }
        any.then_some(strip)
    }

    /// The angle at `v` on the other side, from the way's point before it to the one after.
    fn angle(&self, turn: &Turn, v: u32, positions: &[Point], way: &Way) -> f64 {
        let o = positions[v as usize];
        let crossed = |i: usize| {
            let [a, b] = self.portals[i].map(|v| positions[v as usize]);
            lerp(a, b, way.fractions[i])
        };
        let before = match turn.first {
            0 => positions[self.from as usize],
            first => crossed(first - 1),
        };
        let after = match turn.last + 1 {
            end if end == self.portals.len() => positions[self.to as usize],
            next => crossed(next),
        };
        let mut points = vec![before];
        points.extend(turn.row.iter().map(|&m| positions[m as usize]));
        points.push(after);
        points
            .windows(2)
            .map(|p| {
                let (a, b) = (sub(p[0], o), sub(p[1], o));
                norm(cross(a, b)).atan2(dot(a, b))
            })
            .sum()
    }

    /// The run of portals around vertex `v`, an end of `portal`, and the way around its other side; `None` where the
    /// surface has a boundary there.
    fn turn(&self, topology: &Topology, v: u32, portal: usize) -> Option<Turn> {
        let touches = |i: usize| self.portals[i].contains(&v);
        let other = |i: usize| self.portals[i][usize::from(self.portals[i][0] == v)];
        let mut first = portal;
        while first > 0 && touches(first - 1) {
            first -= 1;
        }
        let mut last = portal;
        while last + 1 < self.portals.len() && touches(last + 1) {
            last += 1;
        }
        // the corner of a neighbouring portal that the run around v does not share
        let corner = |beside: Option<usize>, end: u32, run: u32| match beside {
            None => end,
            Some(i) => self.portals[i][usize::from(self.portals[i][0] == run)],
        };
        let x = corner(first.checked_sub(1), self.from, other(first));
        let after = (last + 1 < self.portals.len()).then_some(last + 1);
        let y = corner(after, self.to, other(last));
        if x == y {
            // the run goes around all of v but for one edge: that edge is the other side
            return Some(Turn { first, last, row: vec![x] });
        }
        let mut away = third_vertices(topology, v, x);
        away.retain(|&m| m != other(first));
        let &[start] = away.as_slice() else { return None };
        let mut row = vec![x];
        row.extend(fan(topology, v, x, start, y)?);
        Some(Turn { first, last, row })
    }

    /// Unrolls the strip and pulls the string taut; `None` where successive edges are not sides of one triangle.
    fn way(&self, positions: &[Point]) -> Option<Way> {
        let space = |a: u32, b: u32| distance(positions[a as usize], positions[b as usize]);
        let Some(&[mut right, mut left]) = self.portals.first() else {
            return Some(Way { length: space(self.from, self.to), fractions: Vec::new(), bends: Vec::new() });
        };
        // where each portal lies: right end, left end, seen along the way
        let mut names = vec![[right, left]];
        let mut flat: Vec<[Flat; 2]> = Vec::with_capacity(self.portals.len() + 1);
        let r = [space(self.from, right), 0.0];
        let l = beyond([0.0, 0.0], r, space(self.from, left), space(right, left), -1.0);
        flat.push([r, l]);
        for next in &self.portals[1..] {
            let [r, l] = flat[flat.len() - 1];
            let keeps_left = next.contains(&left);
            if keeps_left == next.contains(&right) {
                return None;
            }
            let w = next[usize::from(next[0] == if keeps_left { left } else { right })];
            let p = beyond(r, l, space(right, w), space(left, w), 1.0);
            if keeps_left {
                right = w;
                flat.push([p, l]);
            } else {
                left = w;
                flat.push([r, p]);
            }
            names.push([right, left]);
        }
        let [r, l] = flat[flat.len() - 1];
        let goal = beyond(r, l, space(right, self.to), space(left, self.to), 1.0);
        Some(self.pull(&flat, &names, goal))
    }

    /// The funnel from the origin to the goal through unrolled portals.
    fn pull(&self, flat: &[[Flat; 2]], names: &[[u32; 2]], goal: Flat) -> Way {
        let turn = |o: Flat, a: Flat, b: Flat| (a[0] - o[0]) * (b[1] - o[1]) - (a[1] - o[1]) * (b[0] - o[0]);
        let n = flat.len();
        // corners of the way: the point, and the portal (n for the goal) at which it is reached
        let mut corners: Vec<(Flat, usize)> = vec![([0.0, 0.0], 0)];
        let mut bends = Vec::new();
        let mut apex = [0.0, 0.0];
        let (mut right, mut left) = (flat[0][0], flat[0][1]);
        let (mut right_at, mut left_at) = (0, 0);
        let mut i = 1;
        // each restart moves the apex on by a portal at least, so this ends
        while i <= n {
            let [r, l] = if i < n { flat[i] } else { [goal, goal] };
            // which side the next gate lies beyond, if any; until then it narrows the funnel
            let mut beyond = None;
            if turn(apex, right, r) >= 0.0 {
                if apex != right && turn(apex, left, r) > 0.0 && apex != left {
                    beyond = Some((left, left_at, 1));
                } else if i < n {
                    (right, right_at) = (r, i);
                }
            }
            if beyond.is_none() && turn(apex, left, l) <= 0.0 {
                if apex != left && turn(apex, right, l) < 0.0 && apex != right {
                    beyond = Some((right, right_at, 0));
                } else if i < n {
                    (left, left_at) = (l, i);
                }
            }
            match beyond {
                None => i += 1,
                Some((corner, at, end)) => {
                    corners.push((corner, at));
                    bends.push((names[at][end], at));
                    apex = corner;
                    i = restart(names, at, end);
                    if i < n {
                        ([right, left], right_at, left_at) = (flat[i], i, i);
                        i += 1;
                    } else {
                        break;
                    }
                }
            }
        }
        corners.push((goal, n));
        self.crossings(flat, names, &corners, bends)
    }

    /// Where the way with these corners crosses each portal.
    fn crossings(
        &self,
        flat: &[[Flat; 2]],
        names: &[[u32; 2]],
        corners: &[(Flat, usize)],
        bends: Vec<(u32, usize)>,
    ) -> Way {
        let length = corners.windows(2).map(|c| gap(c[0].0, c[1].0)).sum();
        let mut leg = 0;
        let fractions = (0..flat.len())
            .map(|i| {
                while leg + 2 < corners.len() && corners[leg + 1].1 < i {
                    leg += 1;
                }
                let (a, b) = (corners[leg].0, corners[leg + 1].0);
                let [r, l] = flat[i];
                let side = |p: Flat| (b[0] - a[0]) * (p[1] - a[1]) - (b[1] - a[1]) * (p[0] - a[0]);
                let (sr, sl) = (side(r), side(l));
                let t = if sr == sl { 0.0 } else { (sr / (sr - sl)).clamp(0.0, 1.0) };
                // from right to left; back to the order of the portal's own ends
                if names[i] == self.portals[i] { t } else { 1.0 - t }
            })
            .collect();
        Way { length, fractions, bends }
    }
}

/// The first portal after `at` that no longer has its right (0) or left (1) end there.
fn restart(names: &[[u32; 2]], at: usize, end: usize) -> usize {
    let v = names[at][end];
    let mut i = at;
    while i < names.len() && names[i][end] == v {
        i += 1;
    }
    i
}

fn gap(a: Flat, b: Flat) -> f64 {
    let (x, y) = (a[0] - b[0], a[1] - b[1]);
    (x * x + y * y).sqrt()
}

/// The corner of a triangle at these distances from two placed ones: to the right of the line from the first to the second
/// (`side` = 1) or to its left (-1).
fn beyond(a: Flat, b: Flat, from_a: f64, from_b: f64, side: f64) -> Flat {
    let base = gap(a, b);
    if base == 0.0 {
        return [a[0] + from_a, a[1]];
    }
    let e = [(b[0] - a[0]) / base, (b[1] - a[1]) / base];
    let along = (from_a * from_a - from_b * from_b + base * base) / (2.0 * base);
    let height = side * (from_a * from_a - along * along).max(0.0).sqrt();
    [a[0] + along * e[0] + height * e[1], a[1] + along * e[1] - height * e[0]]
}

/// Adds a portal; crossing the same edge twice in a row is not crossing it.
fn push(portals: &mut Vec<[u32; 2]>, [a, b]: [u32; 2]) {
    let portal = [a.min(b), a.max(b)];
    if portals.last().is_some_and(|&[c, d]| [c.min(d), c.max(d)] == portal) {
        portals.pop();
    } else {
        portals.push(portal);
    }
}

/// The third corners of the triangles on the edge from `v` to `w`, in order of triangles.
fn third_vertices(topology: &Topology, v: u32, w: u32) -> Vec<u32> {
    topology
        .fans()
        .around(v)
        .iter()
        .map(|&t| topology.triangles()[t as usize])
        .filter(|t| t.contains(&w))
        .filter_map(|t| t.into_iter().find(|&m| m != v && m != w))
        .collect()
}

/// The neighbours of `v` met on the way around it from `before`, by `first`, to `after`, which is the last of them;
/// `None` where a boundary, a third triangle on an edge, or a full turn comes in between.
fn fan(topology: &Topology, v: u32, before: u32, first: u32, after: u32) -> Option<Vec<u32>> {
    let most = topology.fans().around(v).len();
    let (mut previous, mut at) = (before, first);
    let mut row = vec![first];
    while at != after {
        if row.len() > most || at == before {
            return None;
        }
        let thirds = third_vertices(topology, v, at);
        if thirds.len() != 2 {
            return None;
        }
        let next = thirds[usize::from(thirds[0] == previous)];
        (previous, at) = (at, next);
        row.push(at);
    }
    Some(row)
}
