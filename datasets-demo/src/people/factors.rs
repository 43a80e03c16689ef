//! The latent factors that people are drawn from, and the dimensions that follow from them.
//!
//! Eight dimensions are taken in order, and each factor is the part of its dimension that the earlier ones do not explain (the
//! Cholesky factor of the published correlations). The other dimensions follow the eight factors with the published
//! correlations, scaled so that their SDs are the published ones.

use rand::Rng;
use rand_distr::{Distribution, StandardNormal};
use serde::{Deserialize, Serialize};

use super::figures::{DIMENSIONS, Sex, correlation, mean_sd};

/// Number of factors.
pub const FACTORS: usize = 8;

/// The factors' names and what each is.
pub(crate) const FACTOR_NAMES: [(&str, &str); FACTORS] = [
    ("size", "stature"),
    ("build", "weight at a given stature"),
    ("legs", "length of the legs at a given stature and weight"),
    ("frame", "breadth of the shoulders, the earlier ones given"),
    ("belly", "girth of the waist, the earlier ones given"),
    ("seat", "girth of the hips, the earlier ones given"),
    ("chest", "girth of the chest, the earlier ones given"),
    ("arms", "girth of the upper arms, the earlier ones given"),
];

/// The SD of a standard normal cut at +-3: sqrt(1 - 2 c phi(c) / (2 Phi(c) - 1)) at c = 3. Draws are divided by it, so that the cut
/// does not narrow the population.
const CUT_SD: f64 = 0.986_578;

/// The dimension that each factor leads, as its place in the tables.
const LEADS: [usize; FACTORS] = [0, 1, 2, 4, 6, 7, 5, 11];

/// What a person is made from: the ground truth.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Latents {
    /// Sex.
    pub sex: Sex,
    /// Independent factors of mean 0 and variance 1, in the order of `FACTOR_NAMES`, within +-3.05.
    pub factors: [f64; FACTORS],
    /// Age in years, 18 to 67; it goes with the factors as published.
    pub age_years: f64,
    /// What the mass is drawn with: kg a litre of the whole body, 0.98 to 1.07.
    pub density_kg_per_l: f64,
}

impl Latents {
    /// The mean person of a sex.
    #[must_use]
    pub fn mean(sex: Sex) -> Self {
        let (age_years, _) = mean_sd(sex, 14);
        Self { sex, factors: [0.0; FACTORS], age_years, density_kg_per_l: mean_density(sex) }
    }

    /// Draws a person.
    pub fn draw(sex: Sex, rng: &mut impl Rng) -> Self {
        let mut normal = || loop {
            let x: f64 = StandardNormal.sample(rng);
            if x.abs() <= 3.0 {
                return x / CUT_SD;
            }
        };
        let factors: [f64; FACTORS] = std::array::from_fn(|_| normal());
        let (mean, sd) = mean_sd(sex, 14);
        let loads = loadings(sex, 14);
        let shared: f64 = loads.iter().zip(&factors).map(|(l, f)| l * f).sum();
        let own = (1.0 - loads.iter().map(|l| l * l).sum::<f64>()).max(0.0).sqrt();
        // crews are spread wider in age than soldiers: 1.25 of the published SD (ours)
        let age_years = (mean + 1.25 * sd * (shared + own * normal())).clamp(18.0, 67.0);
        // leaner is denser (Siri); the spread is ours
        let density_kg_per_l = (mean_density(sex) - 0.007 * factors[1] - 0.004 * factors[4]
            + 0.004 * normal())
        .clamp(0.98, 1.07);
        Self { sex, factors, age_years, density_kg_per_l }
    }

    /// The value aimed at of a dimension of the tables, in mm (weight in kg).
    pub(crate) fn aim(&self, dimension: usize) -> f64 {
        let (mean, sd) = mean_sd(self.sex, dimension);
        let loads = loadings(self.sex, dimension);
        let length = loads.iter().map(|l| l * l).sum::<f64>().sqrt();
        mean + sd * loads.iter().zip(&self.factors).map(|(l, f)| l * f).sum::<f64>() / length
    }

    /// The value aimed at of a dimension named in [`super::figures::NAMES`], in mm; `None` for weight and age, which follow
    /// otherwise, and for another name.
    #[must_use]
    pub fn aimed_at(&self, name: &str) -> Option<f64> {
        let place = super::figures::NAMES.iter().position(|n| *n == name)?;
        (place != 1 && place != 14).then(|| self.aim(place))
    }
}

/// Whole-body density at the mean, kg/L (Siri's range 1.01-1.07, lungs at quiet breathing included as body).
fn mean_density(sex: Sex) -> f64 {
    match sex {
        Sex::Male => 1.025,
        Sex::Female => 1.015,
    }
}

/// Correlations of a dimension with the factors.
pub(crate) fn loadings(sex: Sex, dimension: usize) -> [f64; FACTORS] {
    // the rows of the Cholesky factor of the leading dimensions, then the row of this one
    let mut rows = [[0.0; FACTORS]; FACTORS];
    for i in 0..FACTORS {
        for j in 0..=i {
            let dot: f64 = (0..j).map(|k| rows[i][k] * rows[j][k]).sum();
            let rest = correlation(sex, LEADS[i], LEADS[j]) - dot;
            rows[i][j] = if i == j { rest.max(1e-4).sqrt() } else { rest / rows[j][j] };
        }
    }
    let mut row = [0.0; FACTORS];
    for j in 0..FACTORS {
        let dot: f64 = (0..j).map(|k| row[k] * rows[j][k]).sum();
        row[j] = (correlation(sex, dimension, LEADS[j]) - dot) / rows[j][j];
    }
    if let Some(place) = LEADS.iter().position(|l| *l == dimension) {
        row = [0.0; FACTORS];
        row[..=place].copy_from_slice(&rows[place][..=place]);
    }
    row
}

/// All dimensions aimed at.
pub(crate) fn aims(latents: &Latents) -> [f64; DIMENSIONS] {
    std::array::from_fn(|d| latents.aim(d))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn factors_reproduce_the_published_correlations_of_the_leading_dimensions() {
        for sex in [Sex::Male, Sex::Female] {
            for a in LEADS {
                for b in LEADS {
                    let (la, lb) = (loadings(sex, a), loadings(sex, b));
                    let r: f64 = la.iter().zip(&lb).map(|(x, y)| x * y).sum();
                    assert!((r - correlation(sex, a, b)).abs() < 0.02, "{a} {b}: {r}");
                }
            }
            // the others follow the factors with most of their variance
            for d in [3, 8, 9, 10, 12, 13] {
                let r2: f64 = loadings(sex, d).iter().map(|l| l * l).sum();
                assert!((0.4..=1.02).contains(&r2), "{d}: {r2}");
            }
        }
    }
}
