//! x -> scale R x + t.

use formkin_geometry::Point;
use serde::{Deserialize, Serialize};

/// A rotation as its rows; the determinant is +1.
pub type Rotation = [[f64; 3]; 3];

pub(crate) const IDENTITY: Rotation = [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]];

/// A similarity: x -> scale R x + t, with det R = +1. Millimetres to millimetres.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Transform {
    /// R, row by row.
    pub rotation: [[f64; 3]; 3],
    /// t, in mm.
    pub translation: Point,
    /// The factor of size; 1 where size is kept.
    pub scale: f64,
}

impl Default for Transform {
    /// The identity.
    fn default() -> Self {
        Self { rotation: IDENTITY, translation: [0.0; 3], scale: 1.0 }
    }
}

/// R x
#[inline]
pub(crate) fn rotate(r: &Rotation, x: Point) -> Point {
    [
        r[0][0] * x[0] + r[0][1] * x[1] + r[0][2] * x[2],
        r[1][0] * x[0] + r[1][1] * x[1] + r[1][2] * x[2],
        r[2][0] * x[0] + r[2][1] * x[1] + r[2][2] * x[2],
    ]
}

/// A B
pub(crate) fn product(a: &Rotation, b: &Rotation) -> Rotation {
    let mut out = [[0.0; 3]; 3];
    for (row, a) in out.iter_mut().zip(a) {
        for (k, cell) in row.iter_mut().enumerate() {
            *cell = a[0] * b[0][k] + a[1] * b[1][k] + a[2] * b[2][k];
        }
    }
    out
}

/// A^T
pub(crate) fn transpose(a: &Rotation) -> Rotation {
    [[a[0][0], a[1][0], a[2][0]], [a[0][1], a[1][1], a[2][1]], [a[0][2], a[1][2], a[2][2]]]
}

impl Transform {
    /// scale R x + t
    #[inline]
    #[must_use]
    pub fn apply(&self, x: Point) -> Point {
        let y = rotate(&self.rotation, x);
        [
            self.scale * y[0] + self.translation[0],
            self.scale * y[1] + self.translation[1],
            self.scale * y[2] + self.translation[2],
        ]
    }

    /// Every position of a shape, in place.
    pub fn apply_all(&self, positions: &mut [Point]) {
        for p in positions {
            *p = self.apply(*p);
        }
    }

    /// The transform that undoes this one. Where the scale is 0 there is none, and the result is not finite.
    #[must_use]
    pub fn inverse(&self) -> Self {
        let rotation = transpose(&self.rotation);
        let scale = 1.0 / self.scale;
        let t = rotate(&rotation, self.translation);
        Self { rotation, translation: [-scale * t[0], -scale * t[1], -scale * t[2]], scale }
    }

    /// `first`, then this one.
    #[must_use]
    pub fn compose(&self, first: &Self) -> Self {
        Self {
            rotation: product(&self.rotation, &first.rotation),
            translation: self.apply(first.translation),
            scale: self.scale * first.scale,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn inverse_and_composition_agree_with_application() {
        let (c, s) = (0.6, 0.8);
        let a = Transform {
            rotation: [[c, -s, 0.0], [s, c, 0.0], [0.0, 0.0, 1.0]],
            translation: [1.0, 2.0, 3.0],
            scale: 2.0,
        };
        let b = Transform {
            rotation: [[1.0, 0.0, 0.0], [0.0, c, -s], [0.0, s, c]],
            translation: [-4.0, 0.5, 9.0],
            scale: 0.5,
        };
        let x = [7.0, -2.0, 11.0];
        let near = |p: Point, q: Point| (0..3).all(|k| (p[k] - q[k]).abs() < 1e-12);
        assert!(near(a.compose(&b).apply(x), a.apply(b.apply(x))));
        assert!(near(a.inverse().apply(a.apply(x)), x));
        assert!(near(a.compose(&a.inverse()).apply(x), x));
    }
}
