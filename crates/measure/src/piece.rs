//! The piece of a plane section that a dimension is about, and the search for its level.

use formkin_geometry::section::{EdgePoint, Loop, Plane, section, section_of};
use formkin_geometry::vector::{cross, distance, dot, scale, sub, unit};
use formkin_geometry::{Point, hull};

use crate::body::{Body, UP};
use crate::contact::contact;
use crate::definition::{Cut, Extreme, Level};
use crate::parts::Part;

/// Contours longer than the tape by more than this are flagged: the tape bridges hollows.
pub(crate) const HOLLOW: f64 = 1.03;
/// Longer ranges are not searched: no body is so long.
const LONGEST_SEARCH_MM: f64 = 4000.0;
/// A piece of which less lies in its regions is flagged (our choice).
const MOST: f64 = 0.9;
/// The level of an extreme is found to this, in mm.
const LEVEL_TOLERANCE_MM: f64 = 0.02;

/// A piece of a section.
#[derive(Debug, Clone)]
pub(crate) struct Piece {
    pub(crate) loops: Vec<Loop>,
    pub(crate) normal: Point,
    /// How far along the normal the plane is from the floor or the first end of the axis, in mm.
    pub(crate) level_mm: f64,
    pub(crate) flags: Vec<String>,
}

impl Piece {
    pub(crate) fn points(&self) -> Vec<Point> {
        self.loops.iter().flat_map(|l| l.points.iter().copied()).collect()
    }

    pub(crate) fn tape(&self) -> f64 {
        hull::hull_perimeter(&self.points(), self.normal)
    }

    /// The length of the line itself; `None` where the piece is not one closed loop.
    pub(crate) fn contour(&self) -> Option<f64> {
        match self.loops.as_slice() {
            [only] if only.closed => Some(only.length()),
            _ => None,
        }
    }

    pub(crate) fn edges(&self) -> Vec<(Vec<EdgePoint>, bool)> {
        self.loops.iter().map(|l| (l.edges.clone(), l.closed)).collect()
    }
}

/// A cut made ready for one body.
struct Ready<'a> {
    body: &'a Body<'a>,
    cut: &'a Cut,
    normal: Point,
    origin: f64,
    region: Option<&'a Part>,
    around: Option<Point>,
    /// Which triangles stay; `None` for all.
    kept: Option<&'a [bool]>,
}

/// Triangles slice by slice.
struct Slices {
    starts: Vec<u32>,
    triangles: Vec<u32>,
}

impl Slices {
    fn at(&self, slice: usize) -> &[u32] {
        &self.triangles[self.starts[slice] as usize..self.starts[slice + 1] as usize]
    }
}

/// Finds the piece, at a level for which `value` is largest or least where the cut asks for a search.
pub(crate) fn find(body: &Body, cut: &Cut, value: &dyn Fn(&Piece) -> f64) -> Result<Piece, String> {
    let (normal, origin) = match (&cut.axis, cut.plane.as_deref()) {
        (_, Some([a, b, c])) => {
            let (a, b, c) = (body.place(a)?, body.place(b)?, body.place(c)?);
            let normal =
                unit(cross(sub(b, a), sub(c, a))).ok_or("the three places of its plane are on one line")?;
            let normal = if normal[2] < 0.0 { scale(normal, -1.0) } else { normal };
            (normal, dot(normal, a))
        }
        (None, None) => (UP, body.floor()?),
        (Some([a, b]), None) => {
            let (a, b) = (body.place(a)?, body.place(b)?);
            let normal = unit(sub(b, a)).ok_or("both ends of its axis are at one point")?;
            (normal, dot(normal, a))
        }
    };
    let ready = Ready {
        body,
        cut,
        normal,
        origin,
        region: if cut.region.is_empty() { None } else { Some(body.parts.part(&cut.region)?) },
        around: cut.around.as_ref().map(|p| body.place(p)).transpose()?,
        kept: body.parts.kept(&cut.without)?,
    };
    let along = |p: Point| dot(normal, p);
    let mut piece = match &cut.level {
        Level::At { place, offset_mm } => ready.piece(along(body.place(place)?) + offset_mm, None),
        Level::Between { ends: [a, b], fraction } => {
            let (a, b) = (along(body.place(a)?), along(body.place(b)?));
            ready.piece(a + fraction * (b - a), None)
        }
        Level::Search { ends: [a, b], which, step_mm } => {
            let (a, b) = (along(body.place(a)?), along(body.place(b)?));
            ready.search(a.min(b), a.max(b), *which, *step_mm, value)
        }
    }?;
    if let (Some(part), [only]) = (ready.region, piece.loops.as_slice()) {
        let share = share(only, &part.mask);
        if share < MOST {
            piece.flags.push(format!(
                "only {:.0} % of the section lies in {}: another part of the body is joined to it there",
                100.0 * share,
                cut.region.join(" or ")
            ));
        }
    }
    let level = piece.level_mm + origin;
    let plane = Plane { point: std::array::from_fn(|k| level * normal[k]), normal };
    piece.flags.extend(contact(body, &piece.loops, &plane));
    Ok(piece)
}

