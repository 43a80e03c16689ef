//! A body as flat areas: its outline and, inside, where it turns away from the light. What a picture of many bodies is drawn from.

use std::collections::BTreeMap;
use std::fmt::Write as _;

use formkin_geometry::{Point, areas, vector};

/// Side of a cell of the picture, in mm.
const CELL_MM: f64 = 5.0;
/// A body is at most so many cells wide or tall; cells grow where it would be more.
const MOST_CELLS: f64 = 900.0;
/// Brightness, 0 to 1, under which the shaded areas lie, the lightest first.
const SHADES: [f64; 4] = [0.80, 0.64, 0.47, 0.30];
/// Corners of an area move by at most so much of a cell when it is simplified.
const SIMPLER: f64 = 0.4;

/// From where a body is seen: what lies right, what lies up and where the eye is, in the body's frame.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Eye {
    right: Point,
    towards: Point,
    light: Point,
}

/// From the front, and from its left. Bodies look towards -y, as everywhere in the program's pictures.
pub(crate) const FRONT: Eye =
    Eye { right: [1.0, 0.0, 0.0], towards: [0.0, -1.0, 0.0], light: [-0.42, -0.78, 0.46] };
pub(crate) const LEFT: Eye =
    Eye { right: [0.0, 1.0, 0.0], towards: [1.0, 0.0, 0.0], light: [0.78, -0.42, 0.46] };

/// A body as closed areas in whole mm: x to the right from the middle of the body, y downwards from the floor (so negative). The first is the outline; the others darken what they hold, one over the other.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Outline {
    /// SVG paths.
    pub(crate) paths: Vec<String>,
    /// How far it reaches to the left and to the right, in mm.
    pub(crate) reach: (f64, f64),
    /// How high it is, in mm.
    pub(crate) height: f64,
}

/// Draws a body that stands on z = 0; None for one without extent.
pub(crate) fn outline(positions: &[Point], triangles: &[[u32; 3]], eye: &Eye) -> Option<Outline> {
    let across: Vec<f64> = positions.iter().map(|p| vector::dot(*p, eye.right)).collect();
    let ends = |values: &mut dyn Iterator<Item = f64>| {
        values.fold((f64::INFINITY, f64::NEG_INFINITY), |e, v| (e.0.min(v), e.1.max(v)))
    };
    let (left, right) = ends(&mut across.iter().copied());
    let (low, high) = ends(&mut positions.iter().map(|p| p[2]));
    if !(right > left && high > low && (right - left).is_finite() && (high - low).is_finite()) {
        return None;
    }
    let cell = CELL_MM.max((right - left).max(high - low) / MOST_CELLS);
    let picture = Picture::of(positions, &across, triangles, eye, (left, low), (right, high), cell)?;
    let middle = (left + right) / 2.0;
    let at = |x: f64, y: f64| (picture.origin.0 + x * cell - middle, -(picture.origin.1 + y * cell));
    let mut paths = vec![path(&picture.areas(&picture.body, 0.5), at)];
    for shade in SHADES {
        paths.push(path(&picture.areas(&picture.dark, 1.0 - shade), at));
    }
    Some(Outline { paths, reach: (middle - left, right - middle), height: high.max(0.0) })
}

/// Cells in rows from below.
struct Picture {
    columns: usize,
    rows: usize,
    /// Where the middle of the first cell lies: across and up, in mm.
    origin: (f64, f64),
    /// Share of the cell that the body fills.
    body: Vec<f64>,
    /// How dark it is: 0 outside and where the light falls straight on it.
    dark: Vec<f64>,
}

/// Every cell is looked at so many times in each direction.
const FINE: usize = 3;

/// The share of every cell that the body fills, and how dark it is there, from the fine cells: how near the body is and how light.
fn cells(depth: &[f64], light: &[f64], columns: usize, rows: usize) -> (Vec<f64>, Vec<f64>) {
    let wide = columns * FINE;
    let mut body = vec![0.0; columns * rows];
    let mut dark = vec![0.0; columns * rows];
    for y in 0..rows {
        for x in 0..columns {
            let (mut seen, mut sum) = (0.0, 0.0);
            for i in (0..FINE * FINE).map(|k| (y * FINE + k / FINE) * wide + x * FINE + k % FINE) {
                if depth[i].is_finite() {
                    seen += 1.0;
                    sum += 1.0 - light[i];
                }
            }
            body[y * columns + x] = seen / (FINE * FINE) as f64;
            dark[y * columns + x] = if seen > 0.0 { sum / seen } else { 0.0 };
        }
    }
    (body, dark)
}

