//! The mean adult as one solid: the lofts joined, with the soft forms and the face.

use formkin_geometry::Point;
use formkin_geometry::vector::{norm, scale};

use super::figure::Figure;
use super::loft::{bell, capsule, ellipsoid, join, web};

/// The parts a point of the surface can belong to most.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Part {
    Trunk,
    Neck,
    Head,
    Arm,
    Leg,
    Foot,
}

/// The mean adult; both sides by symmetry.
#[derive(Debug, Clone)]
pub(crate) struct Solid {
    pub(crate) figure: Figure,
}

/// |x|, rounded near the mid-plane over `e` mm.
fn side(x: f64, e: f64) -> f64 {
    (x * x + e * e).sqrt()
}

impl Solid {
    pub(crate) fn new() -> Self {
        Self { figure: Figure::new() }
    }

    /// The approximate signed distances to the parts.
    fn parts(&self, p: Point) -> [f64; 6] {
        let f = &self.figure;
        let q = [p[0].abs(), p[1], p[2]];
        let soft = [side(p[0], 14.0), p[1], p[2]];
        let mut trunk = f.trunk.distance(q);
        if trunk < 90.0 {
            let buttock = ellipsoid(soft, [72.0, 52.0, 876.0], [80.0, 76.0, 98.0]);
            trunk = join(trunk, buttock, 45.0);
            // chest: a broad low form under the bust points, the collar bone's hollow, the furrow of the spine
            trunk -= 9.0 * bell(soft, [78.0, -112.0, 1250.0], [48.0, 60.0, 42.0]);
            trunk += 4.0 * bell(p, [0.0, -112.0, 1255.0], [20.0, 60.0, 60.0]);
            trunk += 5.0 * bell(p, [0.0, 122.0, 1180.0], [17.0, 60.0, 120.0]);
            trunk -= 4.0 * bell(soft, [78.0, 128.0, 1305.0], [36.0, 60.0, 48.0]);
            trunk += 4.0 * bell(p, [0.0, -112.0, 1023.0], [9.0, 60.0, 9.0]);
        }
        let mut head = f.head.distance(q);
        if head < 60.0 {
            let nose = capsule(q, [0.0, -96.0, 1588.0], [0.0, -112.0, 1552.0], 7.0, 11.0);
            head = join(head, nose, 12.0);
            let wing = ellipsoid(q, [9.0, -103.0, 1547.0], [9.0, 10.0, 8.0]);
            head = join(head, wing, 10.0);
            head += 9.0 * bell(q, [33.0, -98.0, 1587.0], [15.0, 40.0, 10.0]);
            head -= 2.0 * bell(q, [0.0, -104.0, 1608.0], [36.0, 40.0, 11.0]);
            head -= 3.5 * bell(q, [0.0, -100.0, 1527.0], [17.0, 40.0, 4.5]);
            head -= 3.0 * bell(q, [0.0, -100.0, 1515.0], [15.0, 40.0, 4.5]);
            head += 2.5 * bell(q, [0.0, -100.0, 1505.0], [20.0, 40.0, 5.0]);
            head -= 4.0 * bell(q, [0.0, -96.0, 1492.0], [16.0, 40.0, 8.0]);
            let ear = ellipsoid(
                [q[0] - 0.25 * (p[1] - 16.0), p[1] + 0.2 * (p[2] - 1572.0), p[2]],
                [72.0, 18.0, 1572.0],
                [9.0, 17.0, 31.0],
            );
            head = join(head, ear, 8.0);
        }
        let mut arm = f.arm.distance(q);
        if arm < 60.0 {
            let thumb =
                capsule(q, f.arm.point(-42.0, -80.0, 556.0), f.arm.point(-62.0, -92.0, 594.0), 14.0, 12.5);
            let tip =
                capsule(q, f.arm.point(-62.0, -92.0, 594.0), f.arm.point(-72.0, -70.0, 612.0), 12.5, 11.0);
            arm = join(arm, join(thumb, tip, 8.0), 14.0);
            let elbow = ellipsoid(q, f.arm.point(0.0, 30.0, 300.0), [17.0, 17.0, 24.0]);
            arm = join(arm, elbow, 18.0);
        }
        let mut leg = f.leg.distance(q);
        if leg < 60.0 {
            let patella = ellipsoid(q, [100.0, -45.0, 474.0], [26.0, 18.0, 30.0]);
            leg = join(leg, patella, 18.0);
            let outer = ellipsoid(q, [98.0 + 26.5, 30.0, 73.0], [10.0, 13.0, 16.0]);
            let inner = ellipsoid(q, [98.0 - 26.5, 22.0, 81.0], [10.0, 14.0, 16.0]);
            leg = join(leg, outer.min(inner), 16.0);
        }
        [trunk, f.neck.distance(q), head, arm, leg, f.foot.distance(q)]
    }

    /// About the signed distance to the skin in mm, negative inside.
    pub(crate) fn distance(&self, p: Point) -> f64 {
        let [trunk, neck, head, arm, leg, foot] = self.parts(p);
        let upper = join(join(trunk, neck, 34.0), head, 16.0);
        let lower = join(leg, foot, 24.0);
        let body = join(web(upper, arm, 46.0), lower, 36.0);
        // the floor: flat soles with a rounded rim
        -join(-body, p[2], 7.0)
    }

    /// The gradient of [`Solid::distance`], by differences over half a millimetre.
    pub(crate) fn gradient(&self, p: Point) -> Point {
        // four corners of a tetrahedron: the smallest set that gives a centred gradient
        const K: [[f64; 3]; 4] = [[1.0, -1.0, -1.0], [-1.0, -1.0, 1.0], [-1.0, 1.0, -1.0], [1.0, 1.0, 1.0]];
        const H: f64 = 0.5;
        let mut g = [0.0; 3];
        for k in K {
            let f = self.distance([p[0] + H * k[0], p[1] + H * k[1], p[2] + H * k[2]]);
            for c in 0..3 {
                g[c] += k[c] * f / (4.0 * H);
            }
        }
        g
    }

    /// Moves a point onto the skin along the gradient (Newton); a point of the mid-plane stays in it.
    pub(crate) fn project(&self, mut p: Point, rounds: usize) -> Point {
        let middle = p[0] == 0.0;
        for _ in 0..rounds {
            let f = self.distance(p);
            if f.abs() < 0.01 {
                break;
            }
            let mut g = self.gradient(p);
            if middle {
                g[0] = 0.0;
            }
            let square = g.iter().map(|c| c * c).sum::<f64>().max(0.04);
            let step = (-f / square).clamp(-8.0, 8.0);
            for c in 0..3 {
                p[c] += step * g[c];
            }
        }
        p
    }

    /// The outward unit normal.
    pub(crate) fn normal(&self, p: Point) -> Point {
        let g = self.gradient(p);
        scale(g, 1.0 / norm(g).max(1e-9))
    }

    /// The part nearest to a point of the skin.
    pub(crate) fn part(&self, p: Point) -> Part {
        const ORDER: [Part; 6] = [Part::Trunk, Part::Neck, Part::Head, Part::Arm, Part::Leg, Part::Foot];
        let d = self.parts(p);
        let best = (0..6).min_by(|&a, &b| d[a].total_cmp(&d[b])).unwrap_or(0);
        ORDER[best]
    }
}
