//! A solid lofted from superelliptic sections, and the few other solids a body is made of, as approximate distances.

use formkin_geometry::Point;
use formkin_geometry::vector::{add, cross, dot, norm, scale, sub};

use super::curve::Table;

/// A section: centre (u, v), radii outward (+u), inward (-u), backward (+v), forward (-v), exponent of the superellipse.
pub(crate) type Section = [f64; 7];

/// A solid whose sections across a fixed direction are superellipses with four radii; the ends are half ellipsoids.
#[derive(Debug, Clone)]
pub(crate) struct Loft {
    origin: Point,
    u: Point,
    v: Point,
    w: Point,
    table: Table<7>,
    low_cap: f64,
    high_cap: f64,
    centre: Point,
    reach: f64,
}

impl Loft {
    /// `keys` are sections at places along `w` from `origin`; `v` is made perpendicular to `w`; u is perpendicular to
    /// both, on the side of +x.
    pub(crate) fn new(
        origin: Point,
        (v, w): (Point, Point),
        keys: &[(f64, Section)],
        (low_cap, high_cap): (f64, f64),
        blur: f64,
    ) -> Self {
        let w = scale(w, 1.0 / norm(w));
        let v = sub(v, scale(w, dot(v, w)));
        let v = scale(v, 1.0 / norm(v));
        let u = cross(v, w);
        let u = if u[0] < 0.0 { scale(u, -1.0) } else { u };
        let table = Table::new(keys, 2.0, blur);
        let (s0, s1) = table.range();
        let centre = add(origin, scale(w, 0.5 * (s0 + s1)));
        let widest = keys
            .iter()
            .map(|(_, k)| (k[0].abs() + k[2].max(k[3])).hypot(k[1].abs() + k[4].max(k[5])))
            .fold(0.0, f64::max);
        let reach = widest + 0.5 * (s1 - s0) + low_cap.max(high_cap);
        Self { origin, u, v, w, table, low_cap, high_cap, centre, reach }
    }

    /// The point at (u, v, s) in the frame of this loft.
    pub(crate) fn point(&self, u: f64, v: f64, s: f64) -> Point {
        add(self.origin, add(add(scale(self.u, u), scale(self.v, v)), scale(self.w, s)))
    }

    /// The frame's coordinates (u, v, s) of a point.
    pub(crate) fn coordinates(&self, p: Point) -> Point {
        let q = sub(p, self.origin);
        [dot(q, self.u), dot(q, self.v), dot(q, self.w)]
    }

    /// The section at a place.
    pub(crate) fn section(&self, s: f64) -> Section {
        self.table.at(s).0
    }

    /// About the signed distance to the surface, negative inside; a lower bound far away.
    pub(crate) fn distance(&self, p: Point) -> f64 {
        let away = norm(sub(p, self.centre)) - self.reach;
        if away > 150.0 {
            return away;
        }
        let [a, b, s] = self.coordinates(p);
        let (k, m) = self.table.at(s);
        let (s0, s1) = self.table.range();
        let (du, dv) = (a - k[0], b - k[1]);
        let (ru, mu) = if du > 0.0 { (k[2], m[2] + m[0]) } else { (k[3], m[3] - m[0]) };
        let (rv, mv) = if dv > 0.0 { (k[4], m[4] + m[1]) } else { (k[5], m[5] - m[1]) };
        let n = k[6];
        let (pu, pv) = ((du.abs() / ru).powf(n), (dv.abs() / rv).powf(n));
        let mut rho = (pu + pv).powf(1.0 / n);
        let mut length = du.hypot(dv);
        let mut slope = 0.0;
        if s < s0 || s > s1 {
            let (over, cap) = if s < s0 { (s0 - s, self.low_cap) } else { (s - s1, self.high_cap) };
            rho = rho.hypot(over / cap);
            length = length.hypot(over);
        } else if pu + pv > 1e-9 {
            slope = (pu * mu + pv * mv) / (pu + pv);
        }
        if rho < 1e-6 {
            return -ru.min(rv);
        }
        // (rho - 1) / |grad rho| along the ray from the centre, less where the surface leans
        length * (1.0 - 1.0 / rho) / (1.0 + slope * slope).sqrt()
    }
}

/// About the signed distance to an ellipsoid.
pub(crate) fn ellipsoid(p: Point, centre: Point, radii: Point) -> f64 {
    let q = sub(p, centre);
    let rho = norm([q[0] / radii[0], q[1] / radii[1], q[2] / radii[2]]);
    if rho < 1e-6 { -radii[0].min(radii[1]).min(radii[2]) } else { norm(q) * (1.0 - 1.0 / rho) }
}

/// The signed distance to a capsule whose radius changes evenly from one end to the other (about).
pub(crate) fn capsule(p: Point, a: Point, b: Point, ra: f64, rb: f64) -> f64 {
    let ab = sub(b, a);
    let t = (dot(sub(p, a), ab) / dot(ab, ab)).clamp(0.0, 1.0);
    norm(sub(p, add(a, scale(ab, t)))) - (ra + t * (rb - ra))
}

/// A bell: exp(-(dx/sx)^2 / 2 ...), 1 at the centre.
pub(crate) fn bell(p: Point, centre: Point, spread: Point) -> f64 {
    let e: f64 = (0..3).map(|c| ((p[c] - centre[c]) / spread[c]).powi(2)).sum();
    if e > 30.0 { 0.0 } else { (-0.5 * e).exp() }
}

/// The union of two solids, rounded where both surfaces are nearer to each other than `k` (cubic, twice differentiable).
pub(crate) fn join(a: f64, b: f64, k: f64) -> f64 {
    let h = (k - (a - b).abs()).max(0.0) / k;
    a.min(b) - h * h * h * k / 6.0
}

/// As [`join`], fuller: a web in the angle between two solids (quadratic).
pub(crate) fn web(a: f64, b: f64, k: f64) -> f64 {
    let h = (k - (a - b).abs()).max(0.0) / k;
    a.min(b) - h * h * k * 0.25
}