impl Picture {
    fn of(
        positions: &[Point],
        across: &[f64],
        triangles: &[[u32; 3]],
        eye: &Eye,
        low: (f64, f64),
        high: (f64, f64),
        cell: f64,
    ) -> Option<Self> {
        // two empty cells all round
        let count = |length: f64| (length / cell).ceil() as usize + 5;
        let (columns, rows) = (count(high.0 - low.0), count(high.1 - low.1));
        let origin = (low.0 - 2.0 * cell, low.1 - 2.0 * cell);
        let fine = cell / FINE as f64;
        let (wide, tall) = (columns * FINE, rows * FINE);
        let mut depth = vec![f64::NEG_INFINITY; wide * tall];
        let mut light = vec![0.0; wide * tall];
        let normals = smooth_normals(positions, triangles);
        let lit = vector::unit(eye.light)?;
        for t in triangles {
            let [a, b, c] = t.map(|v| v as usize);
            if [a, b, c].iter().any(|&v| v >= positions.len()) {
                return None;
            }
            // in fine cells; the middle of cell i lies at i
            let place = |v: usize| {
                let shift = (FINE as f64 - 1.0) / 2.0;
                ((across[v] - origin.0) / fine + shift, (positions[v][2] - origin.1) / fine + shift)
            };
            let (pa, pb, pc) = (place(a), place(b), place(c));
            let twice = (pb.0 - pa.0) * (pc.1 - pa.1) - (pc.0 - pa.0) * (pb.1 - pa.1);
            if twice.abs() < 1e-12 {
                continue;
            }
            let range = |x: f64, y: f64, z: f64, most: usize| {
                let first = x.min(y).min(z).ceil().max(0.0) as usize;
                (first, (x.max(y).max(z).floor().max(-1.0) + 1.0).min(most as f64) as usize)
            };
            let (x0, x1) = range(pa.0, pb.0, pc.0, wide);
            let (y0, y1) = range(pa.1, pb.1, pc.1, tall);
            for y in y0..y1 {
                for x in x0..x1 {
                    let (px, py) = (x as f64, y as f64);
                    let wb = ((px - pa.0) * (pc.1 - pa.1) - (pc.0 - pa.0) * (py - pa.1)) / twice;
                    let wc = ((pb.0 - pa.0) * (py - pa.1) - (px - pa.0) * (pb.1 - pa.1)) / twice;
                    let wa = 1.0 - wb - wc;
                    if wa < -1e-9 || wb < -1e-9 || wc < -1e-9 {
                        continue;
                    }
                    let near = |v: usize| vector::dot(positions[v], eye.towards);
                    let d = wa * near(a) + wb * near(b) + wc * near(c);
                    let i = y * wide + x;
                    if d > depth[i] {
                        depth[i] = d;
                        let n: Point = std::array::from_fn(|k| {
                            wa * normals[a][k] + wb * normals[b][k] + wc * normals[c][k]
                        });
                        let n = vector::unit(n).unwrap_or(eye.towards);
                        light[i] = (0.35 + 0.65 * vector::dot(n, lit)).clamp(0.0, 1.0);
                    }
                }
            }
        }
        let (body, dark) = cells(&depth, &light, columns, rows);
        let dark = softened(&dark, &body, columns);
        Some(Self { columns, rows, origin, body, dark })
    }

