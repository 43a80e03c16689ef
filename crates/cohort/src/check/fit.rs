//! The rotation between two items.

use formkin_geometry::Point;
use nalgebra::{Matrix3, Vector3};

/// How one shape lies on another.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Fit {
    /// Angle between the height axes after the best rotation, in degrees.
    pub(crate) tilt_deg: f64,
    /// Root mean square distance after the best rotation, in mm.
    pub(crate) rms_mm: f64,
    /// The same where a reflection is allowed.
    pub(crate) reflected_rms_mm: f64,
}

/// Fits `shape` to `target` by rotation and translation with vertex weights that sum to 1 (Kabsch 1976): with the singular
/// values s of the cross-covariance H, the sum of squares is |x|^2 + |y|^2 - 2 (s1 + s2 +- s3), the sign that of det H.
pub(crate) fn fit(shape: &[Point], target: &[Point], weights: &[f64]) -> Fit {
    let mean = |points: &[Point]| {
        points.iter().zip(weights).fold(Vector3::zeros(), |m, (p, w)| m + Vector3::from(*p) * *w)
    };
    let (mx, my) = (mean(shape), mean(target));
    let mut h = Matrix3::zeros();
    let mut squares = 0.0;
    for ((x, y), w) in shape.iter().zip(target).zip(weights) {
        let (x, y) = (Vector3::from(*x) - mx, Vector3::from(*y) - my);
        h += x * y.transpose() * *w;
        squares += w * (x.norm_squared() + y.norm_squared());
    }
    let none = Fit { tilt_deg: 0.0, rms_mm: f64::NAN, reflected_rms_mm: f64::NAN };
    if !h.iter().all(|v| v.is_finite()) {
        return none;
    }
    let svd = h.svd(true, true);
    let (Some(u), Some(v_t)) = (svd.u, svd.v_t) else { return none };
    let s = svd.singular_values;
    let sign = if (u * v_t).determinant() < 0.0 { -1.0 } else { 1.0 };
    let rotation = v_t.transpose() * Matrix3::from_diagonal(&Vector3::new(1.0, 1.0, sign)) * u.transpose();
    let rms = |sum: f64| (squares - 2.0 * sum).max(0.0).sqrt();
    let proper = s[0] + s[1] + sign * s[2];
    Fit {
        tilt_deg: rotation[(2, 2)].clamp(-1.0, 1.0).acos().to_degrees(),
        rms_mm: rms(proper),
        reflected_rms_mm: rms(if sign < 0.0 { proper + 2.0 * s[2] } else { proper - 2.0 * s[2] }),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn points() -> Vec<Point> {
        (0..60)
            .map(|i| {
                let t = f64::from(i);
                [300.0 * (0.7 * t).sin() + t, 100.0 * (1.3 * t).cos() - 0.5 * t, 30.0 * t]
            })
            .collect()
    }

    #[test]
    fn turned_tilted_and_mirrored_shapes() {
        let p = points();
        let w = vec![1.0 / 60.0; 60];
        let turn = |p: &[Point], axis: usize, degrees: f64| -> Vec<Point> {
            let (s, c) = f64::to_radians(degrees).sin_cos();
            let (i, j) = ((axis + 1) % 3, (axis + 2) % 3);
            p.iter()
                .map(|p| {
                    let mut q = *p;
                    (q[i], q[j]) = (c * p[i] - s * p[j] + 70.0, s * p[i] + c * p[j]);
                    q
                })
                .collect()
        };
        let about_z = fit(&turn(&p, 2, 130.0), &p, &w);
        assert!(
            about_z.rms_mm < 1e-4 && about_z.tilt_deg < 1e-4 && about_z.reflected_rms_mm > 50.0,
            "{about_z:?}"
        );
        let about_x = fit(&turn(&p, 0, 40.0), &p, &w);
        assert!(about_x.rms_mm < 1e-4 && (about_x.tilt_deg - 40.0).abs() < 1e-6, "{about_x:?}");
        let mirrored: Vec<Point> = p.iter().map(|[x, y, z]| [-x, *y, *z]).collect();
        let m = fit(&mirrored, &p, &w);
        assert!(m.reflected_rms_mm < 1e-4 && m.rms_mm > 50.0, "{m:?}");
    }
}
