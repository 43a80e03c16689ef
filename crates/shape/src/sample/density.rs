//! The distribution that bodies are drawn from: normal components over coefficients.

use formkin_stats::StatsError;
use formkin_stats::cholesky::Cholesky;
use formkin_stats::cluster::{ComponentScore, choose_components, scaled_mixture};
use formkin_stats::distribution::chi_square_quantile;
use ndarray::{Array2, ArrayView2, Axis};
use serde::{Deserialize, Serialize};

use crate::ShapeError;

/// One normal component.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Component {
    /// A group, or `component 1`.
    pub name: String,
    /// Its share; all sum to 1.
    pub share: f64,
    /// People it rests on; of a mixture share x people.
    pub people: f64,
    /// K means, in mm.
    pub mean_mm: Vec<f64>,
    /// K SDs, in mm.
    pub sd_mm: Vec<f64>,
    /// The lower Cholesky factor of its covariance, K x K.
    #[serde(skip)]
    pub(crate) lower: Array2<f64>,
}

/// What bodies are drawn from.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Density {
    /// `normal`, `groups` or `mixture`.
    pub kind: String,
    /// The components.
    pub components: Vec<Component>,
    /// Of a mixture: what speaks for each number of components.
    pub scores: Vec<ComponentScore>,
    /// How normal the coefficients are as one distribution.
    pub normality: Normality,
}

/// Mardia's (1970) skewness and kurtosis of all coefficients together.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Normality {
    /// n b1 / 6: chi-square with K (K + 1)(K + 2) / 6 degrees of freedom for one normal distribution.
    pub skewness: f64,
    /// The 99 % quantile of that chi-square.
    pub skewness_limit: f64,
    /// (b2 - its mean) / its SD: standard normal for one normal distribution.
    pub kurtosis_z: f64,
    /// Whether both lie within their 99 % limits.
    pub looks_normal: bool,
}

impl Density {
    /// One normal distribution with the mean and covariance of `rows` (people x coefficients, in mm).
    ///
    /// # Errors
    /// [`ShapeError::SmallGroup`] where there are not two more people than coefficients; [`ShapeError::Stats`].
    pub fn normal(rows: ArrayView2<f64>) -> Result<Self, ShapeError> {
        let own = component("those to be sampled", 1.0, rows)?;
        Ok(Self {
            kind: "normal".into(),
            components: vec![own],
            scores: Vec::new(),
            normality: normality(rows)?,
        })
    }

    /// One normal distribution a group, `groups[i]` being that of row i; shares are those of people.
    ///
    /// # Errors
    /// As [`Density::normal`], for the first group that is too small; [`ShapeError::Count`].
    pub fn groups(rows: ArrayView2<f64>, groups: &[usize], names: &[String]) -> Result<Self, ShapeError> {
        if groups.len() != rows.nrows() {
            let (expected, found) = (rows.nrows(), groups.len());
            return Err(ShapeError::Count { what: "groups of people", expected, found });
        }
        let components = names
            .iter()
            .enumerate()
            .map(|(g, name)| {
                let own: Vec<usize> = (0..groups.len()).filter(|i| groups[*i] == g).collect();
                let share = own.len() as f64 / groups.len() as f64;
                component(name, share, rows.select(Axis(0), &own).view())
            })
            .collect::<Result<_, _>>()?;
        let normality = normality(rows)?;
        Ok(Self { kind: "groups".into(), components, scores: Vec::new(), normality })
    }

    /// A mixture: of `components` normals, or of as many up to `most` as people held out speak for.
    ///
    /// # Errors
    /// [`ShapeError::SmallGroup`] where not even one component can be fitted; [`ShapeError::Stats`].
    pub fn mixture(
        rows: ArrayView2<f64>,
        components: Option<usize>,
        most: usize,
        seed: u64,
    ) -> Result<Self, ShapeError> {
        let (n, d) = rows.dim();
        let few =
            |least: usize| ShapeError::SmallGroup { group: "those to be sampled".into(), people: n, least };
        if d == 0 || n < d + 3 {
            return Err(few(d + 3));
        }
        let (found, scores) = match components {
            Some(0) => {
                return Err(ShapeError::Setting { name: "components", value: 0.0, range: "1 or more" });
            }
            Some(k) if n < k * (d + 2) => return Err(few(k * (d + 2))),
            Some(k) => (scaled_mixture(rows, k, seed)?, Vec::new()),
            None => {
                let chosen = choose_components(rows, most, 10, seed).map_err(|e| match e {
                    StatsError::TooFew { least, .. } => few(least * 10 / 9 + 1),
                    other => other.into(),
                })?;
                (chosen.mixture, chosen.scores)
            }
        };
        let components = if found.shares.len() == 1 {
            // the sample covariance, without the ridge
            vec![component("component 1", 1.0, rows)?]
        } else {
            (0..found.shares.len())
                .map(|c| {
                    let share = found.shares[c];
                    let name = format!("component {}", c + 1);
                    let mean = found.means.row(c).to_vec();
                    normal(&name, share, share * n as f64, mean, &found.covariances[c])
                })
                .collect::<Result<_, _>>()?
        };
        Ok(Self { kind: "mixture".into(), components, scores, normality: normality(rows)? })
    }

