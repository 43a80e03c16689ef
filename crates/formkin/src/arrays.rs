//! Results as arrays.

use formkin_shape::{FittedSpace, Space};
use ndarray::{Array2, Array3, ArrayView2};

use crate::Point;

/// Positions as an array `[vertices, 3]`, in mm.
///
/// ```
/// let array = formkin::points_array(&[[0.0, 1.0, 2.0], [3.0, 4.0, 5.0]]);
/// assert_eq!(array.shape(), &[2, 3]);
/// assert_eq!(array[[1, 2]], 5.0);
/// ```
#[must_use]
pub fn points_array(points: &[Point]) -> Array2<f64> {
    Array2::from_shape_fn((points.len(), 3), |(v, k)| points[v][k])
}

/// An array `[vertices, 3]` as positions; `None` where its rows do not hold three numbers.
///
/// ```
/// use ndarray::array;
/// assert_eq!(formkin::points_of(array![[1.0f32, 2.0, 3.0]].view()), Some(vec![[1.0, 2.0, 3.0]]));
/// assert_eq!(formkin::points_of(array![[1.0, 2.0]].view()), None);
/// ```
#[must_use]
pub fn points_of<T: Copy + Into<f64>>(array: ArrayView2<'_, T>) -> Option<Vec<Point>> {
    (array.ncols() == 3)
        .then(|| array.rows().into_iter().map(|r| [r[0].into(), r[1].into(), r[2].into()]).collect())
}

/// The mean of a space as an array `[vertices, 3]`, in mm.
#[must_use]
pub fn mean_array(space: &Space) -> Array2<f64> {
    points_array(&space.mean)
}

/// The modes of a space as an array `[modes, vertices, 3]`: mm a mm of coefficient.
#[must_use]
pub fn modes_array(space: &Space) -> Array3<f64> {
    Array3::from_shape_fn((space.modes.len(), space.mean.len(), 3), |(m, v, k)| space.modes[m][v][k])
}

/// The coefficients of the shapes that a space was fitted to as an array `[shapes, modes]`, in mm.
#[must_use]
pub fn coefficients_array(fitted: &FittedSpace) -> Array2<f64> {
    let rows = &fitted.coefficients;
    Array2::from_shape_fn((rows.len(), rows.first().map_or(0, Vec::len)), |(i, m)| rows[i][m])
}
