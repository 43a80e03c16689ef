//! Weights towards a target population, known by margins of its dimensions; bodies picked by weight.

use formkin_stats::random::stream;
use formkin_stats::tilting::tilt;
use formkin_stats::{StatsError, quantile::quantile};
use ndarray::Array2;
use rand::Rng;
use rand::seq::SliceRandom;
use serde::{Deserialize, Serialize};

use crate::ShapeError;

/// What is known of a dimension in the target population.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Wanted {
    /// Its mean.
    Mean(f64),
    /// Mean and SD.
    MeanSd(f64, f64),
    /// Percentiles: (between 0 and 100, value), ascending.
    Percentiles(Vec<(f64, f64)>),
}

/// A margin of the target population.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Margin {
    /// The dimension.
    pub dimension: String,
    /// What is known of it.
    pub wanted: Wanted,
}

/// How a margin came out.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct MarginFit {
    /// The dimension.
    pub dimension: String,
    /// `mean`, `sd`, `p5` ...
    pub what: String,
    /// The value asked for.
    pub target: f64,
    /// The value in the pool before weighing.
    pub pool: f64,
    /// The value under the weights.
    pub weighted: f64,
    /// The value among the bodies picked; none before they are.
    pub picked: Option<f64>,
}

/// Weights of a pool of bodies towards a target.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct TargetFit {
    /// Bodies in the pool.
    pub pool: usize,
    /// How many equal bodies the weighted pool is worth.
    pub n_eff: f64,
    /// Largest weight over the mean weight.
    pub largest_weight: f64,
    /// Every figure of every margin.
    pub margins: Vec<MarginFit>,
    /// One weight a body of the pool; they sum to 1.
    #[serde(skip)]
    pub weights: Vec<f64>,
}

fn features(margin: &Margin) -> Vec<(String, f64)> {
    match &margin.wanted {
        Wanted::Mean(m) => vec![("mean".into(), *m)],
        Wanted::MeanSd(m, s) => vec![("mean".into(), *m), ("sd".into(), *s)],
        Wanted::Percentiles(all) => all.iter().map(|(p, v)| (format!("p{p}"), *v)).collect(),
    }
}

fn check(margin: &Margin) -> Result<(), ShapeError> {
    let no = |reason: &str| {
        Err(ShapeError::Target { dimension: margin.dimension.clone(), reason: reason.to_owned() })
    };
    if features(margin).iter().any(|(_, v)| !v.is_finite()) {
        return no("a value of its margin is not finite");
    }
    match &margin.wanted {
        Wanted::MeanSd(_, sd) if *sd <= 0.0 => no("its SD must be more than 0"),
        Wanted::Percentiles(all) if all.is_empty() => no("its margin says nothing"),
        Wanted::Percentiles(all) if all.iter().any(|(p, _)| !(*p > 0.0 && *p < 100.0)) => {
            no("percentiles lie between 0 and 100")
        }
        Wanted::Percentiles(all) if all.windows(2).any(|w| w[0].0 >= w[1].0 || w[0].1 >= w[1].1) => {
            no("its percentiles do not rise")
        }
        _ => Ok(()),
    }
}