impl Ready<'_> {
    /// Whether a triangle can be of a loop that lies mostly in the region: such a loop runs over one with a corner in it.
    fn wanted(&self, corners: [u32; 3]) -> bool {
        self.region.is_none_or(|part| corners.iter().any(|&v| part.mask[v as usize]))
    }

    /// For each of some slices of equal thickness, from `low` up, the wanted triangles that reach into it, and perhaps a few more.
    fn slices(&self, low: f64, thickness: f64, count: usize) -> Slices {
        let topology = self.body.parts.template.mesh.topology().triangles();
        let along = |v: u32| (dot(self.normal, self.body.positions[v as usize]) - low) / thickness;
        let reached = match &self.body.boxes {
            Some(boxes) => {
                let high = low + thickness * count as f64;
                let groups = self.region.map(|part| part.groups.as_slice());
                boxes.reaching(self.normal, low, high, groups, |corners| self.wanted(corners))
            }
            None => (0..topology.len() as u32).collect(),
        };
        let mut starts = vec![0u32; count + 1];
        let mut spans: Vec<(u32, u32, u32)> = Vec::with_capacity(reached.len());
        for t in reached {
            let [a, b, c] = topology[t as usize].map(along);
            let (from, to) = (a.min(b).min(c) - 1e-6, a.max(b).max(c) + 1e-6);
            if from < count as f64 && to >= 0.0 && self.kept.is_none_or(|k| k[t as usize]) {
                let last = (to as usize).min(count - 1);
                let first = (from.max(0.0) as usize).min(last);
                spans.push((t, first as u32, last as u32));
                for start in &mut starts[first + 1..=last + 1] {
                    *start += 1;
                }
            }
        }
        for i in 0..count {
            starts[i + 1] += starts[i];
        }
        let mut next = starts.clone();
        let mut triangles = vec![0; starts[count] as usize];
        for (t, first, last) in spans {
            for slot in &mut next[first as usize..=last as usize] {
                triangles[*slot as usize] = t;
                *slot += 1;
            }
        }
        Slices { starts, triangles }
    }

    fn search(
        &self,
        low: f64,
        high: f64,
        which: Extreme,
        step: f64,
        value: &dyn Fn(&Piece) -> f64,
    ) -> Result<Piece, String> {
        if high - low > LONGEST_SEARCH_MM {
            return Err(format!(
                "the range to search is {:.0} mm long, and a body is not: check the units",
                high - low
            ));
        }
        let steps = ((high - low) / step).ceil().max(1.0) as usize;
        let slices = self.slices(low, ((high - low) / steps as f64).max(1e-9), steps);
        let level = |i: f64| low + (high - low) * (i / steps as f64).clamp(0.0, 1.0);
        let better = |new: f64, old: f64| match which {
            Extreme::Largest => new > old,
            Extreme::Least => new < old,
        };
        let mut best: Option<(f64, f64, Piece)> = None;
        let mut last_reason = String::new();
        let mut try_level = |i: f64, best: &mut Option<(f64, f64, Piece)>| -> Option<f64> {
            let slice = slices.at((i.max(0.0) as usize).min(steps - 1));
            match self.piece(level(i), Some(slice)) {
                Err(reason) => {
                    last_reason = reason;
                    None
                }
                Ok(piece) => {
                    let v = value(&piece);
                    if v.is_finite() && best.as_ref().is_none_or(|(old, _, _)| better(v, *old)) {
                        *best = Some((v, i, piece));
                    }
                    Some(v)
                }
            }
        };
        for i in 0..=steps {
            try_level(i as f64, &mut best);
        }
        let Some((_, at, _)) = best else {
            return Err(if self.cut.region.is_empty() {
                format!("at no level searched: {last_reason}")
            } else {
                format!(
                    "at no level searched does a piece of the section lie mostly in {}",
                    self.cut.region.join(" or ")
                )
            });
        };
        // golden section between the neighbours of the best
        let inverse = 0.618_033_988_749_894_9;
        let (mut a, mut b) = ((at - 1.0).max(0.0), (at + 1.0).min(steps as f64));
        let (mut c, mut d) = (b - inverse * (b - a), a + inverse * (b - a));
        let (mut at_c, mut at_d) = (try_level(c, &mut best), try_level(d, &mut best));
        while (b - a) * step > LEVEL_TOLERANCE_MM {
            let Some((vc, vd)) = at_c.zip(at_d) else { break };
            if better(vc, vd) {
                (b, d, at_d) = (d, c, at_c);
                c = b - inverse * (b - a);
                at_c = try_level(c, &mut best);
            } else {
                (a, c, at_c) = (c, d, at_d);
                d = a + inverse * (b - a);
                at_d = try_level(d, &mut best);
            }
        }
        let Some((_, at, mut piece)) = best else { return Err(last_reason) };
        if steps > 1 && (at < 0.5 || at > steps as f64 - 0.5) {
            let which = if which == Extreme::Largest { "largest" } else { "least" };
            piece.flags.push(format!("the {which} value is at an end of the range searched"));
        }
        Ok(piece)
    }

    /// The piece at a level; of these triangles, where only they can meet it.
    fn piece(&self, level: f64, slice: Option<&[u32]>) -> Result<Piece, String> {
        let plane = Plane { point: std::array::from_fn(|k| level * self.normal[k]), normal: self.normal };
        let mut loops = self.loops(&plane, slice);
        if let Some(part) = self.region {
            loops.retain(|l| mostly(l, &part.mask));
            if loops.is_empty() {
                return Err(format!(
                    "no piece of the section lies mostly in {}",
                    self.cut.region.join(" or ")
                ));
            }
        }
        if loops.is_empty() {
            return Err("the plane does not meet the surface".to_owned());
        }
        if let Some(place) = self.around {
            // the place may lie off the plane: it is looked at along the normal
            let shift = level - dot(self.normal, place);
            let on_plane = std::array::from_fn(|k| place[k] + shift * self.normal[k]);
            loops.retain(|l| l.surrounds(on_plane, self.normal));
            if loops.is_empty() {
                return Err("no piece of the section runs around the place it should surround".to_owned());
            }
        }
        let mut flags = Vec::new();
        if self.cut.without.is_empty() {
            // the longest, the first of equals
            if loops.len() > 1 {
                let lengths: Vec<f64> = loops.iter().map(Loop::length).collect();
                let mut longest = 0;
                for i in 1..loops.len() {
                    if lengths[i] > lengths[longest] {
                        longest = i;
                    }
                }
                loops = vec![loops.swap_remove(longest)];
            }
            if !loops[0].closed {
                flags.push("the section is open: the surface has a boundary there".to_owned());
            }
        } else if loops.len() > 1 || !loops[0].closed {
            flags.push(format!("the tape bridges where {} is taken away", self.cut.without.join(", ")));
        }
        Ok(Piece { loops, normal: self.normal, level_mm: level - self.origin, flags })
    }

    /// The loops of the section that can be the piece; of a slice, where only its triangles can meet the plane.
    fn loops(&self, plane: &Plane, slice: Option<&[u32]>) -> Vec<Loop> {
        let topology = self.body.parts.template.mesh.topology();
        let positions = self.body.positions;
        match (&self.body.boxes, slice) {
            (Some(_), Some(slice)) => {
                self.body.walk.borrow_mut().section(topology, positions, plane, slice, self.kept)
            }
            (Some(boxes), None) => {
                let groups = self.region.map(|part| part.groups.as_slice());
                let seeds = boxes.cut_among(plane, groups, |corners| self.wanted(corners));
                self.body.walk.borrow_mut().section(topology, positions, plane, &seeds, self.kept)
            }
            (None, Some(slice)) => section_of(topology, positions, plane, slice),
            (None, None) => match self.kept {
                None => section(topology, positions, plane),
                Some(kept) => {
                    let all = (0..kept.len() as u32).filter(|&t| kept[t as usize]).collect::<Vec<_>>();
                    section_of(topology, positions, plane, &all)
                }
            },
        }
    }
}

/// Whether more than half of a loop's length lies in a region.
fn mostly(line: &Loop, mask: &[bool]) -> bool {
    let inside = line.edges.iter().filter(|e| mask[e.nearest() as usize]).count();
    if inside == 0 || inside == line.edges.len() { inside > 0 } else { share(line, mask) > 0.5 }
}

/// How much of a loop's length lies in a region.
fn share(line: &Loop, mask: &[bool]) -> f64 {
    let n = line.points.len();
    let mut inside = 0.0;
    let mut all = 0.0;
    for i in 0..if line.closed { n } else { n - 1 } {
        let j = (i + 1) % n;
        let length = distance(line.points[i], line.points[j]);
        let ends = [i, j].map(|k| f64::from(u8::from(mask[line.edges[k].nearest() as usize])));
        inside += 0.5 * length * (ends[0] + ends[1]);
        all += length;
    }
    inside / all
}
