//! Takes dimensions on bodies.

use std::sync::{Mutex, PoisonError};

use formkin_geometry::section::EdgePoint;
use formkin_geometry::vector::{add, cross, distance, dot, norm, scale, sub, unit};
use formkin_geometry::{Point, Template, hull, path};
use formkin_table::unit::per_base;

use crate::body::{Body, Scratch};
use crate::definition::{Cut, Direction, Extent, Kind, Line, Place};
use crate::expression::Expression;
use crate::parts::Parts;
use crate::piece::{HOLLOW, Piece, find};
use crate::schema::quantity;
use crate::slab::Between;
use crate::{Dimensions, Measured};

/// Definitions made ready for a template, to be taken on many bodies.
pub struct Taker<'a> {
    dimensions: &'a Dimensions,
    parts: Parts<'a>,
    formulas: Vec<Option<Expression>>,
    /// For each definition what its value in base units is multiplied by.
    factors: Vec<f64>,
    watertight: bool,
    scratch: Mutex<Vec<Scratch>>,
}

/// A value in base units with what goes with it.
#[derive(Default)]
struct Taken {
    value: f64,
    contour: Option<f64>,
    level_mm: Option<f64>,
    flags: Vec<String>,
    trace: Vec<Vec<Point>>,
}

/// The ring of a girth: points on edges, piece by piece, and whether each closes.
type Ring = Vec<(Vec<EdgePoint>, bool)>;

/// Dimensions that are followed from a reference shape through a movement. A girth keeps its ring: the points of the
/// skin that the tape lay on at the reference. Everything else is taken anew.
pub struct Follower<'a> {
    taker: &'a Taker<'a>,
    rings: Vec<Option<Ring>>,
}

impl Dimensions {
    /// Takes every dimension of one body, in order. A dimension that cannot be taken says why and does not stop the
    /// others. For many bodies make a [`Taker`] once.
    #[must_use]
    pub fn take(&self, template: &Template, positions: &[Point]) -> Vec<Measured> {
        Taker::new(self, template).take(positions)
    }
}

impl<'a> Taker<'a> {
    /// Makes definitions ready. Names that the template does not have make their dimension missing;
    /// [`Dimensions::check`] refuses them beforehand.
    #[must_use]
    pub fn new(dimensions: &'a Dimensions, template: &'a Template) -> Self {
        let formulas = dimensions
            .definitions
            .iter()
            .map(|d| match &d.kind {
                Kind::Derived { formula } => Expression::parse(formula).ok(),
                _ => None,
            })
            .collect();
        let factors = dimensions
            .definitions
            .iter()
            .map(|d| {
                let known = quantity(&d.kind).zip(d.unit.as_deref());
                known.and_then(|(quantity, unit)| per_base(quantity, unit)).unwrap_or(1.0)
            })
            .collect();
        let watertight = template.mesh.topology().summary().watertight;
        let places: Vec<&Place> = dimensions.frame.iter().flat_map(|f| [&f.left, &f.right]).collect();
        let parts = Parts::new(template, &dimensions.definitions, &places);
        Self { dimensions, parts, formulas, factors, watertight, scratch: Mutex::default() }
    }

    /// Looks at all triangles for every section and path, as the slow baseline that the fast way must equal.
    #[must_use]
    pub fn with_full_search(mut self) -> Self {
        self.parts.full = true;
        self
    }

