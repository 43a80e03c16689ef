//! Intervals of a share, and how many observations weighted ones are worth.

use statrs::distribution::{ContinuousCDF, Normal};

/// Effective number of observations, (sum w)^2 / sum w^2 (Kish 1965): the number of observations, where all weights are equal. 0 where no
/// weight is above 0.
#[must_use]
pub fn n_eff(weights: &[f64]) -> f64 {
    let (sum, squares) = weights.iter().fold((0.0, 0.0), |(s, q), w| (s + w, q + w * w));
    if squares > 0.0 { sum * sum / squares } else { 0.0 }
}

/// The price of weighting, n / n_eff = 1 + CV^2 of the weights; 1 where all weights are equal, or there are none.
#[must_use]
pub fn design_effect(weights: &[f64]) -> f64 {
    let n = n_eff(weights);
    if n > 0.0 { weights.len() as f64 / n } else { 1.0 }
}

/// Two-sided quantile of the standard normal: 1.96 for a level of 0.95. A level outside 0 to 1 is taken as its nearest end.
#[must_use]
pub fn normal_quantile(level: f64) -> f64 {
    Normal::standard().inverse_cdf(0.5 + level.clamp(0.0, 1.0) / 2.0)
}

/// Wilson's score interval of a share of `successes` in `n_eff` independent observations, both of which may be fractions:
/// (p + z^2/2n +- z sqrt(p (1 - p)/n + z^2/4n^2)) / (1 + z^2/n) (Wilson 1927). It stays within 0 to 1 and has a width at 0 and n successes.
///
/// (0, 1), nothing known, where `n_eff` is not above 0. `successes` are kept within 0 to `n_eff`.
#[must_use]
pub fn wilson(successes: f64, n_eff: f64, level: f64) -> (f64, f64) {
    let z = normal_quantile(level);
    if !(n_eff > 0.0 && n_eff.is_finite() && successes.is_finite() && z.is_finite()) {
        return (0.0, 1.0);
    }
    let p = (successes / n_eff).clamp(0.0, 1.0);
    let z2 = z * z / n_eff;
    let half = (p * (1.0 - p) * z2 + z2 * z2 / 4.0).sqrt();
    let (low, high) = ((p + z2 / 2.0 - half) / (1.0 + z2), (p + z2 / 2.0 + half) / (1.0 + z2));
    // At the ends the formula gives exactly 0 and 1, up to rounding.
    let low = if p == 0.0 { 0.0 } else { low.max(0.0) };
    let high = if p == 1.0 { 1.0 } else { high.min(1.0) };
    (low, high)
}

#[cfg(test)]
mod tests {
    use approx::assert_abs_diff_eq;

    use super::*;

    #[test]
    fn known_intervals() {
        // By hand with z = 1.959964: 0/10 -> upper z^2/(n + z^2); 5/10 symmetric.
        let (low, high) = wilson(0.0, 10.0, 0.95);
        assert_abs_diff_eq!(low, 0.0);
        assert_abs_diff_eq!(high, 3.841_458_8 / 13.841_458_8, epsilon = 1e-8);
        let (low, high) = wilson(5.0, 10.0, 0.95);
        assert_abs_diff_eq!(low + high, 1.0, epsilon = 1e-12);
        // statsmodels 0.15 proportion_confint(5, 10, method="wilson"): 0.236593, 0.763407.
        assert_abs_diff_eq!(low, 0.236_593, epsilon = 1e-6);
        let (low, high) = wilson(10.0, 10.0, 0.95);
        assert_abs_diff_eq!(high, 1.0);
        assert_abs_diff_eq!(low, 10.0 / 13.841_458_8, epsilon = 1e-8);
        assert_eq!(wilson(1.0, 0.0, 0.95), (0.0, 1.0));
        assert_eq!(wilson(1.0, 4.0, 1.0), (0.0, 1.0));
        assert_eq!(wilson(f64::NAN, 4.0, 0.95), (0.0, 1.0));
    }

    #[test]
    fn weights_cost_observations() {
        assert_abs_diff_eq!(n_eff(&[2.0; 7]), 7.0, epsilon = 1e-12);
        assert_abs_diff_eq!(n_eff(&[3.0, 1.0]), 1.6, epsilon = 1e-12);
        // CV^2 of (3, 1) with divisor n: 1 / 4.
        assert_abs_diff_eq!(design_effect(&[3.0, 1.0]), 1.25, epsilon = 1e-12);
        assert_abs_diff_eq!(n_eff(&[]), 0.0);
    }

    #[test]
    fn weighted_intervals_hold_the_truth_in_93_to_97_percent() {
        use rand::Rng;
        // 2,000 draws of 150 people, 82 % of whom fit; weights of .3 to 3.3 that have nothing to do with it.
        let mut rng = crate::random::stream(9, "weighted intervals");
        let hits = (0..2000)
            .filter(|_| {
                let weights: Vec<f64> = (0..150).map(|_| 0.3 + 3.0 * rng.r#gen::<f64>()).collect();
                let fit: f64 = weights.iter().filter(|_| rng.r#gen::<f64>() < 0.82).sum();
                let n = n_eff(&weights);
                let (low, high) = wilson(fit / weights.iter().sum::<f64>() * n, n, 0.95);
                low <= 0.82 && 0.82 <= high
            })
            .count();
        assert!((1860..=1940).contains(&hits), "{hits} of 2000");
    }
}