/// The least weights that give the bodies of a pool the margins: exponential tilting on means, squares about the mean asked for, and shares under percentiles. `values[i][j]` is dimension j
/// of body i, the dimension of margin j.
///
/// # Errors
/// [`ShapeError::Target`] with the dimension whose margin is no margin or cannot be met by the bodies; [`ShapeError::Count`].
pub fn weigh(values: &[Vec<f64>], margins: &[Margin]) -> Result<TargetFit, ShapeError> {
    let n = values.len();
    for margin in margins {
        check(margin)?;
    }
    if let Some(row) = values.iter().find(|r| r.len() != margins.len()) {
        let (expected, found) = (margins.len(), row.len());
        return Err(ShapeError::Count { what: "dimensions of a body of the pool", expected, found });
    }
    let (mut columns, mut targets, mut owner): (Vec<Vec<f64>>, Vec<f64>, Vec<usize>) = Default::default();
    for (j, margin) in margins.iter().enumerate() {
        let own = || values.iter().map(|r| r[j]);
        match &margin.wanted {
            Wanted::Mean(m) | Wanted::MeanSd(m, _) => {
                columns.push(own().collect());
                targets.push(*m);
                owner.push(j);
                if let Wanted::MeanSd(_, sd) = margin.wanted {
                    columns.push(own().map(|x| (x - m).powi(2)).collect());
                    targets.push(sd * sd);
                    owner.push(j);
                }
            }
            Wanted::Percentiles(all) => {
                for (p, v) in all {
                    columns.push(own().map(|x| f64::from(u8::from(x <= *v))).collect());
                    targets.push(p / 100.0);
                    owner.push(j);
                }
            }
        }
    }
    let table = Array2::from_shape_fn((n, columns.len()), |(i, j)| columns[j][i]);
    let far = |j: usize| {
        let own: Vec<f64> = values.iter().map(|r| r[owner[j]]).collect();
        let at = |p| quantile(&own, None, p).unwrap_or(f64::NAN);
        ShapeError::Target {
            dimension: margins[owner[j]].dimension.clone(),
            reason: format!(
                "its margin cannot be met: bodies of the space have {:.1} to {:.1} (90 % of them), and the other margins bind them too",
                at(0.05),
                at(0.95)
            ),
        }
    };
    let tilted = tilt(table.view(), None, &targets).map_err(|e| match e {
        StatsError::Unreachable { feature, .. } => far(feature),
        StatsError::Constant { .. } => {
            let flat = |j: &usize| columns[*j].windows(2).all(|w| w[0] == w[1]);
            (0..columns.len()).find(flat).map_or_else(|| e.clone().into(), far)
        }
        other => other.into(),
    })?;
    let mut fits = Vec::new();
    for (j, margin) in margins.iter().enumerate() {
        let own: Vec<f64> = values.iter().map(|r| r[j]).collect();
        for (what, target) in features(margin) {
            fits.push(MarginFit {
                dimension: margin.dimension.clone(),
                pool: figure(&own, None, &what)?,
                weighted: figure(&own, Some(&tilted.weights), &what)?,
                picked: None,
                what,
                target,
            });
        }
    }
    let largest = tilted.weights.iter().copied().fold(0.0, f64::max) * n as f64;
    Ok(TargetFit {
        pool: n,
        n_eff: tilted.n_eff,
        largest_weight: largest,
        margins: fits,
        weights: tilted.weights,
    })
}

/// A mean, an SD (divisor n) or a percentile.
fn figure(values: &[f64], weights: Option<&[f64]>, what: &str) -> Result<f64, StatsError> {
    let total: f64 = weights.map_or(values.len() as f64, |w| w.iter().sum());
    let sum = |f: &dyn Fn(f64) -> f64| -> f64 {
        values.iter().enumerate().map(|(i, x)| weights.map_or(1.0, |w| w[i]) * f(*x)).sum::<f64>() / total
    };
    match what.strip_prefix('p').and_then(|p| p.parse::<f64>().ok()) {
        // the least value with so much weight at or under it: what the share under it was set by
        Some(p) => {
            let mut order: Vec<usize> = (0..values.len()).collect();
            order.sort_by(|&a, &b| values[a].total_cmp(&values[b]));
            let mut sum = 0.0;
            for i in order {
                sum += weights.map_or(1.0, |w| w[i]) / total;
                if sum >= p / 100.0 - 1e-9 {
                    return Ok(values[i]);
                }
            }
            quantile(values, None, p / 100.0)
        }
        None if what == "sd" => {
            let mean = sum(&|x| x);
            Ok(sum(&|x| (x - mean).powi(2)).sqrt())
        }
        None => Ok(sum(&|x| x)),
    }
}

impl TargetFit {
    /// Fills in what the bodies picked, places of the pool, have of every margin. `values` and `margins` are those of [`weigh`].
    ///
    /// # Errors
    /// [`ShapeError::Stats`] without bodies.
    pub fn tell_picked(
        &mut self,
        values: &[Vec<f64>],
        margins: &[Margin],
        picked: &[usize],
    ) -> Result<(), ShapeError> {
        for fit in &mut self.margins {
            let Some(j) = margins.iter().position(|m| m.dimension == fit.dimension) else { continue };
            let own: Vec<f64> = picked.iter().map(|&i| values[i][j]).collect();
            fit.picked = Some(figure(&own, None, &fit.what)?);
        }
        Ok(())
    }
}

/// Picks `count` different places, each with a chance in proportion to its weight: systematic sampling along a shuffled row. None where a weight is so large that its place would have to be
/// picked more than once.
#[must_use]
pub fn pick(weights: &[f64], count: usize, seed: u64, label: &str) -> Option<Vec<usize>> {
    let total: f64 = weights.iter().sum();
    let step = total / count as f64;
    if count == 0 || step.is_nan() || step <= 0.0 || weights.iter().any(|w| *w > step * (1.0 + 1e-12)) {
        return (count == 0).then(Vec::new);
    }
    let mut rng = stream(seed, label);
    let mut order: Vec<usize> = (0..weights.len()).filter(|i| weights[*i] > 0.0).collect();
    order.shuffle(&mut rng);
    let mut next = step * rng.r#gen::<f64>();
    let (mut sum, mut picked) = (0.0, Vec::with_capacity(count));
    for i in order {
        sum += weights[i];
        if next < sum && picked.len() < count {
            picked.push(i);
            next += step;
        }
    }
    (picked.len() == count).then_some(picked)
}