    /// The definitions.
    #[must_use]
    pub fn dimensions(&self) -> &'a Dimensions {
        self.dimensions
    }

    /// Takes every dimension of one body, in order. A dimension that cannot be taken says why and does not stop the others.
    #[must_use]
    pub fn take(&self, positions: &[Point]) -> Vec<Measured> {
        self.all(positions, None)
    }

    /// Keeps the rings of the girths of a reference shape; see [`Follower`].
    #[must_use]
    pub fn follow(&'a self, reference: &[Point]) -> Follower<'a> {
        let body =
            (reference.len() == self.parts.used.len()).then(|| self.body(reference, Scratch::default()));
        let ring = |kind: &Kind| match (kind, &body) {
            (Kind::Girth { cut, .. }, Some(body)) => {
                find(body, cut, &Piece::tape).ok().map(|piece| piece.edges())
            }
            _ => None,
        };
        Follower { taker: self, rings: self.dimensions.definitions.iter().map(|d| ring(&d.kind)).collect() }
    }

    fn body<'b>(&'b self, positions: &'b [Point], scratch: Scratch) -> Body<'b> {
        Body::new(&self.parts, self.dimensions.frame.as_ref(), positions, scratch)
    }

    fn all(&self, positions: &[Point], rings: Option<&[Option<Ring>]>) -> Vec<Measured> {
        let definitions = &self.dimensions.definitions;
        let vertices = self.parts.used.len();
        if positions.len() != vertices {
            let reason = format!("{} positions on a template of {vertices} vertices", positions.len());
            return vec![Measured::missing(reason); definitions.len()];
        }
        let scratch = self.scratch.lock().unwrap_or_else(PoisonError::into_inner).pop();
        let body = self.body(positions, scratch.unwrap_or_default());
        let mut row: Vec<Measured> = Vec::with_capacity(definitions.len());
        for (i, definition) in definitions.iter().enumerate() {
            let taken = match (&definition.kind, rings.map(|r| &r[i])) {
                (Kind::Derived { .. }, _) => self.derived(i, &row),
                (Kind::Girth { line, .. }, Some(ring)) => match ring {
                    Some(ring) => followed(ring, *line, positions),
                    None => {
                        Err("it could not be taken on the reference shape, so there is no ring to follow"
                            .to_owned())
                    }
                },
                (kind, _) => self.one(&body, kind),
            };
            let factor = self.factors[i];
            let mut measured = match taken {
                Ok(t) if t.value.is_finite() => Measured {
                    value: Some(t.value * factor),
                    contour: t.contour.map(|c| c * factor),
                    level_mm: t.level_mm,
                    flags: t.flags,
                    trace: t.trace,
                    reason_missing: None,
                },
                Ok(_) => Measured::missing("its value is not finite"),
                Err(reason) => Measured::missing(reason),
            };
            if body.broken > 0 {
                measured.flags.push(format!("{} positions of this body are not finite", body.broken));
            }
            row.push(measured);
        }
        self.scratch.lock().unwrap_or_else(PoisonError::into_inner).push(body.into_scratch());
        row
    }

    fn derived(&self, i: usize, row: &[Measured]) -> Result<Taken, String> {
        let formula = self.formulas[i].as_ref().ok_or("its formula cannot be read")?;
        let value = formula.evaluate(|name| {
            self.dimensions
                .position(name)
                .and_then(|at| row.get(at))
                .and_then(|m| m.value)
                .ok_or_else(|| format!("`{name}` is missing"))
        })?;
        Ok(Taken { value, ..Taken::default() })
    }

    fn one(&self, body: &Body, kind: &Kind) -> Result<Taken, String> {
        match kind {
            Kind::Height { at, from } => height(body, at, from.as_ref()),
            Kind::Distance { between: [a, b] } => {
                let (a, b) = (body.place(a)?, body.place(b)?);
                Ok(Taken { value: distance(a, b), trace: vec![vec![a, b]], ..Taken::default() })
            }
            Kind::Breadth { extent } => extent_along(body, extent, body.direction(Direction::Left)?),
            Kind::Depth { extent } => extent_along(body, extent, body.direction(Direction::Front)?),
            Kind::Girth { cut, line } => girth(body, cut, *line),
            Kind::Path { through, path, bridged } => over_skin(body, through, path.as_deref(), *bridged),
            Kind::Area { region, slab: Some(slab) } => {
                let slab = Between::of(body, slab)?;
                let topology = body.parts.template.mesh.topology();
                let shares = if region.is_empty() { None } else { Some(&body.parts.part(region)?.shares) };
                let order = body.parts.clusters.order();
                let at =
                    |i: usize| topology.triangles()[order[i] as usize].map(|v| body.positions[v as usize]);
                let value = match shares {
                    None => (0..order.len()).map(|i| slab.area(at(i))).sum(),
                    Some(shares) => shares.iter().map(|(i, share)| share * slab.area(at(*i as usize))).sum(),
                };
                Ok(Taken { value, ..Taken::default() })
            }
            Kind::Area { region, slab: None } => {
                let areas = &body.surface().areas;
                let value = if region.is_empty() {
                    areas.iter().sum()
                } else {
                    let shares = &body.parts.part(region)?.shares;
                    shares.iter().map(|(i, share)| areas[*i as usize] * share).sum()
                };
                Ok(Taken { value, ..Taken::default() })
            }
            Kind::Volume { .. } if !self.watertight => {
                Err("the surface is open, so it has no volume: close it, or leave this dimension out"
                    .to_owned())
            }
            Kind::Volume { region, slab: Some(slab) } => {
                let slab = Between::of(body, slab)?;
                let value = if region.is_empty() {
                    body.parts
                        .ordered
                        .iter()
                        .map(|t| slab.volume(t.map(|v| body.positions[v as usize])))
                        .sum()
                } else {
                    body.parts.part(region)?.shell(body.parts)?.sum(body.positions, |t| slab.volume(t))
                };
                Ok(Taken { value, ..Taken::default() })
            }
            Kind::Volume { region, slab: None } if region.is_empty() => {
                Ok(Taken { value: body.surface().volume, ..Taken::default() })
            }
            Kind::Volume { region, slab: None } => {
                let shell = body.parts.part(region)?.shell(body.parts)?;
                Ok(Taken { value: shell.on(body.positions)?.volume, ..Taken::default() })
            }
            Kind::Angle { at, between: [a, b] } => {
                let (o, a, b) = (body.place(at)?, body.place(a)?, body.place(b)?);
                let to = |p: Point| unit(sub(p, o)).ok_or("two of its places are at one point");
                let (u, v) = (to(a)?, to(b)?);
                // well conditioned at 0 and 180 degrees too
                let value = norm(cross(u, v)).atan2(dot(u, v)).to_degrees();
                Ok(Taken { value, trace: vec![vec![a, o, b]], ..Taken::default() })
            }
            Kind::Derived { .. } => Err("a derived dimension is taken after the others".to_owned()),
        }
    }
}

