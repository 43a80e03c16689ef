//! Variances of pure noise, drawn exactly: parallel analysis.
//!
//! A null has no correlation between coordinates. Its Gram matrix is a sum of many independent terms of sizes l_j, the weighted variances of the
//! coordinates, and is drawn as a Wishart matrix with the same mean and the same second moment: p = (sum l)^2 / sum l^2 degrees of freedom, not in general a whole number
//! (Satterthwaite 1946). The eigenvalues of a Wishart matrix are those of B B^T, B bidiagonal with independent chi variables: chi_p, chi_{p-1}, .. on the
//! diagonal and chi_{r-1}, .., chi_1 below (Dumitriu & Edelman 2002), so that a null takes no meshes and next to no time.

use formkin_stats::random::stream;
use rand_distr::{ChiSquared, Distribution};
use rayon::prelude::*;
use serde::{Deserialize, Serialize};

use crate::ShapeError;

/// Settings of the nulls.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub(crate) struct NoiseParams {
    /// Rows less one: the rank after centring.
    pub rank: usize,
    /// Degrees of freedom p of the coordinates.
    pub freedom: f64,
    /// Total variance, in mm2.
    pub total_variance_mm2: f64,
    /// How many of the largest variances to find.
    pub leading: usize,
    /// How many nulls.
    pub nulls: usize,
    /// The seed.
    pub seed: u64,
}

/// For each null, the largest variances in mm2, with divisor `rank`.
///
/// # Errors
/// [`ShapeError::Setting`] where rank or freedom are under 1.
pub(crate) fn noise_variances(params: &NoiseParams) -> Result<Vec<Vec<f64>>, ShapeError> {
    let NoiseParams { rank, freedom, total_variance_mm2, leading, nulls, seed } = *params;
    if rank < 1 {
        return Err(ShapeError::Setting { name: "rank", value: rank as f64, range: "1 or more" });
    }
    if !(freedom >= 1.0 && freedom.is_finite()) {
        return Err(ShapeError::Setting { name: "freedom", value: freedom, range: "1 or more" });
    }
    // the nonzero eigenvalues are the same whichever side is called rows
    let (rows, freedom) = if freedom.round() >= rank as f64 {
        (rank, freedom)
    } else {
        (freedom.round() as usize, rank as f64)
    };
    let unit = total_variance_mm2 / (rows as f64 * freedom);
    (0..nulls)
        .into_par_iter()
        .map(|which| {
            let mut rng = stream(seed, &format!("parallel analysis {which}"));
            let mut chi2 = |df: f64| -> f64 {
                if df <= 0.0 { 0.0 } else { ChiSquared::new(df).map_or(df, |law| law.sample(&mut rng)) }
            };
            let diagonal: Vec<f64> = (0..rows).map(|i| chi2(freedom - i as f64)).collect();
            let below: Vec<f64> = (1..rows).rev().map(|df| chi2(df as f64)).collect();
            // T = B B^T, tridiagonal; squares of the off-diagonal
            let main: Vec<f64> =
                (0..rows).map(|i| diagonal[i] + if i == 0 { 0.0 } else { below[i - 1] }).collect();
            let off2: Vec<f64> = (0..rows - 1).map(|i| diagonal[i] * below[i]).collect();
            Ok(largest(&main, &off2, leading.min(rows)).into_iter().map(|x| x * unit).collect())
        })
        .collect()
}

