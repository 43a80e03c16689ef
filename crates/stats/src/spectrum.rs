//! Edges and factors of random matrix theory, broken stick.

use std::f64::consts::PI;

/// The support of the Marchenko-Pastur law of unit noise, (1 -+ sqrt(beta))^2, for the aspect ratio beta = rows / columns, 0 < beta <= 1.
#[must_use]
pub fn marchenko_pastur_edges(beta: f64) -> (f64, f64) {
    let root = beta.clamp(0.0, 1.0).sqrt();
    ((1.0 - root).powi(2), (1.0 + root).powi(2))
}

/// The median of the Marchenko-Pastur law of unit noise, by integration: with x = 1 + beta + 2 sqrt(beta) cos(a), the density sqrt((x+ - x)(x - x-)) / (2 pi beta x)
/// becomes 2 sin^2(a) / (pi x) for 0 < a < pi, smooth, and is summed by Simpson's rule; the median by bisection.
#[must_use]
pub fn marchenko_pastur_median(beta: f64) -> f64 {
    let beta = beta.clamp(1e-12, 1.0);
    let root = beta.sqrt();
    let x = |a: f64| 1.0 + beta + 2.0 * root * a.cos();
    let density = |a: f64| {
        let x = x(a);
        // at the hard edge of a square matrix sin^2 / x -> 1/2 of (1 + cos)
        if x < 1e-12 { 0.0 } else { 2.0 * a.sin().powi(2) / (PI * x) }
    };
    // mass of the angles 0 to a: the upper part of the law
    let mass = |a: f64| {
        let steps = 400;
        let h = a / f64::from(steps);
        let inner: f64 =
            (1..steps).map(|i| if i % 2 == 1 { 4.0 } else { 2.0 } * density(h * f64::from(i))).sum();
        h / 3.0 * (density(0.0) + inner + density(a))
    };
    let (mut low, mut high) = (0.0, PI);
    for _ in 0..60 {
        let middle = (low + high) / 2.0;
        if mass(middle) < 0.5 {
            low = middle;
        } else {
            high = middle;
        }
    }
    x((low + high) / 2.0)
}

/// The factor of the median singular value above which a singular value is worth keeping where noise is white and of unknown size (Gavish & Donoho 2014):
/// lambda(beta) / sqrt(median(beta)), lambda^2 = 2 (beta + 1) + 8 beta / (beta + 1 + sqrt(beta^2 + 14 beta + 1)). 2.858 for square matrices.
#[must_use]
pub fn gavish_donoho_factor(beta: f64) -> f64 {
    let beta = beta.clamp(1e-12, 1.0);
    let square = 2.0 * (beta + 1.0) + 8.0 * beta / (beta + 1.0 + (beta * beta + 14.0 * beta + 1.0).sqrt());
    (square / marchenko_pastur_median(beta)).sqrt()
}

/// The expected shares of a stick broken at random into p pieces, largest first: b_k = (1/p) sum_{i=k..p} 1/i (Frontier 1976).
#[must_use]
pub fn broken_stick(p: usize) -> Vec<f64> {
    let mut shares = vec![0.0; p];
    let mut sum = 0.0;
    for k in (0..p).rev() {
        sum += 1.0 / (k + 1) as f64;
        shares[k] = sum / p as f64;
    }
    shares
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn published_edges_and_factors() {
        // Marchenko-Pastur support, from memory of the formula
        let (low, high) = marchenko_pastur_edges(0.1);
        assert!((low - 0.467_544).abs() < 1e-6 && (high - 1.732_456).abs() < 1e-6);
        let (low, high) = marchenko_pastur_edges(0.5);
        assert!((low - 0.085_786).abs() < 1e-6 && (high - 2.914_214).abs() < 1e-6);
        // Gavish & Donoho 2014: 2.858 for square matrices; for 3 x 50,000 coordinates 1.417 (n = 200), 1.422 (500), 1.445 (2000)
        assert!((gavish_donoho_factor(1.0) - 2.858).abs() < 1e-3, "{}", gavish_donoho_factor(1.0));
        for (n, factor) in [(200.0, 1.417), (500.0, 1.422), (2000.0, 1.445)] {
            assert!((gavish_donoho_factor(n / 150_000.0) - factor).abs() < 1e-3, "{n}");
        }
        // the published cubic is an approximation of the exact factor
        let b: f64 = 0.5;
        let cubic = 0.56 * b.powi(3) - 0.95 * b * b + 1.82 * b + 1.43;
        assert!((gavish_donoho_factor(b) - cubic).abs() < 0.02);
    }

    #[test]
    fn a_broken_stick_is_whole() {
        let shares = broken_stick(4);
        assert!((shares.iter().sum::<f64>() - 1.0).abs() < 1e-12);
        assert!((shares[0] - (1.0 + 0.5 + 1.0 / 3.0 + 0.25) / 4.0).abs() < 1e-12);
        assert!(broken_stick(0).is_empty());
    }
}