    /// The closed lines along which `field` passes `level` (marching squares), in cells. Together with the even-odd rule they are the areas above it.
    fn areas(&self, field: &[f64], level: f64) -> Vec<Vec<(f64, f64)>> {
        // The crossing on an edge of the grid: (cell, whether the edge goes up) -> place. Every crossing has two neighbours.
        let value = |x: usize, y: usize| field[y * self.columns + x];
        let mut next: BTreeMap<(usize, bool), Vec<(usize, bool)>> = BTreeMap::new();
        for y in 0..self.rows - 1 {
            for x in 0..self.columns - 1 {
                let i = y * self.columns + x;
                let corners =
                    [value(x, y), value(x + 1, y), value(x + 1, y + 1), value(x, y + 1)].map(|v| v >= level);
                // bottom, right, top, left
                let edges = [(i, false), (i + 1, true), (i + self.columns, false), (i, true)];
                let crossed: Vec<usize> = (0..4).filter(|&k| corners[k] != corners[(k + 1) % 4]).collect();
                let mut join = |a: usize, b: usize| {
                    next.entry(edges[a]).or_default().push(edges[b]);
                    next.entry(edges[b]).or_default().push(edges[a]);
                };
                match crossed.as_slice() {
                    [a, b] => join(*a, *b),
                    [_, _, _, _] => {
                        let middle = (value(x, y) + value(x + 1, y) + value(x + 1, y + 1) + value(x, y + 1))
                            / 4.0
                            >= level;
                        if middle == corners[0] {
                            join(0, 1);
                            join(2, 3);
                        } else {
                            join(3, 0);
                            join(1, 2);
                        }
                    }
                    _ => {}
                }
            }
        }
        let place = |(i, up): (usize, bool)| {
            let (x, y) = (i % self.columns, i / self.columns);
            let (a, b) = (value(x, y), if up { value(x, y + 1) } else { value(x + 1, y) });
            let along = ((level - a) / (b - a)).clamp(0.0, 1.0);
            if up { (x as f64, y as f64 + along) } else { (x as f64 + along, y as f64) }
        };
        let mut lines = Vec::new();
        while let Some((&start, _)) = next.first_key_value() {
            let mut line = vec![place(start)];
            let mut at = start;
            // walks on until there is no way left: back at the start
            while let Some(to) = next.get_mut(&at).and_then(Vec::pop) {
                if next.get(&at).is_some_and(Vec::is_empty) {
                    next.remove(&at);
                }
                if let Some(ways) = next.get_mut(&to) {
                    if let Some(k) = ways.iter().position(|w| *w == at) {
                        ways.swap_remove(k);
                    }
                    if ways.is_empty() {
                        next.remove(&to);
                    }
                }
                at = to;
                line.push(place(at));
            }
            next.remove(&start);
            lines.push(line);
        }
        lines
    }
}

/// Unit normals of the vertices, outwards where the triangles are.
fn smooth_normals(positions: &[Point], triangles: &[[u32; 3]]) -> Vec<Point> {
    let mut normals = vec![[0.0; 3]; positions.len()];
    for t in triangles {
        let corner = |v: u32| positions.get(v as usize).copied().unwrap_or_default();
        let n = areas::vector_area(corner(t[0]), corner(t[1]), corner(t[2]));
        for v in t {
            if let Some(sum) = normals.get_mut(*v as usize) {
                *sum = vector::add(*sum, n);
            }
        }
    }
    normals.into_iter().map(|n| vector::unit(n).unwrap_or([0.0; 3])).collect()
}

/// The mean over the neighbours that the body fills, twice, so that areas have calm edges.
fn softened(dark: &[f64], body: &[f64], columns: usize) -> Vec<f64> {
    let mut field = dark.to_vec();
    for _ in 0..2 {
        let from = field.clone();
        for i in columns + 1..field.len().saturating_sub(columns + 1) {
            if body[i] == 0.0 {
                continue;
            }
            let (mut sum, mut weight) = (0.0, 0.0);
            for row in [i - columns, i, i + columns] {
                for k in [row - 1, row, row + 1] {
                    sum += from[k] * body[k];
                    weight += body[k];
                }
            }
            field[i] = sum / weight;
        }
    }
    field
}

/// Lines as one SVG path, simplified, in whole mm.
fn path(lines: &[Vec<(f64, f64)>], at: impl Fn(f64, f64) -> (f64, f64)) -> String {
    let mut d = String::new();
    for line in lines {
        let kept = simpler(line);
        // specks say nothing
        if kept.len() < 4 || area(&kept) < 6.0 {
            continue;
        }
        let mut last = (0_i64, 0_i64);
        for (k, &(x, y)) in kept.iter().enumerate() {
            let (x, y) = at(x, y);
            let (x, y) = (x.round() as i64, y.round() as i64);
            let (command, dx, dy) = if k == 0 { ('M', x, y) } else { ('l', x - last.0, y - last.1) };
            last = (x, y);
            let _ = write!(d, "{command}{dx} {dy}");
        }
        d.push('Z');
    }
    d
}

