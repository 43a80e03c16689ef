//! One body as the dimensions see it: where its places are, where the floor is, which way is left.

use std::cell::{Cell, OnceCell, RefCell};

use formkin_geometry::clusters::Boxes;
use formkin_geometry::vector::{add, cross, dot, norm, scale, sub, unit};
use formkin_geometry::walk::Walk;
use formkin_geometry::{Point, areas};

use crate::Frame;
use crate::definition::{Direction, Place};
use crate::parts::Parts;

/// Up.
pub(crate) const UP: Point = [0.0, 0.0, 1.0];

/// One body.
pub(crate) struct Body<'a> {
    pub(crate) parts: &'a Parts<'a>,
    pub(crate) positions: &'a [Point],
    /// The lowest and the highest vertex; `None` where no position is finite.
    ends: Option<[u32; 2]>,
    /// Which way is left: a horizontal unit vector, or why it is not known.
    left: Result<Point, String>,
    /// Positions that are not finite.
    pub(crate) broken: usize,
    /// The groups of triangles on this body; `None` to look at all triangles always.
    pub(crate) boxes: Option<Boxes<'a>>,
    /// For walks over this body.
    pub(crate) walk: RefCell<Walk>,
    areas: Cell<Vec<f64>>,
    surface: OnceCell<Surface>,
}

/// What is used again from body to body, so that it need not be made anew.
#[derive(Debug, Default)]
pub(crate) struct Scratch {
    walk: Walk,
    areas: Vec<f64>,
}

/// The whole surface.
pub(crate) struct Surface {
    /// The area of each triangle in mm2, in the order of the groups.
    pub(crate) areas: Vec<f64>,
    /// The signed volume in mm3.
    pub(crate) volume: f64,
}

impl<'a> Body<'a> {
    pub(crate) fn new(
        parts: &'a Parts<'a>,
        frame: Option<&Frame>,
        positions: &'a [Point],
        scratch: Scratch,
    ) -> Self {
        let mut ends: Option<[u32; 2]> = None;
        let mut broken = 0;
        for (v, (p, used)) in positions.iter().zip(&parts.used).enumerate() {
            if !p.iter().all(|c| c.is_finite()) {
                broken += 1;
            } else if *used {
                let [low, high] = ends.get_or_insert([v as u32; 2]);
                if p[2] < positions[*low as usize][2] {
                    *low = v as u32;
                }
                if p[2] > positions[*high as usize][2] {
                    *high = v as u32;
                }
            }
        }
        let boxes = (!parts.full).then(|| parts.clusters.on(parts.template.mesh.topology(), positions));
        let left = Ok([1.0, 0.0, 0.0]);
        let (walk, areas) = (RefCell::new(scratch.walk), Cell::new(scratch.areas));
        let surface = OnceCell::new();
        let mut body = Self { parts, positions, ends, left, broken, boxes, walk, areas, surface };
        if let Some(frame) = frame {
            body.left = body.left_of(frame);
        }
        body
    }

    /// What another body can use.
    pub(crate) fn into_scratch(self) -> Scratch {
        let areas = self.surface.into_inner().map_or_else(|| self.areas.into_inner(), |s| s.areas);
        Scratch { walk: self.walk.into_inner(), areas }
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
        let lowest = self.ends.map(|[low, _]| self.positions[low as usize][2]);
        lowest.ok_or_else(|| "no position is finite, so there is no floor".to_owned())
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
                let best = match (direction, self.ends) {
                    (Direction::Up, Some([_, high])) if region.is_empty() => Some(high),
                    (Direction::Down, Some([low, _])) if region.is_empty() => Some(low),
                    _ => self.furthest(self.direction(*direction)?, region)?,
                };
                best.ok_or_else(|| "no vertex there has a finite position".to_owned())
            }
            Place::Joint(_) | Place::Middle(_) => Err("this place is no vertex of the surface".to_owned()),
        }
    }

    /// The vertex furthest along an axis, the first of equals.
    fn furthest(&self, axis: Point, region: &[String]) -> Result<Option<u32>, String> {
        let mut best: Option<(f64, u32)> = None;
        let mut look = |v: u32| {
            let along = dot(axis, self.positions[v as usize]);
            if along.is_finite() && best.is_none_or(|(b, _)| along > b) {
                best = Some((along, v));
            }
        };
        if region.is_empty() {
            (0..self.positions.len() as u32).filter(|&v| self.parts.used[v as usize]).for_each(&mut look);
        } else {
            self.parts.part(region)?.vertices.iter().copied().for_each(&mut look);
        }
        Ok(best.map(|(_, v)| v))
    }

    /// Areas and volume, found once, in one pass.
    pub(crate) fn surface(&self) -> &Surface {
        self.surface.get_or_init(|| {
            // about a point of the surface, so that a body far from the origin loses no digits
            let o = self.positions.first().copied().unwrap_or_default();
            let mut volume = 0.0;
            let mut areas = self.areas.take();
            areas.clear();
            areas.extend(self.parts.ordered.iter().map(|t| {
                let [a, b, c] = t.map(|v| self.positions[v as usize]);
                let across = areas::vector_area(a, b, c);
                volume += dot(sub(a, o), across);
                norm(across)
            }));
            Surface { areas, volume: volume / 3.0 }
        })
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
