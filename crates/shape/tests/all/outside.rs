//! Values from outside the project, and laws of random matrices.

#![allow(clippy::unwrap_used)] // helpers of tests are tests

use crate::common::{body, quiet, real};
use formkin_align::{AlignParams, Removes, Weighting};
use formkin_geometry::{Point, ShapeArray, ShapeSource};
use formkin_shape::SpaceParams;
use formkin_stats::random::stream;
use rand::Rng;
use rand_distr::StandardNormal;

fn plain(removes: Removes) -> SpaceParams {
    SpaceParams {
        align: AlignParams { removes, weighting: Weighting::Plain, ..AlignParams::default() },
        cross_validate: false,
        ..SpaceParams::default()
    }
}

/// Eigenvalues 1-4 and total variance after rigid alignment with plain weights, computed with numpy and scipy from the same files; there vertices count 1 each and
/// lengths are metres.
#[test]
fn real_sequences_have_the_eigenvalues_of_the_reference() {
    let reference = [
        ("mannequin-walk", 33, [44.301394, 5.6476510, 2.9404041, 0.41411466], 53.765857),
        ("horse-walk", 29, [25.745958, 12.378252, 1.1011078, 0.78893604], 40.350045),
    ];
    for (folder, frames, values, total) in reference {
        let Some((topology, shapes)) = real(folder) else { return };
        assert_eq!(shapes.shapes(), frames);
        let fit = plain(Removes::Rigid).fit(&shapes, &topology, &vec![0; frames], None, &quiet).unwrap();
        let unit = shapes.vertices() as f64 * 1e-6;
        for (found, want) in fit.space.variances_mm2.iter().zip(values) {
            assert!((found * unit / want - 1.0).abs() < 1e-5, "{folder}: {} and not {want}", found * unit);
        }
        assert!((fit.space.total_variance_mm2 * unit / total - 1.0).abs() < 1e-5);
        assert_eq!((fit.space.people, fit.space.items), (1, frames));
    }
}

/// Eigenvalues of white noise lie in sigma^2 (1 +- sqrt(gamma))^2, gamma = dimensions / (shapes - 1) (Marchenko and Pastur 1967, from memory), up to
/// fluctuations of order shapes^(-2/3); alignment takes six dimensions.
#[test]
fn noise_has_the_spectrum_of_noise() {
    let (topology, base) = body(10, 10);
    let (n, v, sd) = (613, base.len(), 2.0);
    let mut rng = stream(11, "noise");
    let mut shapes = ShapeArray::new(v);
    for _ in 0..n {
        let noisy: Vec<Point> =
            base.iter().map(|p| p.map(|c| c + sd * rng.sample::<f64, _>(StandardNormal))).collect();
        shapes.push(&noisy).unwrap();
    }
    let people: Vec<usize> = (0..n).collect();
    let space = plain(Removes::Rigid).fit(&shapes, &topology, &people, None, &quiet).unwrap().space;
    let dimensions = 3 * v - 6;
    assert_eq!(space.variances_mm2.len(), dimensions);
    let gamma = dimensions as f64 / (n - 1) as f64;
    let unit = sd * sd / v as f64;
    let (low, high) = ((1.0 - gamma.sqrt()).powi(2), (1.0 + gamma.sqrt()).powi(2));
    let (largest, smallest) = (space.variances_mm2[0] / unit, space.variances_mm2[dimensions - 1] / unit);
    assert!((largest / high - 1.0).abs() < 0.06, "{largest} and not {high}");
    assert!((smallest / low - 1.0).abs() < 0.15, "{smallest} and not {low}");
    let total = space.total_variance_mm2 / (unit * dimensions as f64);
    assert!((total - 1.0).abs() < 0.01, "{total}");
}
