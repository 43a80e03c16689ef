//! Drawing: joint truncation, refusals, exact counts.
//!
//! z = standard normal, redrawn until |z|^2 is at most the chi-square quantile of `confidence` with as many degrees of freedom as modes: the body lies within the region that holds that share of
//! people, whatever the direction. (Limits mode by mode would keep corners that nobody is in.) Truncation makes spreads a little smaller than the real ones.

use std::collections::BTreeMap;

use formkin_stats::distribution::chi_square_quantile;
use formkin_stats::random::stream;
use rand::Rng;
use rand_distr::StandardNormal;
use rayon::prelude::*;
use serde::{Deserialize, Serialize};

use crate::ShapeError;
use crate::sample::Density;

/// Settings of a sample.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct SampleParams {
    /// How many bodies, exactly.
    pub count: usize,
    /// The share of people that the region of truncation holds.
    pub confidence: f64,
    /// Draws for each body asked for, at most.
    pub most_tries: usize,
    /// The seed.
    pub seed: u64,
}

impl Default for SampleParams {
    fn default() -> Self {
        Self { count: 100, confidence: 0.99, most_tries: 20, seed: 1 }
    }
}

/// Bodies drawn.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Samples {
    /// Bodies x modes, in mm.
    pub coefficients: Vec<Vec<f64>>,
    /// The component that each was drawn from.
    pub components: Vec<usize>,
    /// What `look` took of each.
    pub taken: Vec<Vec<Option<f64>>>,
    /// How many were drawn, refused ones included.
    pub tries: usize,
    /// How many were refused, and why.
    pub refused: BTreeMap<String, usize>,
    /// The settings.
    pub params: SampleParams,
}

/// Bodies that are looked at together, so that looking runs on all cores and results do not depend on how many there are.
const BATCH: usize = 64;
/// Most bodies of one draw: their coefficients are kept until all are drawn.
const MOST_BODIES: usize = 1_000_000;

/// What is done with a body before it is kept: numbers that are taken of it, or the reason why it is not wanted.
pub type Look<'l> = &'l (dyn Fn(&[f64]) -> Result<Vec<Option<f64>>, String> + Sync);

/// Draws bodies from `density`. Of groups each has its exact number.
///
/// # Errors
/// [`ShapeError::Setting`]; [`ShapeError::Refused`] where too few bodies are wanted of those drawn.
pub fn sample(density: &Density, params: &SampleParams, look: Look<'_>) -> Result<Samples, ShapeError> {
    params.check()?;
    let mut made = Samples {
        coefficients: Vec::new(),
        components: Vec::new(),
        taken: Vec::new(),
        tries: 0,
        refused: BTreeMap::new(),
        params: params.clone(),
    };
    match density.counts(params.count) {
        Some(counts) => {
            for (c, count) in counts.into_iter().enumerate() {
                let mut rng = stream(params.seed, &format!("sample {}", density.components[c].name));
                add(&mut made, density, Some(c), count, &mut rng, look)?;
            }
        }
        None => add(&mut made, density, None, params.count, &mut stream(params.seed, "sample"), look)?,
    }
    Ok(made)
}

impl SampleParams {
    fn check(&self) -> Result<(), ShapeError> {
        if !(self.confidence > 0.0 && self.confidence < 1.0) {
            let value = self.confidence;
            return Err(ShapeError::Setting { name: "confidence", value, range: "above 0 and under 1" });
        }
        if self.count == 0 || self.count > MOST_BODIES {
            let value = self.count as f64;
            return Err(ShapeError::Setting { name: "count", value, range: "1 to 1000000" });
        }
        Ok(())
    }
}

/// Adds `count` bodies of a component, or of any by their shares.
fn add(
    made: &mut Samples,
    density: &Density,
    which: Option<usize>,
    count: usize,
    rng: &mut impl Rng,
    look: Look<'_>,
) -> Result<(), ShapeError> {
    let limit = chi_square_quantile(made.params.confidence, density.modes() as f64);
    let outside = format!("they are outside the {} % region", 100.0 * made.params.confidence);
    let wanted = made.coefficients.len() + count;
    let most = made.tries.saturating_add(count.saturating_mul(made.params.most_tries.max(1)));
    while made.coefficients.len() < wanted {
        let missing = wanted - made.coefficients.len();
        let mut batch = Vec::new();
        while batch.len() < missing.min(BATCH) {
            if made.tries == most {
                break;
            }
            made.tries += 1;
            let component = which.unwrap_or_else(|| choose(density, rng));
            let own = &density.components[component];
            let z: Vec<f64> = (0..own.mean_mm.len()).map(|_| rng.sample(StandardNormal)).collect();
            if z.iter().map(|x| x * x).sum::<f64>() > limit {
                *made.refused.entry(outside.clone()).or_default() += 1;
                continue;
            }
            let at = |i: usize| own.mean_mm[i] + (0..=i).map(|j| own.lower[[i, j]] * z[j]).sum::<f64>();
            batch.push((component, (0..z.len()).map(at).collect::<Vec<f64>>()));
        }
        if batch.is_empty() {
            let reason = made.refused.iter().max_by_key(|(_, n)| **n);
            return Err(ShapeError::Refused {
                accepted: made.coefficients.len(),
                wanted: made.params.count,
                tries: made.tries,
                reason: reason.map_or_else(String::new, |(r, _)| r.clone()),
            });
        }
        let looked: Vec<_> = batch.par_iter().map(|(_, body)| look(body)).collect();
        for ((component, body), found) in batch.into_iter().zip(looked) {
            match found {
                Err(reason) => *made.refused.entry(reason).or_default() += 1,
                Ok(taken) => {
                    made.coefficients.push(body);
                    made.components.push(component);
                    made.taken.push(taken);
                }
            }
        }
    }
    Ok(())
}

fn choose(density: &Density, rng: &mut impl Rng) -> usize {
    if density.components.len() == 1 {
        return 0;
    }
    let mut left: f64 = rng.r#gen();
    for (c, component) in density.components.iter().enumerate() {
        left -= component.share;
        if left < 0.0 {
            return c;
        }
    }
    density.components.len() - 1
}