impl Follower<'_> {
    /// Takes every dimension of one frame, in order; as [`Taker::take`], but girths keep their rings.
    #[must_use]
    pub fn take(&self, positions: &[Point]) -> Vec<Measured> {
        self.taker.all(positions, Some(&self.rings))
    }
}

fn height(body: &Body, at: &Place, from: Option<&Place>) -> Result<Taken, String> {
    let top = body.place(at)?;
    let low = match from {
        None => body.floor()?,
        Some(place) => body.place(place)?[2],
    };
    let foot = [top[0], top[1], low];
    Ok(Taken { value: top[2] - low, trace: vec![vec![top, foot]], ..Taken::default() })
}

fn extent_along(body: &Body, extent: &Extent, axis: Point) -> Result<Taken, String> {
    let (points, piece) = match extent {
        Extent::Places([a, b]) => (vec![body.place(a)?, body.place(b)?], None),
        Extent::Regions(names) => {
            let on = |v: u32| body.positions[v as usize];
            let points: Vec<Point> = if names.is_empty() {
                (0..body.positions.len() as u32).filter(|&v| body.parts.used[v as usize]).map(on).collect()
            } else {
                body.parts.part(names)?.vertices.iter().map(|&v| on(v)).collect()
            };
            (points, None)
        }
        Extent::Section(cut) => {
            let width =
                |piece: &Piece| ends(&piece.points(), axis).map_or(f64::NAN, |(a, b)| dot(axis, sub(b, a)));
            let piece = find(body, cut, &width)?;
            (piece.points(), Some(piece))
        }
    };
    let (low, high) = ends(&points, axis).ok_or("no position there is finite")?;
    let value = dot(axis, sub(high, low));
    let mut taken =
        Taken { value, trace: vec![vec![low, add(low, scale(axis, value)), high]], ..Taken::default() };
    if let Some(piece) = piece {
        taken.level_mm = Some(piece.level_mm);
        taken.flags = piece.flags;
    }
    Ok(taken)
}

/// The points furthest against and along an axis.
fn ends(points: &[Point], axis: Point) -> Option<(Point, Point)> {
    let along = |p: &Point| dot(axis, *p);
    let finite = || points.iter().filter(|p| along(p).is_finite());
    let low = finite().min_by(|a, b| along(a).total_cmp(&along(b)))?;
    let high = finite().max_by(|a, b| along(a).total_cmp(&along(b)))?;
    Some((*low, *high))
}

fn girth(body: &Body, cut: &Cut, line: Line) -> Result<Taken, String> {
    let piece = match line {
        Line::Tape => find(body, cut, &Piece::tape)?,
        Line::Contour => find(body, cut, &|p: &Piece| p.contour().unwrap_or(f64::NAN))?,
    };
    let mut taken = around(piece.tape(), piece.contour(), line, piece.flags.clone())?;
    taken.level_mm = Some(piece.level_mm);
    taken.trace = piece.loops.iter().map(|l| l.trace()).collect();
    if line == Line::Tape {
        let mut tape = hull::hull_in_plane(&piece.points(), piece.normal);
        tape.extend(tape.first().copied());
        taken.trace.insert(0, tape);
    }
    Ok(taken)
}

fn around(tape: f64, contour: Option<f64>, line: Line, mut flags: Vec<String>) -> Result<Taken, String> {
    if let Some(contour) = contour
        && contour > HOLLOW * tape
        && line == Line::Tape
    {
        flags.push(format!("the contour is {:.2} of the tape: the tape bridges a hollow", contour / tape));
    }
    let value = match line {
        Line::Tape => tape,
        Line::Contour => contour.ok_or("the section is not one closed loop, so it has no contour")?,
    };
    Ok(Taken { value, contour, flags, ..Taken::default() })
}

