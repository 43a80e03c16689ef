//! The best rotation, never a reflection.

use nalgebra::{Matrix3, Vector3};

use crate::transform::{IDENTITY, Rotation};

/// The rotation R that lays y on m best, and how well.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BestRotation {
    /// R, row by row, with det R = +1.
    pub rotation: Rotation,
    /// The greatest possible tr(R C) = sum_v w_v m_v . R y_v, in the unit of C. For unit sizes it is cos(rho).
    pub trace: f64,
    /// 0 where several rotations fit equally well, up to 1: (s2 +- s3) / s1 of the singular values.
    pub distinctness: f64,
}

/// The rotation that minimises sum_v w_v |R y_v - m_v|^2, from the cross moment C = sum_v w_v y_v m_v^T.
///
/// With the singular value decomposition C = U S V^T it is R = V diag(1, 1, det(V U^T)) U^T (Kabsch 1976, 1978; Umeyama 1991 for the sign):
/// a reflection is refused even where it would fit better. One Newton step then takes the rotation to the last digits.
#[must_use]
pub fn best_rotation(cross: &[[f64; 3]; 3]) -> BestRotation {
    let size = cross.iter().flatten().fold(0.0, |a: f64, x| a.max(x.abs()));
    if !(size > 0.0 && size.is_finite()) {
        return BestRotation { rotation: IDENTITY, trace: 0.0, distinctness: 0.0 };
    }
    let c = Matrix3::from_fn(|i, k| cross[i][k] / size);
    let Some(svd) = c.try_svd(true, true, f64::EPSILON, 0) else {
        return BestRotation { rotation: IDENTITY, trace: 0.0, distinctness: 0.0 };
    };
    let (Some(u), Some(vt), s) = (svd.u, svd.v_t, svd.singular_values) else {
        return BestRotation { rotation: IDENTITY, trace: 0.0, distinctness: 0.0 };
    };
    let mut order = [0, 1, 2];
    order.sort_by(|&a, &b| s[b].total_cmp(&s[a]));
    let sign = if (u.determinant() * vt.determinant()) < 0.0 { -1.0 } else { 1.0 };
    let mut signs = Vector3::new(1.0, 1.0, 1.0);
    signs[order[2]] = sign;
    let mut r = vt.transpose() * Matrix3::from_diagonal(&signs) * u.transpose();
    let [s1, s2, s3] = order.map(|k| s[k]);
    let distinctness = (s2 + sign * s3) / s1;
    if distinctness > 1e-9 {
        // At the optimum P = R C is symmetric. A small turn w makes it so: (tr(P) I - P) w = axial(P - P^T), to first order. Now and then the
        // decomposition is off by hundredths of a radian, so steps go on until nothing is left to gain.
        for _ in 0..20 {
            let p = r * c;
            let axial = Vector3::new(p[(1, 2)] - p[(2, 1)], p[(2, 0)] - p[(0, 2)], p[(0, 1)] - p[(1, 0)]);
            let symmetric = (p + p.transpose()) / 2.0;
            let Some(inverse) = (Matrix3::identity() * p.trace() - symmetric).try_inverse() else { break };
            let w = inverse * axial;
            let next = nalgebra::Rotation3::new(w).matrix() * r;
            let gain = (next * c).trace() - p.trace();
            if !(w.norm() < 0.5 && gain > -1e-15) {
                break;
            }
            r = next;
            if w.norm() < 1e-15 {
                break;
            }
        }
    }
    let trace = (r * c).trace() * size;
    BestRotation {
        rotation: std::array::from_fn(|i| std::array::from_fn(|k| r[(i, k)])),
        trace,
        distinctness,
    }
}

/// The best turn about z alone: the same with R kept to rotations in the xy plane, theta = atan2(C_xy - C_yx, C_xx + C_yy).
#[must_use]
pub fn best_heading(cross: &[[f64; 3]; 3]) -> BestRotation {
    let along = cross[0][0] + cross[1][1];
    let across = cross[0][1] - cross[1][0];
    let length = along.hypot(across);
    let size = cross[0][0].hypot(cross[0][1]).hypot(cross[1][0]).hypot(cross[1][1]);
    if !(length > 0.0 && length.is_finite()) {
        return BestRotation { rotation: IDENTITY, trace: cross[2][2], distinctness: 0.0 };
    }
    let (cos, sin) = (along / length, across / length);
    BestRotation {
        rotation: [[cos, -sin, 0.0], [sin, cos, 0.0], [0.0, 0.0, 1.0]],
        trace: length + cross[2][2],
        distinctness: length / size,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_turn_of_a_body_is_found_to_the_last_digits() {
        // a decomposition of 3 x 3 matrices that is off by hundredths of a radian for single turns among thousands was met with here
        let axis = nalgebra::Unit::new_normalize(Vector3::new(2.0, 3.0, 6.0));
        for i in 0..20_000 {
            let t = f64::from(i) * 0.02;
            let breath = 0.08 * (4.0 * std::f64::consts::PI * t).sin();
            let spread = Matrix3::from_diagonal(&Vector3::new(20_833.0 * (1.0 + breath), 7500.0 * (1.0 - breath), 53_333.0));
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
}
