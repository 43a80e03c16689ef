//! The best rotation, never a reflection.

use nalgebra::Matrix3;

use crate::rotation::{IDENTITY, Rotation};

/// The rotation R that lays y on m best, and how well.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BestRotation {
    /// R, row by row, with det R = +1.
    pub rotation: Rotation,
    /// The greatest possible tr(R C) = sum_v w_v m_v . R y_v, in the unit of C. For unit sizes it is cos(rho).
    pub trace: f64,
    /// The greatest possible tr(Q C) where Q may only be a reflection, det Q = -1: how well a mirror image would fit.
    pub mirrored_trace: f64,
    /// 0 where several rotations fit equally well, up to 1: (s2 +- s3) / s1 of the singular values.
    pub distinctness: f64,
}

/// The rotation that minimises sum_v w_v |R y_v - m_v|^2, from the cross moment C = sum_v w_v y_v m_v^T.
///
/// With the singular value decomposition C = U S V^T it is R = V diag(1, 1, det(V U^T)) U^T (Kabsch 1976, 1978; Umeyama 1991 for the sign):
/// a reflection is refused even where it would fit better.
#[must_use]
pub fn best_rotation(cross: &[[f64; 3]; 3]) -> BestRotation {
    let size = cross.iter().flatten().fold(0.0, |a: f64, x| a.max(x.abs()));
    if !(size > 0.0 && size.is_finite()) {
        return BestRotation { rotation: IDENTITY, trace: 0.0, mirrored_trace: 0.0, distinctness: 0.0 };
    }
    let c = Matrix3::from_fn(|i, k| cross[i][k] / size);
    let (left, v) = orthogonal_columns(c);
    let mut order = [0, 1, 2];
    order.sort_by(|&a, &b| left.column(b).norm_squared().total_cmp(&left.column(a).norm_squared()));
    let [first, second, _] = order;
    let s1 = left.column(first).norm();
    let u1 = left.column(first) / s1;
    let v1 = v.column(first).into_owned();
    let v2 = v.column(second).into_owned();
    // made orthogonal once more, for what is left of a small column
    let rest = left.column(second) - u1 * u1.dot(&left.column(second));
    let s2 = rest.norm();
    if s2 <= f64::EPSILON * s1 {
        let trace = s1 * size;
        return BestRotation { rotation: IDENTITY, trace, mirrored_trace: trace, distinctness: 0.0 };
    }
    let u2 = rest / s2;
    // the third directions complete two right-handed frames, so that R = V U^T turns and never mirrors
    let (u3, v3) = (u1.cross(&u2), v1.cross(&v2));
    let r = v1 * u1.transpose() + v2 * u2.transpose() + v3 * u3.transpose();
    let s3 = (c * v3).dot(&u3);
    BestRotation {
        rotation: std::array::from_fn(|i| std::array::from_fn(|k| r[(i, k)])),
        trace: (s1 + s2 + s3) * size,
        mirrored_trace: (s1 + s2 - s3) * size,
        distinctness: (s2 + s3) / s1,
    }
}

/// C V with orthogonal columns, and V orthogonal: a singular value decomposition by one-sided Jacobi rotations (Hestenes 1958), which keeps the digits of
/// small singular values too. nalgebra's decomposition of 3 x 3 matrices loses digits where two of them are nearly equal: see the test.
fn orthogonal_columns(mut c: Matrix3<f64>) -> (Matrix3<f64>, Matrix3<f64>) {
    let mut v = Matrix3::identity();
    for _ in 0..30 {
        let mut turned = false;
        for (p, q) in [(0, 1), (0, 2), (1, 2)] {
            let (a, b, g) =
                (c.column(p).norm_squared(), c.column(q).norm_squared(), c.column(p).dot(&c.column(q)));
            if g.abs() <= f64::EPSILON * (a * b).sqrt() {
                continue;
            }
            turned = true;
            let z = (b - a) / (2.0 * g);
            let t = z.signum() / (z.abs() + z.hypot(1.0));
            let cos = 1.0 / t.hypot(1.0);
            let sin = cos * t;
            for m in [&mut c, &mut v] {
                for i in 0..3 {
                    let (x, y) = (m[(i, p)], m[(i, q)]);
                    m[(i, p)] = cos * x - sin * y;
                    m[(i, q)] = sin * x + cos * y;
                }
            }
        }
        if !turned {
            break;
        }
    }
    (c, v)
}

