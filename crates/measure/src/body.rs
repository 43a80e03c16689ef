//! One body as the dimensions see it: where its places are, where the floor is, which way is left.

use std::borrow::Cow;
use std::cell::OnceCell;
use std::collections::BTreeMap;

use formkin_geometry::clusters::{Boxes, Clusters};
use formkin_geometry::vector::{add, cross, dot, scale, sub, unit};
use formkin_geometry::{Point, Template, areas};

use crate::Frame;
use crate::definition::{Definition, Direction, Place};

/// Up.
pub(crate) const UP: Point = [0.0, 0.0, 1.0];

/// What does not change from body to body.
pub(crate) struct Parts<'a> {
    pub(crate) template: &'a Template,
    /// For each region whether each vertex is in it.
    pub(crate) masks: BTreeMap<&'a str, Vec<bool>>,
    /// Vertices on a triangle.
    pub(crate) used: Vec<bool>,
    /// For regions that are taken away, the triangles that stay, by triangle.
    kept: BTreeMap<Vec<String>, Vec<bool>>,
    /// The triangles in groups; `None` to look at all of them always.
    pub(crate) clusters: Option<Clusters>,
}

impl<'a> Parts<'a> {
    pub(crate) fn new(template: &'a Template, definitions: &[Definition]) -> Self {
        let vertices = template.mesh.topology().vertices();
        let masks = template
            .regions
            .iter()
            .map(|(name, list)| {
                let mut mask = vec![false; vertices];
                for &v in list {
                    if let Some(m) = mask.get_mut(v as usize) {
                        *m = true;
                    }
                }
                (name.as_str(), mask)
            })
            .collect();
        let mut used = vec![false; vertices];
        for v in template.mesh.topology().triangles().iter().flatten() {
            used[*v as usize] = true;
        }
        let clusters = Some(Clusters::new(template.mesh.topology(), template.mesh.positions()));
        let mut parts = Self { template, masks, used, kept: BTreeMap::new(), clusters };
        for cut in definitions.iter().filter_map(|d| d.kind.cut()).filter(|c| !c.without.is_empty()) {
            if let Ok(kept) = parts.without(&cut.without) {
                parts.kept.insert(cut.without.clone(), kept);
            }
        }
        parts
    }

    /// Whether each vertex is in one of these regions.
    pub(crate) fn mask(&self, regions: &[String]) -> Result<Cow<'_, [bool]>, String> {
        let of = |name: &String| {
            self.masks.get(name.as_str()).ok_or_else(|| format!("the template has no region `{name}`"))
        };
        if let [only] = regions {
            return Ok(Cow::Borrowed(of(only)?));
        }
        let mut all = vec![false; self.used.len()];
        for name in regions {
            for (a, m) in all.iter_mut().zip(of(name)?) {
                *a |= m;
            }
        }
        Ok(Cow::Owned(all))
    }

    /// Whether each triangle stays where these regions are taken away: one whose corners are not mostly in them.
    fn without(&self, regions: &[String]) -> Result<Vec<bool>, String> {
        let mask = self.mask(regions)?;
        let kept = |t: &[u32; 3]| t.iter().filter(|v| mask[**v as usize]).count() < 2;
        Ok(self.template.mesh.topology().triangles().iter().map(kept).collect())
    }

    /// As made ready for the definitions; `None` where nothing is taken away.
    pub(crate) fn kept(&self, regions: &[String]) -> Result<Option<&[bool]>, String> {
        if regions.is_empty() {
            return Ok(None);
        }
        match self.kept.get(regions) {
            Some(kept) => Ok(Some(kept)),
            None => {
                Err(self.mask(regions).err().unwrap_or_else(|| "its regions were not made ready".to_owned()))
            }
        }
    }
}

/// One body.
pub(crate) struct Body<'a> {
    pub(crate) parts: &'a Parts<'a>,
    pub(crate) positions: &'a [Point],
    /// Height of the lowest vertex; `None` where no position is finite.
    pub(crate) floor: Option<f64>,
    /// Which way is left: a horizontal unit vector, or why it is not known.
    left: Result<Point, String>,
    /// Positions that are not finite.
    pub(crate) broken: usize,
    /// The groups of triangles on this body.
    pub(crate) boxes: Option<Boxes<'a>>,
    areas: OnceCell<Vec<f64>>,
}