/// A ring on another shape. It is no longer flat: the tape is taken in the plane across its vector area, which is its own plane
/// where it is flat.
fn followed(ring: &Ring, line: Line, positions: &[Point]) -> Result<Taken, String> {
    let rows: Vec<(Vec<Point>, bool)> = ring
        .iter()
        .map(|(edges, closed)| (edges.iter().map(|e| e.on(positions)).collect(), *closed))
        .collect();
    let all: Vec<Point> = rows.iter().flat_map(|(row, _)| row.iter().copied()).collect();
    let middle = scale(all.iter().fold([0.0; 3], |s, &p| add(s, p)), 1.0 / all.len().max(1) as f64);
    let mut area = [0.0; 3];
    for (row, closed) in &rows {
        for pair in row.windows(2) {
            area = add(area, cross(sub(pair[0], middle), sub(pair[1], middle)));
        }
        if let (true, Some(&first), Some(&last)) = (closed, row.first(), row.last()) {
            area = add(area, cross(sub(last, middle), sub(first, middle)));
        }
    }
    let normal = unit(area).ok_or("the ring has collapsed to a line or is not finite")?;
    let tape = hull::hull_perimeter(&all, normal);
    let trace: Vec<Vec<Point>> = rows
        .iter()
        .map(|(row, closed)| {
            let mut row = row.clone();
            if *closed {
                row.extend(row.first().copied());
            }
            row
        })
        .collect();
    let contour = match rows.as_slice() {
        [(_, true)] => Some(path::polyline_length(&trace[0])),
        _ => None,
    };
    let mut taken = around(tape, contour, line, Vec::new())?;
    taken.trace = trace;
    Ok(taken)
}

fn over_skin(body: &Body, through: &[Place], named: Option<&str>, bridged: bool) -> Result<Taken, String> {
    let template = body.parts.template;
    let vertices: Vec<u32> = match named {
        Some(name) => {
            template.paths.get(name).cloned().ok_or_else(|| format!("the template has no path `{name}`"))?
        }
        None => through.iter().map(|p| body.vertex(p)).collect::<Result<_, _>>()?,
    };
    if vertices.len() < 2 {
        return Err("a path needs two vertices at least".to_owned());
    }
    let mut walk = body.walk.borrow_mut();
    let walk = body.boxes.is_some().then_some(&mut *walk);
    let skin = path::surface_path_in(template.mesh.topology(), body.positions, &vertices, walk)
        .ok_or("its places are not joined over the surface, or a position on the way is not finite")?;
    let length = path::polyline_length(&skin);
    if !bridged {
        return Ok(Taken { value: length, trace: vec![skin], ..Taken::default() });
    }
    let outward = vertices.iter().fold([0.0; 3], |s, &v| add(s, body.normal(v)));
    let string = bridge(&skin, outward).ok_or("its ends are at one point, or no side of it is outward")?;
    let mut taken =
        Taken { value: path::polyline_length(&string), contour: Some(length), ..Taken::default() };
    if length > HOLLOW * taken.value {
        taken
            .flags
            .push(format!("the skin is {:.2} of the tape: the tape bridges a hollow", length / taken.value));
    }
    taken.trace = vec![string, skin];
    Ok(taken)
}

/// The points of a way that a string pulled taut from its first to its last point touches, seen from outside: the
/// upper hull over the line between the ends.
fn bridge(skin: &[Point], outward: Point) -> Option<Vec<Point>> {
    let (&first, &last) = (skin.first()?, skin.last()?);
    let along = unit(sub(last, first))?;
    let up = unit(sub(outward, scale(along, dot(outward, along))))?;
    let length = distance(first, last);
    let mut flat: Vec<(f64, f64, Point)> = skin
        .iter()
        .map(|&p| (dot(sub(p, first), along), dot(sub(p, first), up), p))
        .filter(|(x, _, _)| *x > 0.0 && *x < length)
        .collect();
    flat.sort_by(|a, b| a.0.total_cmp(&b.0));
    flat.push((length, 0.0, last));
    let mut string = vec![(0.0, 0.0, first)];
    for p in flat {
        while let [.., a, b] = string.as_slice() {
            if (b.0 - a.0) * (p.1 - a.1) - (b.1 - a.1) * (p.0 - a.0) < 0.0 {
                break;
            }
            string.pop();
        }
        string.push(p);
    }
    Some(string.into_iter().map(|(_, _, p)| p).collect())
}

#[cfg(test)]
#[path = "take_tests.rs"]
mod tests;