    /// Number of coefficients.
    #[must_use]
    pub fn modes(&self) -> usize {
        self.components.first().map_or(0, |c| c.mean_mm.len())
    }

    /// How many of `count` bodies belong to each component: of groups by largest remainders, so that counts are exact; none where they are drawn.
    #[must_use]
    pub fn counts(&self, count: usize) -> Option<Vec<usize>> {
        if self.kind != "groups" {
            return None;
        }
        let exact: Vec<f64> = self.components.iter().map(|c| c.share * count as f64).collect();
        let mut counts: Vec<usize> = exact.iter().map(|x| x.floor() as usize).collect();
        let mut order: Vec<usize> = (0..exact.len()).collect();
        order.sort_by(|&a, &b| (exact[b] - exact[b].floor()).total_cmp(&(exact[a] - exact[a].floor())));
        let given: usize = counts.iter().sum();
        for &c in order.iter().cycle().take(count.saturating_sub(given)) {
            counts[c] += 1;
        }
        Some(counts)
    }
}

fn component(name: &str, share: f64, rows: ArrayView2<f64>) -> Result<Component, ShapeError> {
    let (n, k) = rows.dim();
    if k == 0 {
        return Err(ShapeError::Setting { name: "modes", value: 0.0, range: "1 or more" });
    }
    if n < k + 2 {
        return Err(ShapeError::SmallGroup { group: name.to_owned(), people: n, least: k + 2 });
    }
    let mean = rows.mean_axis(Axis(0)).unwrap_or_default();
    let deviations = &rows - &mean;
    let covariance: Array2<f64> = deviations.t().dot(&deviations) / (n as f64 - 1.0);
    normal(name, share, n as f64, mean.to_vec(), &covariance)
}

fn normal(
    name: &str,
    share: f64,
    people: f64,
    mean_mm: Vec<f64>,
    covariance: &Array2<f64>,
) -> Result<Component, ShapeError> {
    let factor = Cholesky::new(covariance)?.ok_or(StatsError::Collinear { predictor: 0 })?;
    Ok(Component {
        name: name.to_owned(),
        share,
        people,
        mean_mm,
        sd_mm: covariance.diag().iter().map(|v| v.sqrt()).collect(),
        lower: factor.factor().clone(),
    })
}

/// Mardia's tests of one normal distribution.
fn normality(rows: ArrayView2<f64>) -> Result<Normality, ShapeError> {
    let (n, k) = rows.dim();
    let mean = rows.mean_axis(Axis(0)).unwrap_or_default();
    let deviations = &rows - &mean;
    // divisor n, as the test has it
    let covariance: Array2<f64> = deviations.t().dot(&deviations) / n as f64;
    let factor = Cholesky::new(&covariance)?.ok_or(StatsError::Collinear { predictor: 0 })?;
    let white = deviations
        .outer_iter()
        .map(|row| factor.half_solve(&row.to_vec()))
        .collect::<Result<Vec<Vec<f64>>, StatsError>>()?;
    let dot = |a: &[f64], b: &[f64]| a.iter().zip(b).map(|(x, y)| x * y).sum::<f64>();
    let cubes: f64 = white.iter().map(|a| white.iter().map(|b| dot(a, b).powi(3)).sum::<f64>()).sum();
    let fourth = white.iter().map(|a| dot(a, a).powi(2)).sum::<f64>() / n as f64;
    let (n, k) = (n as f64, k as f64);
    let skewness = cubes / (6.0 * n);
    let skewness_limit = chi_square_quantile(0.99, k * (k + 1.0) * (k + 2.0) / 6.0);
    let expected = k * (k + 2.0) * (n - 1.0) / (n + 1.0);
    let kurtosis_z = (fourth - expected) / (8.0 * k * (k + 2.0) / n).sqrt();
    let looks_normal = skewness <= skewness_limit && kurtosis_z.abs() <= 2.576;
    Ok(Normality { skewness, skewness_limit, kurtosis_z, looks_normal })
}
