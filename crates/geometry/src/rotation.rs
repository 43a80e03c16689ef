//! Rotations as the rows of a matrix.

use nalgebra::{Rotation3, Vector3};

use crate::Point;

/// A rotation as its rows; the determinant is +1.
pub type Rotation = [[f64; 3]; 3];

/// The rotation that leaves all as it is.
pub const IDENTITY: Rotation = [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]];

/// R x
#[inline]
#[must_use]
pub fn rotate(r: &Rotation, x: Point) -> Point {
    [
        r[0][0] * x[0] + r[0][1] * x[1] + r[0][2] * x[2],
        r[1][0] * x[0] + r[1][1] * x[1] + r[1][2] * x[2],
        r[2][0] * x[0] + r[2][1] * x[1] + r[2][2] * x[2],
    ]
}

/// A B: first B, then A.
#[must_use]
pub fn product(a: &Rotation, b: &Rotation) -> Rotation {
    let mut out = [[0.0; 3]; 3];
    for (row, a) in out.iter_mut().zip(a) {
        for (k, cell) in row.iter_mut().enumerate() {
            *cell = a[0] * b[0][k] + a[1] * b[1][k] + a[2] * b[2][k];
        }
    }
    out
}

/// A^T, which undoes the rotation A.
#[must_use]
pub fn transpose(a: &Rotation) -> Rotation {
    [[a[0][0], a[1][0], a[2][0]], [a[0][1], a[1][1], a[2][1]], [a[0][2], a[1][2], a[2][2]]]
}

/// The rotation about the axis `w` by its length in radians, right-handed.
#[must_use]
pub fn about(w: Point) -> Rotation {
    let r = Rotation3::from_scaled_axis(Vector3::from(w));
    std::array::from_fn(|i| std::array::from_fn(|k| r[(i, k)]))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_rotation_is_undone_by_its_transpose() {
        let r = about([0.3, -0.2, 0.9]);
        let one = product(&r, &transpose(&r));
        for i in 0..3 {
            for k in 0..3 {
                assert!((one[i][k] - IDENTITY[i][k]).abs() < 1e-15);
            }
        }
        let quarter = about([0.0, 0.0, std::f64::consts::FRAC_PI_2]);
        let x = rotate(&quarter, [1.0, 0.0, 0.0]);
        assert!(x[0].abs() < 1e-15 && (x[1] - 1.0).abs() < 1e-15);
        assert_eq!(about([0.0; 3]), IDENTITY);
    }
}