/// The largest eigenvalues of a symmetric tridiagonal matrix, by bisection on Sturm counts; good to 1e-10 of the largest.
fn largest(main: &[f64], off2: &[f64], count: usize) -> Vec<f64> {
    let n = main.len();
    let root = |i: usize| off2.get(i).map_or(0.0, |x| x.sqrt());
    let top = (0..n).map(|i| main[i] + root(i) + if i > 0 { root(i - 1) } else { 0.0 }).fold(0.0, f64::max);
    let above = |x: f64| {
        let (mut positive, mut d) = (0, 1.0);
        for i in 0..n {
            d = main[i] - x - if i > 0 { off2[i - 1] / d } else { 0.0 };
            if d == 0.0 {
                d = -1e-300;
            }
            positive += usize::from(d > 0.0);
        }
        positive
    };
    let mut found: Vec<f64> = Vec::with_capacity(count);
    for k in 0..count {
        let (mut low, mut high) = (0.0, found.last().copied().unwrap_or(top));
        while high - low > 1e-10 * top {
            let middle = (low + high) / 2.0;
            if above(middle) > k {
                low = middle;
            } else {
                high = middle;
            }
        }
        found.push((low + high) / 2.0);
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn eigenvalues_of_a_tridiagonal_matrix() {
        // 2 on the diagonal, -1 beside it: 2 - 2 cos(k pi / (n + 1))
        let n = 7;
        let found = largest(&vec![2.0; n], &vec![1.0; n - 1], n);
        for (i, x) in found.iter().enumerate() {
            let k = (n - i) as f64;
            assert!((x - (2.0 - 2.0 * (k * std::f64::consts::PI / 8.0).cos())).abs() < 1e-8);
        }
    }

    #[test]
    fn the_largest_eigenvalue_of_noise_follows_tracy_and_widom() {
        // Johnstone 2001: (l - mu) / sigma, mu = (a + b)^2, sigma = (a + b) (1/a + 1/b)^(1/3), with a = sqrt(n - 1/2), b = sqrt(p - 1/2) (Ma 2012, nearer to
        // the law at finite size); the law has mean -1.2065, variance 1.6078 (tables after Bornemann 2010)
        let (n, p) = (100.0f64, 1000.0f64);
        let params = NoiseParams {
            rank: 100,
            freedom: p,
            total_variance_mm2: n * p,
            leading: 1,
            nulls: 4000,
            seed: 3,
        };
        let (a, b) = ((n - 0.5).sqrt(), (p - 0.5).sqrt());
        let (mu, sigma) = ((a + b).powi(2), (a + b) * (1.0 / a + 1.0 / b).cbrt());
        let s: Vec<f64> = noise_variances(&params).unwrap().iter().map(|v| (v[0] - mu) / sigma).collect();
        let mean = s.iter().sum::<f64>() / s.len() as f64;
        let variance = s.iter().map(|x| (x - mean).powi(2)).sum::<f64>() / (s.len() - 1) as f64;
        assert!((mean + 1.2065).abs() < 0.06, "{mean}");
        assert!((variance - 1.6078).abs() < 0.15, "{variance}");
        let beyond = s.iter().filter(|x| **x > 0.9793).count() as f64 / s.len() as f64;
        assert!((beyond - 0.05).abs() < 0.013, "{beyond}");
    }

    #[test]
    fn noise_keeps_its_total_and_its_law() {
        let params = NoiseParams {
            rank: 60,
            freedom: 600.5,
            total_variance_mm2: 90.0,
            leading: 60,
            nulls: 200,
            seed: 1,
        };
        let all = noise_variances(&params).unwrap();
        let total: f64 = all.iter().flatten().sum::<f64>() / 200.0;
        assert!((total / 90.0 - 1.0).abs() < 0.005, "{total}");
        let unit = 90.0 / 60.0;
        let mut pooled: Vec<f64> = all.iter().flatten().map(|x| x / unit).collect();
        pooled.sort_by(f64::total_cmp);
        let (low, high) = formkin_stats::spectrum::marchenko_pastur_edges(60.0 / 600.5);
        let within = pooled.iter().filter(|x| **x > low - 0.03 && **x < high + 0.03).count();
        assert!(within as f64 / pooled.len() as f64 > 0.99);
        let median = pooled[pooled.len() / 2];
        assert!(
            (median - formkin_stats::spectrum::marchenko_pastur_median(60.0 / 600.5)).abs() < 0.01,
            "{median}"
        );
        // the same law from the other side
        let turned = NoiseParams { rank: 600, freedom: 60.0, ..params };
        let other = noise_variances(&turned).unwrap();
        let mean = |all: &[Vec<f64>]| all.iter().map(|v| v[0]).sum::<f64>() / all.len() as f64;
        assert!((mean(&other) / mean(&all) - 1.0).abs() < 0.01);
    }
}
