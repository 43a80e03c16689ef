//! How points lie about their centre: second moments, principal axes.

use nalgebra::Matrix3;

use crate::Point;
use crate::vector::{add_outer, sub};

/// sum_v w_v (x_v - centre)(x_v - centre)^T, in mm2 for weights without a unit.
#[must_use]
pub fn spread(points: &[Point], weights: &[f64], centre: Point) -> [[f64; 3]; 3] {
    let mut sum = [[0.0; 3]; 3];
    for (p, w) in points.iter().zip(weights) {
        let d = sub(*p, centre);
        add_outer(&mut sum, *w, d, d);
    }
    sum
}

/// The principal moments of a spread, largest first, and their axes of unit length. `None` where it is not finite.
#[must_use]
pub fn principal(spread: &[[f64; 3]; 3]) -> Option<([f64; 3], [Point; 3])> {
    if !spread.as_flattened().iter().all(|x| x.is_finite()) {
        return None;
    }
    let eigen = Matrix3::from_fn(|i, k| spread[i][k]).symmetric_eigen();
    let mut order = [0, 1, 2];
    order.sort_by(|&a, &b| eigen.eigenvalues[b].total_cmp(&eigen.eigenvalues[a]));
    let axis = |k: usize| -> Point { std::array::from_fn(|c| eigen.eigenvectors[(c, k)]) };
    Some((order.map(|k| eigen.eigenvalues[k]), order.map(axis)))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::rotation::{about, rotate};
    use crate::vector::dot;

    #[test]
    fn the_axes_of_a_turned_box() {
        let turn = about([0.4, 1.1, -0.6]);
        let corners: Vec<Point> = (0..8)
            .map(|i| {
                let end = |bit: u32, half: f64| if i >> bit & 1 == 0 { -half } else { half };
                rotate(&turn, [end(0, 5.0), end(1, 90.0), end(2, 30.0)])
            })
            .collect();
        let (moments, axes) = principal(&spread(&corners, &[0.125; 8], [0.0; 3])).unwrap();
        for (k, (half, side)) in
            [(90.0, [0.0, 1.0, 0.0]), (30.0, [0.0, 0.0, 1.0]), (5.0, [1.0, 0.0, 0.0])].into_iter().enumerate()
        {
            assert!((moments[k] - half * half).abs() < 1e-9, "{moments:?}");
            assert!((dot(axes[k], rotate(&turn, side)).abs() - 1.0).abs() < 1e-12, "{axes:?}");
        }
        assert!(principal(&[[f64::NAN; 3]; 3]).is_none());
    }
}
