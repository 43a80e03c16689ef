//! Rotations as unit quaternions, rigid motions, and their blend as dual quaternions.

use formkin_geometry::Point;
use formkin_geometry::vector::{add, cross, scale, sub};

/// A rotation: (w, x, y, z), of unit length.
pub(crate) type Turn = [f64; 4];

pub(crate) const NONE: Turn = [1.0, 0.0, 0.0, 0.0];

/// About an axis of unit length, in degrees, right-handed.
pub(crate) fn about(axis: Point, degrees: f64) -> Turn {
    let (s, c) = (0.5 * degrees.to_radians()).sin_cos();
    [c, s * axis[0], s * axis[1], s * axis[2]]
}

/// First `b`, then `a`.
pub(crate) fn then(a: Turn, b: Turn) -> Turn {
    [
        a[0] * b[0] - a[1] * b[1] - a[2] * b[2] - a[3] * b[3],
        a[0] * b[1] + a[1] * b[0] + a[2] * b[3] - a[3] * b[2],
        a[0] * b[2] - a[1] * b[3] + a[2] * b[0] + a[3] * b[1],
        a[0] * b[3] + a[1] * b[2] - a[2] * b[1] + a[3] * b[0],
    ]
}

pub(crate) fn rotate(q: Turn, p: Point) -> Point {
    let v = [q[1], q[2], q[3]];
    let t = scale(cross(v, p), 2.0);
    add(add(p, scale(t, q[0])), cross(v, t))
}

/// x -> R x + t.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Rigid {
    pub(crate) turn: Turn,
    pub(crate) shift: Point,
}

impl Rigid {
    /// A rotation about a point, then this.
    pub(crate) fn after_turn_about(&self, turn: Turn, centre: Point) -> Self {
        let local = sub(centre, rotate(turn, centre));
        Self { turn: then(self.turn, turn), shift: add(rotate(self.turn, local), self.shift) }
    }

    /// The dual part of the unit dual quaternion: half the shift times the turn.
    pub(crate) fn dual(&self) -> Turn {
        let t = self.shift;
        let d = then([0.0, t[0], t[1], t[2]], self.turn);
        d.map(|x| 0.5 * x)
    }
}

/// The blend of rigid motions by weight (dual quaternion linear blending, Kavan et al. 2008), applied to a point: volume is
/// kept where a limb turns about its axis.
pub(crate) fn blend(parts: &[(u8, f32)], motions: &[(Turn, Turn)], p: Point) -> Point {
    let mut real = [0.0; 4];
    let mut dual = [0.0; 4];
    let mut first: Option<Turn> = None;
    for &(joint, weight) in parts {
        let (r, d) = &motions[joint as usize];
        let lead = *first.get_or_insert(*r);
        // the nearer of q and -q
        let near: f64 = (0..4).map(|c| lead[c] * r[c]).sum();
        let w = if near < 0.0 { -f64::from(weight) } else { f64::from(weight) };
        for c in 0..4 {
            real[c] += w * r[c];
            dual[c] += w * d[c];
        }
    }
    let length = real.iter().map(|x| x * x).sum::<f64>().sqrt();
    let q = real.map(|x| x / length);
    let d = dual.map(|x| x / length);
    // translation: 2 dual conj(real)
    let t = then(d, [q[0], -q[1], -q[2], -q[3]]);
    add(rotate(q, p), [2.0 * t[1], 2.0 * t[2], 2.0 * t[3]])
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn turns_compose_and_a_blend_of_one_is_itself() {
        let a = about([0.0, 0.0, 1.0], 90.0);
        let p = rotate(a, [1.0, 0.0, 0.0]);
        assert!((p[1] - 1.0).abs() < 1e-12 && p[0].abs() < 1e-12);
        let m = Rigid { turn: NONE, shift: [3.0, -2.0, 5.0] }.after_turn_about(a, [10.0, 0.0, 0.0]);
        let motions = [(m.turn, m.dual())];
        for x in [[0.0, 0.0, 0.0], [10.0, 0.0, 0.0], [1.0, 2.0, 3.0]] {
            let (b, c) = (blend(&[(0, 1.0)], &motions, x), add(rotate(m.turn, x), m.shift));
            assert!((0..3).all(|k| (b[k] - c[k]).abs() < 1e-12));
        }
        assert!((blend(&[(0, 1.0)], &motions, [10.0, 0.0, 0.0])[0] - 13.0).abs() < 1e-12);
    }
}
