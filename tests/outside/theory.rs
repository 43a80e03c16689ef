//! Theory as oracle: what must come out of bodies that differ by white noise alone. It catches wrong divisors and scales, which
//! snapshots freeze in.

use formkin_align::{AlignParams, Removes, Weighting};
use formkin_geometry::ShapeArray;
use formkin_shape::SpaceParams;
use formkin_stats::random::stream;
use formkin_tests::bodies::{tube, tube_positions};
use rand::Rng;

/// A standard normal deviate (Box & Muller 1958).
pub(crate) fn normal(random: &mut impl Rng) -> f64 {
    let (u, v): (f64, f64) = (1.0 - random.r#gen::<f64>(), random.r#gen());
    (-2.0 * u.ln()).sqrt() * (std::f64::consts::TAU * v).cos()
}

/// The variances of a space of `n` tubes of `3 V` coordinates, each with its own noise of the given standard deviation in mm, plain weights.
fn variances(n: usize, rings: u32, around: u32, sd: f64) -> (Vec<f64>, f64, usize) {
    let topology = tube(rings, around).unwrap();
    let base = tube_positions(rings, around, 1700.0, |f| [200.0 - 90.0 * f, 120.0 - 20.0 * f]);
    let mut random = stream(11, "white noise");
    let mut array = ShapeArray::new(base.len());
    for _ in 0..n {
        let noisy: Vec<_> = base.iter().map(|p| p.map(|x| x + sd * normal(&mut random))).collect();
        array.push(&noisy).unwrap();
    }
    let align =
        AlignParams { removes: Removes::Rigid, weighting: Weighting::Plain, ..AlignParams::default() };
    let people: Vec<usize> = (0..n).collect();
    let fitted = SpaceParams { align, cross_validate: false, ..SpaceParams::default() }
        .fit(&array, &topology, &people, None, &|_, _| {})
        .unwrap();
    (fitted.space.variances_mm2, fitted.space.total_variance_mm2, base.len())
}

#[test]
fn the_total_variance_of_white_noise_is_its_own() {
    // Each vertex is off by 3 sd^2 on average; rigid alignment takes 6 of the 3 V degrees of freedom.
    let (sd, n) = (2.0, 400);
    let (_, total, vertices) = variances(n, 10, 10, sd);
    let expected = sd * sd * (3 * vertices - 6) as f64 / vertices as f64;
    assert!((total / expected - 1.0).abs() < 0.02, "{total} against {expected}");
}

#[test]
fn the_spectrum_of_white_noise_fills_the_marchenko_pastur_support() {
    // Support sigma^2 (1 +- sqrt(gamma))^2 with gamma = dimensions over observations (M: Marchenko & Pastur 1967):
    // gamma .5 from .085786 to 2.914214, gamma .1 from .467544 to 1.732456.
    // Rigid alignment takes 6 of the 3 V dimensions: 300 of 102 vertices, 147 of 51.
    for (rings, n, low, high) in [(10, 600, 0.085_786, 2.914_214), (7, 1470, 0.467_544, 1.732_456)] {
        let sd = 1.5;
        let (found, _, vertices) = variances(n, rings, rings, sd);
        // The plain weights are 1 / V: a mode's variance is that of a coordinate over the number of vertices.
        let unit = sd * sd / vertices as f64;
        let (largest, smallest) = (found[0] / unit, found[3 * vertices - 7] / unit);
        // The edges are sharp to about n^(-2/3).
        assert!((largest / high - 1.0).abs() < 0.05, "n = {n}: largest {largest} against {high}");
        assert!((smallest / low - 1.0).abs() < 0.12, "n = {n}: smallest {smallest} against {low}");
        let left = found.get(3 * vertices - 6).copied().unwrap_or(0.0) / unit;
        assert!(left < 0.01, "alignment leaves no more than 3 V - 6 dimensions: {left}");
    }
}