impl<'a> Body<'a> {
    pub(crate) fn new(parts: &'a Parts<'a>, frame: Option<&Frame>, positions: &'a [Point]) -> Self {
        let mut floor: Option<f64> = None;
        let mut broken = 0;
        for (p, used) in positions.iter().zip(&parts.used) {
            if !p.iter().all(|c| c.is_finite()) {
                broken += 1;
            } else if *used && floor.is_none_or(|f| p[2] < f) {
                floor = Some(p[2]);
            }
        }
        let boxes = parts.clusters.as_ref().map(|c| c.on(parts.template.mesh.topology(), positions));
        let left = Ok([1.0, 0.0, 0.0]);
        let mut body = Self { parts, positions, floor, left, broken, boxes, areas: OnceCell::new() };
        if let Some(frame) = frame {
            body.left = body.left_of(frame);
        }
        body
    }

    fn left_of(&self, frame: &Frame) -> Result<Point, String> {
        let across = sub(self.place(&frame.left)?, self.place(&frame.right)?);
        unit([across[0], across[1], 0.0])
            .ok_or_else(|| "left and right of the frame are above each other, so no side is left".to_owned())
    }

    /// The direction as a unit vector.
    pub(crate) fn direction(&self, direction: Direction) -> Result<Point, String> {
        Ok(match direction {
            Direction::Up => UP,
            Direction::Down => scale(UP, -1.0),
            Direction::Left => self.left.clone()?,
            Direction::Right => scale(self.left.clone()?, -1.0),
            Direction::Front => cross(self.left.clone()?, UP),
            Direction::Back => cross(UP, self.left.clone()?),
        })
    }

    pub(crate) fn floor(&self) -> Result<f64, String> {
        self.floor.ok_or_else(|| "no position is finite, so there is no floor".to_owned())
    }

    /// Where a place is, in mm.
    pub(crate) fn place(&self, place: &Place) -> Result<Point, String> {
        match place {
            Place::Landmark(_) | Place::Furthest { .. } => {
                self.vertex(place).map(|v| self.positions[v as usize])
            }
            Place::Joint(name) => {
                let joint = self.parts.template.joints.iter().find(|j| &j.name == name);
                let ring = &joint.ok_or_else(|| format!("the template has no joint `{name}`"))?.ring;
                let sum = ring.iter().fold([0.0; 3], |s, &v| add(s, self.positions[v as usize]));
                finite(scale(sum, 1.0 / ring.len() as f64), || format!("joint `{name}`"))
            }
            Place::Middle(list) => {
                let mut sum = [0.0; 3];
                for place in list {
                    sum = add(sum, self.place(place)?);
                }
                Ok(scale(sum, 1.0 / list.len() as f64))
            }
        }
    }

    /// The vertex of a place that is one.
    pub(crate) fn vertex(&self, place: &Place) -> Result<u32, String> {
        match place {
            Place::Landmark(name) => {
                let v = *self
                    .parts
                    .template
                    .landmarks
                    .get(name)
                    .ok_or_else(|| format!("the template has no landmark `{name}`"))?;
                finite(self.positions[v as usize], || format!("landmark `{name}`"))?;
                Ok(v)
            }
            Place::Furthest { direction, region } => {
                let axis = self.direction(*direction)?;
                let mask = if region.is_empty() { None } else { Some(self.parts.mask(region)?) };
                let mut best: Option<(f64, u32)> = None;
                for (v, p) in self.positions.iter().enumerate() {
                    let inside = mask.as_ref().map_or(self.parts.used[v], |m| m[v]);
                    let along = dot(axis, *p);
                    if inside && along.is_finite() && best.is_none_or(|(b, _)| along > b) {
                        best = Some((along, v as u32));
                    }
                }
                best.map(|(_, v)| v).ok_or_else(|| "no vertex there has a finite position".to_owned())
            }
            Place::Joint(_) | Place::Middle(_) => Err("this place is no vertex of the surface".to_owned()),
        }
    }

    /// The area of each vertex in mm2, found once.
    pub(crate) fn areas(&self) -> &[f64] {
        self.areas.get_or_init(|| areas::vertex_areas(self.parts.template.mesh.topology(), self.positions))
    }

    /// The sum of the vector areas around a vertex.
    pub(crate) fn normal(&self, vertex: u32) -> Point {
        let topology = self.parts.template.mesh.topology();
        topology.fans().around(vertex).iter().fold([0.0; 3], |sum, &t| {
            let [a, b, c] = topology.triangles()[t as usize].map(|v| self.positions[v as usize]);
            add(sum, areas::vector_area(a, b, c))
        })
    }
}

fn finite(p: Point, what: impl Fn() -> String) -> Result<Point, String> {
    if p.iter().all(|c| c.is_finite()) { Ok(p) } else { Err(format!("{} has no finite position", what())) }
}
