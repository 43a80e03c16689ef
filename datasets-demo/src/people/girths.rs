//! Taut girths of the template's rings under a person's maps, and the scales that make them measure right.

use formkin_geometry::hull::hull_perimeter;
use formkin_geometry::section::{Plane, section};
use formkin_geometry::vector::{distance, sub};
use formkin_geometry::{Point, Template};

use super::shape::{Aims, GIRTHS, Shape};
use crate::body::figure::WRIST_AT;
use crate::template::Base;

/// A ring of the surface: points on edges of the template, and the normal of its plane.
#[derive(Debug, Clone)]
struct Ring {
    /// Two vertices and how far between them.
    points: Vec<(u32, u32, f64)>,
    normal: Point,
}

/// The rings that girths are solved on.
#[derive(Debug, Clone)]
pub(crate) struct Rings {
    rings: Vec<Ring>,
}

impl Rings {
    /// Cuts the template at the levels of the girths.
    pub(crate) fn new(base: &Base) -> Self {
        let arm = &base.solid.figure.arm;
        let on_arm = |s: f64| {
            let k = arm.section(s);
            (arm.point(k[0], k[1], s), sub(arm.point(0.0, 0.0, 1.0), arm.point(0.0, 0.0, 0.0)))
        };
        let up = [0.0, 0.0, 1.0];
        let leg = |z: f64| {
            let k = base.solid.figure.leg.section(z);
            ([k[0], k[1], z], up)
        };
        let places: [(Point, Point); GIRTHS] = [
            ([0.0, 10.0, 1235.0], up),
            ([0.0, 0.0, 1023.0], up),
            ([0.0, 5.0, 872.0], up),
            leg(782.0),
            leg(345.0),
            ([0.0, 24.0, 1485.0], [0.0, -0.26, 0.966]),
            on_arm(160.0),
            on_arm(350.0),
            on_arm(WRIST_AT),
            leg(130.0),
            ([0.0, -5.0, 1622.0], up),
        ];
        let rings = places.into_iter().map(|(place, normal)| ring(&base.template, place, normal)).collect();
        Self { rings }
    }

    fn vertices(&self) -> Vec<u32> {
        let mut all: Vec<u32> =
            self.rings.iter().flat_map(|r| r.points.iter().flat_map(|p| [p.0, p.1])).collect();
        all.sort_unstable();
        all.dedup();
        all
    }

    /// The girths of a body, in mm.
    pub(crate) fn measure(&self, place: &dyn Fn(u32) -> Point) -> [f64; GIRTHS] {
        std::array::from_fn(|k| {
            let ring = &self.rings[k];
            let points: Vec<Point> = ring
                .points
                .iter()
                .map(|&(a, b, t)| {
                    let (p, q) = (place(a), place(b));
                    std::array::from_fn(|c| p[c] + t * (q[c] - p[c]))
                })
                .collect();
            hull_perimeter(&points, ring.normal)
        })
    }

    /// The shape whose girths are those aimed at: each girth has one scale, corrected by its ratio until all are within 0.1 mm.
    pub(crate) fn solve(&self, base: &Base, aims: &Aims) -> Shape {
        let vertices = self.vertices();
        let mut scales = [1.0; GIRTHS];
        let mut shape = Shape::new(aims, &scales);
        for _ in 0..14 {
            let placed: Vec<Point> = vertices.iter().map(|&v| base.place(&shape, v as usize)).collect();
            let girths = self.measure(&|v| placed[vertices.binary_search(&v).unwrap_or(0)]);
            let mut worst = 0.0f64;
            for k in 0..GIRTHS {
                worst = worst.max((girths[k] - aims.girths[k]).abs());
                scales[k] = (scales[k] * aims.girths[k] / girths[k]).clamp(0.5, 2.0);
            }
            if worst < 0.1 {
                break;
            }
            shape = Shape::new(aims, &scales);
        }
        shape
    }
}

/// The loop of the section whose middle is nearest to a place.
fn ring(template: &Template, place: Point, normal: Point) -> Ring {
    let positions = template.mesh.positions();
    let topology = template.mesh.topology();
    let plane = Plane { point: place, normal };
    let loops = section(topology, positions, &plane);
    let best = loops
        .iter()
        .filter(|l| l.closed && l.edges.len() > 5)
        .min_by(|a, b| distance(a.centroid(), place).total_cmp(&distance(b.centroid(), place)));
    let points = best
        .map(|l| l.edges.iter().map(|e| (e.ends[0], e.ends[1], e.fraction)).collect())
        .unwrap_or_default();
    Ring { points, normal }
}
