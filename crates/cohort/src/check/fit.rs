//! The rotation between two items.

use formkin_geometry::Point;
use formkin_geometry::areas::centroid;
use formkin_geometry::kabsch::best_rotation;
use formkin_geometry::vector::{add_outer, dot, sub};

/// How one shape lies on another.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Fit {
    /// Angle between the height axes after the best rotation, in degrees.
    pub(crate) tilt_deg: f64,
    /// Root mean square distance after the best rotation, in mm.
    pub(crate) rms_mm: f64,
    /// The same of the best reflection.
    pub(crate) reflected_rms_mm: f64,
}

/// Fits `shape` to `target` by rotation and translation with vertex weights that sum to 1: the sum of squares is |x|^2 + |y|^2 - 2 tr(R C) with the
/// cross-covariance C.
pub(crate) fn fit(shape: &[Point], target: &[Point], weights: &[f64]) -> Fit {
    let (from, to) = (centroid(shape, weights), centroid(target, weights));
    let mut cross = [[0.0; 3]; 3];
    let mut squares = 0.0;
    for ((x, y), w) in shape.iter().zip(target).zip(weights) {
        let (x, y) = (sub(*x, from), sub(*y, to));
        add_outer(&mut cross, *w, x, y);
        squares += w * (dot(x, x) + dot(y, y));
    }
    if !cross.as_flattened().iter().all(|v| v.is_finite()) {
        return Fit { tilt_deg: 0.0, rms_mm: f64::NAN, reflected_rms_mm: f64::NAN };
    }
    let found = best_rotation(&cross);
    let rms = |trace: f64| (squares - 2.0 * trace).max(0.0).sqrt();
    Fit {
        tilt_deg: found.rotation[2][2].clamp(-1.0, 1.0).acos().to_degrees(),
        rms_mm: rms(found.trace),
        reflected_rms_mm: rms(found.mirrored_trace),
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
