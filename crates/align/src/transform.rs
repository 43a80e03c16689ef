//! x -> scale R x + t.

use formkin_geometry::Point;
pub use formkin_geometry::rotation::Rotation;
use formkin_geometry::rotation::{IDENTITY, product, rotate, transpose};
use serde::{Deserialize, Serialize};

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
