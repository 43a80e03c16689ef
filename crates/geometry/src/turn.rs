//! Rotations as unit quaternions, rigid motions, and their blend as dual quaternions.

use nalgebra::{Quaternion, Rotation3, Unit, UnitQuaternion, Vector3};
use serde::{Deserialize, Serialize};

use crate::Point;
use crate::rotation::Rotation;
use crate::vector::{add, sub};

/// A rotation as a unit quaternion (w, x, y, z).
pub type Turn = [f64; 4];

/// The turn that leaves all as it is.
pub const NONE: Turn = [1.0, 0.0, 0.0, 0.0];

#[inline]
fn quaternion(q: Turn) -> Quaternion<f64> {
    Quaternion::new(q[0], q[1], q[2], q[3])
}

#[inline]
fn versor(q: Turn) -> UnitQuaternion<f64> {
    Unit::new_unchecked(quaternion(q))
}

#[inline]
fn turn(q: &Quaternion<f64>) -> Turn {
    [q.w, q.i, q.j, q.k]
}

/// About an axis of unit length, in degrees, right-handed.
#[must_use]
pub fn about(axis: Point, degrees: f64) -> Turn {
    turn(&UnitQuaternion::from_axis_angle(&Unit::new_unchecked(Vector3::from(axis)), degrees.to_radians()))
}

/// First `b`, then `a`.
#[inline]
#[must_use]
pub fn then(a: Turn, b: Turn) -> Turn {
    turn(&(quaternion(a) * quaternion(b)))
}

/// The turn that undoes `q`.
#[inline]
#[must_use]
pub fn back(q: Turn) -> Turn {
    turn(&quaternion(q).conjugate())
}

/// A point turned about the origin.
#[inline]
#[must_use]
pub fn rotate(q: Turn, p: Point) -> Point {
    versor(q).transform_vector(&Vector3::from(p)).into()
}

/// `q` brought to unit length again; [`NONE`] where it has no length.
#[must_use]
pub fn unit(q: Turn) -> Turn {
    Unit::try_new(quaternion(q), 0.0).map_or(NONE, |q| turn(&q))
}

/// A rotation vector (axis times angle in radians) as a turn.
#[must_use]
pub fn from_vector(w: Point) -> Turn {
    turn(&UnitQuaternion::from_scaled_axis(Vector3::from(w)))
}

/// The rotation vector of a turn, in radians, of at most half a turn.
#[must_use]
pub fn to_vector(q: Turn) -> Point {
    versor(q).scaled_axis().into()
}

/// The angle between two turns, in degrees, of at most half a turn.
#[must_use]
pub fn angle_between_deg(a: Turn, b: Turn) -> f64 {
    versor(a).angle_to(&versor(b)).to_degrees()
}

/// A rotation given by its rows as a turn.
#[must_use]
pub fn from_rotation(r: &Rotation) -> Turn {
    let r = Rotation3::from_matrix_unchecked(nalgebra::Matrix3::from_fn(|i, k| r[i][k]));
    turn(&UnitQuaternion::from_rotation_matrix(&r))
}

/// x -> turn x + shift
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Rigid {
    /// The turn.
    pub turn: Turn,
    /// The shift, in mm.
    pub shift: Point,
}

impl Rigid {
    /// Where a point goes.
    #[inline]
    #[must_use]
    pub fn apply(&self, p: Point) -> Point {
        add(rotate(self.turn, p), self.shift)
    }

    /// A turn about a point, then this.
    #[must_use]
    pub fn after_turn_about(&self, turn: Turn, centre: Point) -> Self {
        let local = sub(centre, rotate(turn, centre));
        Self { turn: then(self.turn, turn), shift: add(rotate(self.turn, local), self.shift) }
    }

    /// This as a unit dual quaternion: the turn, and half the shift times the turn.
    #[must_use]
    pub fn dual(&self) -> (Turn, Turn) {
        let t = self.shift;
        (self.turn, then([0.0, t[0], t[1], t[2]], self.turn).map(|x| 0.5 * x))
    }

    /// The blend of rigid motions by weight, as dual quaternions (linear blending, Kavan et al. 2008, from memory): volume is kept where a limb turns about its
    /// axis. `parts` are numbers of `duals` with weights, the one with the largest weight first.
    #[must_use]
    pub fn blend(parts: impl IntoIterator<Item = (usize, f64)>, duals: &[(Turn, Turn)]) -> Self {
        let (mut real, mut dual) = ([0.0; 4], [0.0; 4]);
        let mut first: Option<Turn> = None;
        for (joint, weight) in parts {
            let (r, d) = &duals[joint];
            let lead = *first.get_or_insert(*r);
            // the nearer of q and -q
            let near: f64 = (0..4).map(|c| lead[c] * r[c]).sum();
            let w = if near < 0.0 { -weight } else { weight };
            for c in 0..4 {
                real[c] += w * r[c];
                dual[c] += w * d[c];
            }
        }
        let length = real.iter().map(|x| x * x).sum::<f64>().sqrt();
        let (turn, dual) = (real.map(|x| x / length), dual.map(|x| x / length));
        let t = then(dual, back(turn));
        Self { turn, shift: [2.0 * t[1], 2.0 * t[2], 2.0 * t[3]] }
    }
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
        let duals = [m.dual()];
        for x in [[0.0, 0.0, 0.0], [10.0, 0.0, 0.0], [1.0, 2.0, 3.0]] {
            let (b, c) = (Rigid::blend([(0, 1.0)], &duals).apply(x), m.apply(x));
            assert!((0..3).all(|k| (b[k] - c[k]).abs() < 1e-12));
        }
        assert!((Rigid::blend([(0, 1.0)], &duals).apply([10.0, 0.0, 0.0])[0] - 13.0).abs() < 1e-12);
    }

    #[test]
    fn vectors_matrices_and_quaternions_say_the_same_turn() {
        for w in [[0.3, -0.2, 0.9], [3.0, 0.4, 0.1], [1e-14, 0.0, 0.0], [0.0; 3]] {
            let q = from_vector(w);
            let again = to_vector(q);
            assert!((0..3).all(|k| (again[k] - w[k]).abs() < 1e-12), "{w:?} {again:?}");
            let r = crate::rotation::about(w);
            let p = [0.5, -2.0, 7.0];
            let (x, y) = (rotate(q, p), crate::rotation::rotate(&r, p));
            assert!((0..3).all(|k| (x[k] - y[k]).abs() < 1e-12));
            assert!(angle_between_deg(q, from_rotation(&r)) < 1e-6);
            assert!((0..4).all(|c| (then(q, back(q))[c] - NONE[c]).abs() < 1e-12));
        }
        assert!((angle_between_deg(NONE, about([1.0, 0.0, 0.0], 30.0)) - 30.0).abs() < 1e-12);
        assert_eq!(unit([0.0; 4]), NONE);
    }
}