/// Area within a closed line, in cells.
fn area(line: &[(f64, f64)]) -> f64 {
    let twice: f64 = line.windows(2).map(|w| w[0].0 * w[1].1 - w[1].0 * w[0].1).sum();
    (twice / 2.0).abs()
}

/// A closed line (its last point is its first) with fewer points (Douglas & Peucker 1973).
fn simpler(line: &[(f64, f64)]) -> Vec<(f64, f64)> {
    let mut keep = vec![false; line.len()];
    let half = line.len() / 2;
    let mut open = vec![(0, half), (half, line.len() - 1)];
    for i in [0, half, line.len() - 1] {
        keep[i] = true;
    }
    while let Some((a, b)) = open.pop() {
        let (p, q) = (line[a], line[b]);
        let length = (q.0 - p.0).hypot(q.1 - p.1);
        let off = |i: usize| {
            let r = (line[i].0 - p.0, line[i].1 - p.1);
            if length < 1e-12 {
                r.0.hypot(r.1)
            } else {
                ((q.0 - p.0) * r.1 - (q.1 - p.1) * r.0).abs() / length
            }
        };
        let far = (a + 1..b).map(|i| (i, off(i))).max_by(|x, y| x.1.total_cmp(&y.1));
        if let Some((i, _)) = far.filter(|f| f.1 > SIMPLER) {
            keep[i] = true;
            open.extend([(a, i), (i, b)]);
        }
    }
    line.iter().zip(&keep).filter(|(_, k)| **k).map(|(p, _)| *p).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A ball of 100 mm on the floor.
    fn ball() -> (Vec<Point>, Vec<[u32; 3]>) {
        let (rings, around) = (24_u32, 48_u32);
        let mut positions = Vec::new();
        for r in 0..=rings {
            let (sin, cos) = (std::f64::consts::PI * f64::from(r) / f64::from(rings)).sin_cos();
            for k in 0..around {
                let (s, c) = (std::f64::consts::TAU * f64::from(k) / f64::from(around)).sin_cos();
                positions.push([100.0 * sin * c, 100.0 * sin * s, 100.0 - 100.0 * cos]);
            }
        }
        let mut triangles = Vec::new();
        for r in 0..rings {
            for k in 0..around {
                let (a, b) = (r * around + k, r * around + (k + 1) % around);
                triangles.extend([[a, b, a + around], [b, b + around, a + around]]);
            }
        }
        (positions, triangles)
    }

    #[test]
    fn a_ball_is_a_disc_with_its_shade_inside() {
        let (positions, triangles) = ball();
        let across: Vec<f64> = positions.iter().map(|p| p[0]).collect();
        let picture =
            Picture::of(&positions, &across, &triangles, &FRONT, (-100.0, 0.0), (100.0, 200.0), 5.0).unwrap();
        let disc = picture.areas(&picture.body, 0.5);
        assert_eq!(disc.len(), 1);
        let found = area(&disc[0]) * 25.0;
        assert!((found / (std::f64::consts::PI * 1e4) - 1.0).abs() < 0.01, "{found}");
        let drawn = outline(&positions, &triangles, &FRONT).unwrap();
        assert_eq!(drawn.paths.len(), 1 + SHADES.len());
        assert!((drawn.reach.0 - 100.0).abs() < 1.0 && (drawn.height - 200.0).abs() < 1.0);
        // each shade lies within the one before, and the lightest within the body
        let size = |level: f64| picture.areas(&picture.dark, level).iter().map(|l| area(l)).sum::<f64>();
        let sizes: Vec<f64> = SHADES.iter().map(|s| size(1.0 - s)).collect();
        assert!(sizes.windows(2).all(|w| w[0] > w[1]) && area(&disc[0]) > sizes[0], "{sizes:?}");
    }

    #[test]
    fn nothing_is_drawn_of_what_has_no_extent() {
        assert!(outline(&[], &[], &FRONT).is_none());
        assert!(outline(&[[f64::NAN; 3]; 3], &[[0, 1, 2]], &LEFT).is_none());
        assert!(outline(&[[0.0, 0.0, 0.0], [1.0, 0.0, 1.0]], &[[0, 1, 7]], &LEFT).is_none());
    }
}
