//! The few operations on `[f64; 3]` that the rest is written in.

/// A point or vector in millimetres, z up.
pub type Point = [f64; 3];

/// a + b
#[inline]
#[must_use]
pub fn add(a: Point, b: Point) -> Point {
    [a[0] + b[0], a[1] + b[1], a[2] + b[2]]
}

/// a - b
#[inline]
#[must_use]
pub fn sub(a: Point, b: Point) -> Point {
    [a[0] - b[0], a[1] - b[1], a[2] - b[2]]
}

/// s a
#[inline]
#[must_use]
pub fn scale(a: Point, s: f64) -> Point {
    [s * a[0], s * a[1], s * a[2]]
}

/// The scalar product a . b
#[inline]
#[must_use]
pub fn dot(a: Point, b: Point) -> f64 {
    a[0] * b[0] + a[1] * b[1] + a[2] * b[2]
}

/// The vector product a x b
#[inline]
#[must_use]
pub fn cross(a: Point, b: Point) -> Point {
    [a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]]
}

/// |a|
#[inline]
#[must_use]
pub fn norm(a: Point) -> f64 {
    dot(a, a).sqrt()
}

/// |a - b|
#[inline]
#[must_use]
pub fn distance(a: Point, b: Point) -> f64 {
    norm(sub(a, b))
}

/// a + t (b - a)
#[inline]
#[must_use]
pub(crate) fn lerp(a: Point, b: Point, t: f64) -> Point {
    add(a, scale(sub(b, a), t))
}

/// sum += w a b^T
#[inline]
pub fn add_outer(sum: &mut [[f64; 3]; 3], w: f64, a: Point, b: Point) {
    for (row, a) in sum.iter_mut().zip(a) {
        let a = w * a;
        for (cell, b) in row.iter_mut().zip(b) {
            *cell += a * b;
        }
    }
}

/// a / |a|, or `None` where a has no length or is not finite.
#[inline]
#[must_use]
pub fn unit(a: Point) -> Option<Point> {
    let length = norm(a);
    (length > 0.0 && length.is_finite()).then(|| scale(a, 1.0 / length))
}