/// The best turn about z alone: the same with R kept to rotations in the xy plane, theta = atan2(C_xy - C_yx, C_xx + C_yy). A mirror image is one in an
/// upright plane here.
#[must_use]
pub fn best_heading(cross: &[[f64; 3]; 3]) -> BestRotation {
    let along = cross[0][0] + cross[1][1];
    let across = cross[0][1] - cross[1][0];
    let length = along.hypot(across);
    let mirrored = (cross[0][0] - cross[1][1]).hypot(cross[0][1] + cross[1][0]);
    let size = cross[0][0].hypot(cross[0][1]).hypot(cross[1][0]).hypot(cross[1][1]);
    if !(length > 0.0 && length.is_finite()) {
        let (trace, distinctness) = (cross[2][2], 0.0);
        return BestRotation { rotation: IDENTITY, trace, mirrored_trace: mirrored + trace, distinctness };
    }
    let (cos, sin) = (along / length, across / length);
    BestRotation {
        rotation: [[cos, -sin, 0.0], [sin, cos, 0.0], [0.0, 0.0, 1.0]],
        trace: length + cross[2][2],
        mirrored_trace: mirrored + cross[2][2],
        distinctness: length / size,
    }
}

#[cfg(test)]
mod tests {
    use nalgebra::Vector3;

    use super::*;

    #[test]
    fn every_turn_of_a_body_is_found_to_the_last_digits() {
        let axis = nalgebra::Unit::new_normalize(Vector3::new(2.0, 3.0, 6.0));
        for i in 0..20_000 {
            let t = f64::from(i) * 0.02;
            let breath = 0.08 * (4.0 * std::f64::consts::PI * t).sin();
            let spread = Matrix3::from_diagonal(&Vector3::new(
                20_833.0 * (1.0 + breath),
                7500.0 * (1.0 - breath),
                53_333.0,
            ));
            let turn = nalgebra::Rotation3::from_axis_angle(&axis, 1.7 * t);
            let c = turn.matrix() * spread; // y = Q m
            let found = best_rotation(&std::array::from_fn(|i| std::array::from_fn(|k| c[(i, k)])));
            for i in 0..3 {
                for k in 0..3 {
                    assert!((found.rotation[i][k] - turn.matrix()[(k, i)]).abs() < 1e-12, "{t}: {found:?}");
                }
            }
        }
    }

    /// Why the decomposition is our own: that of nalgebra 0.33 loses the entries of a 3 x 3 matrix with two nearly equal singular values.
    #[test]
    fn two_nearly_equal_singular_values_keep_their_digits_here_and_not_in_nalgebra() {
        // a multiplicative congruential generator (Lehmer, the constants of Park and Miller 1988)
        let mut state = 7u64;
        let mut next = || {
            state = state * 48_271 % 2_147_483_647;
            state as f64 / 2_147_483_647.0
        };
        let (mut ours, mut theirs) = (0.0f64, 0.0f64);
        for _ in 0..60_000 {
            let mut turn = || {
                let axis = Vector3::new(next() - 0.5, next() - 0.5, next() - 0.5);
                *nalgebra::Rotation3::new(axis.normalize() * (std::f64::consts::PI * next())).matrix()
            };
            let (u, v) = (turn(), turn());
            let apart = 10f64.powf(-6.0 + 1.5 * next());
            let values = Vector3::new(1.0 + apart, 1.0, 0.5).map(|s| s * 1e4);
            let c = u * Matrix3::from_diagonal(&values) * v.transpose();
            let exact = v * u.transpose();
            let found = best_rotation(&std::array::from_fn(|i| std::array::from_fn(|k| c[(i, k)])));
            for i in 0..3 {
                for k in 0..3 {
                    ours = ours.max((found.rotation[i][k] - exact[(i, k)]).abs());
                }
            }
            let svd = c.svd(true, true);
            if let (Some(u), Some(v_t)) = (svd.u, svd.v_t) {
                let back = u * Matrix3::from_diagonal(&svd.singular_values) * v_t;
                theirs = theirs.max((back - c).abs().max() / 1e4);
                theirs = theirs.max((v_t.transpose() * u.transpose() - exact).abs().max());
            }
        }
        assert!(ours < 1e-9, "ours is off by {ours}");
        assert!(theirs > 1e-3, "nalgebra's is off by {theirs} only: ours may no longer be needed");
    }
}
