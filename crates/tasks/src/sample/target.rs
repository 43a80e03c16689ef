//! Bodies of a target population: a pool is drawn and weighed by margins, and bodies are picked by weight.

use formkin_geometry::Template;
use formkin_measure::{Dimensions, Kind, Taker};
use formkin_shape::ShapeError;
use formkin_shape::sample::{Density, Margin, SampleParams, Samples, TargetFit, pick, sample, weigh};
use rayon::prelude::*;

use super::population::Population;
use super::reality::{Named, Reality, unknown};
use super::settings::SampleJob;
use crate::TaskError;
use crate::bodies::upright;
use crate::measure::Measuring;

/// A pool is drawn and weighed; bodies are picked by weight until enough are wanted.
pub(super) fn targeted(
    reality: &Reality<'_>,
    density: &Density,
    population: &Population,
    measuring: Option<&(Measuring, Template)>,
    job: &SampleJob,
) -> Result<(Samples, TargetFit), TaskError> {
    let Some((m, template)) = measuring else { return Err(unknown("", &[])) };
    let (few, margins) = margins(population, &m.dimensions)?;
    let places: Vec<usize> =
        margins.iter().filter_map(|m| few.definitions.iter().position(|d| d.name == m.dimension)).collect();
    let taker = Taker::new(&few, template);
    let look = |c: &[f64]| -> Result<Vec<Option<f64>>, String> {
        let taken = taker.take(&upright(reality.space, c, reality.up));
        let own: Vec<Option<f64>> = places.iter().map(|p| taken[*p].value).collect();
        match own.iter().position(Option::is_none) {
            Some(j) => Err(format!("{} cannot be taken", margins[j].dimension)),
            None => Ok(own),
        }
    };
    let params = SampleParams { count: job.pool.max(job.params.count), ..job.params.clone() };
    let mut pool = sample(density, &params, &look)?;
    let values: Vec<Vec<f64>> = pool.taken.iter().map(|t| t.iter().copied().flatten().collect()).collect();
    let mut fit = weigh(&values, &margins)?;
    let (chosen, taken) = picked(reality, &mut pool, &fit, &job.params)?;
    fit.tell_picked(&values, &margins, &chosen)?;
    let samples = Samples {
        coefficients: chosen.iter().map(|i| pool.coefficients[*i].clone()).collect(),
        components: chosen.iter().map(|i| pool.components[*i]).collect(),
        taken,
        tries: pool.tries,
        refused: pool.refused,
        params: job.params.clone(),
    };
    Ok((samples, fit))
}

/// The margins in the units of the definitions, and the definitions that they need.
fn margins(population: &Population, dimensions: &Dimensions) -> Result<(Dimensions, Vec<Margin>), TaskError> {
    let mut few = dimensions.clone();
    let named: Vec<Named> = few.definitions.iter().map(|d| (d.name.clone(), d.unit.clone())).collect();
    let mut margins = Vec::new();
    for margin in &population.margins {
        let at = named.iter().find(|(n, _)| *n == margin.dimension);
        let (_, unit) = at.ok_or_else(|| unknown(&margin.dimension, &named))?;
        margins.push(margin.in_unit(unit.as_deref())?);
    }
    // derived dimensions need the others
    let asked = |name: &str| margins.iter().any(|m| m.dimension == name);
    if few.definitions.iter().all(|d| !asked(&d.name) || !matches!(d.kind, Kind::Derived { .. })) {
        few.definitions.retain(|d| asked(&d.name));
    }
    Ok((few, margins))
}

/// What was picked of a pool, and what was taken of each.
type Picked = (Vec<usize>, Vec<Vec<Option<f64>>>);

/// Picks bodies of a pool by weight until as many are wanted as were asked for.
fn picked(
    reality: &Reality<'_>,
    pool: &mut Samples,
    fit: &TargetFit,
    params: &SampleParams,
) -> Result<Picked, TaskError> {
    let mut left = fit.weights.clone();
    let (mut chosen, mut taken) = Picked::default();
    for round in 0..params.most_tries {
        let missing = params.count - chosen.len();
        if missing == 0 {
            break;
        }
        let Some(picked) = pick(&left, missing, params.seed, &format!("picked {round}")) else {
            return Err(TaskError::Nothing {
                what: format!(
                    "the target is far from the people: {} bodies of the pool are worth {:.0} equal ones, too few to pick {} different ones by weight",
                    fit.pool, fit.n_eff, params.count
                ),
                advice: "ask for fewer bodies or a larger pool, or look at the margins".into(),
            });
        };
        let looked: Vec<_> = picked.par_iter().map(|i| reality.look(&pool.coefficients[*i])).collect();
        for (i, found) in picked.into_iter().zip(looked) {
            left[i] = 0.0;
            match found {
                Ok(own) => {
                    chosen.push(i);
                    taken.push(own);
                }
                Err(reason) => *pool.refused.entry(reason).or_default() += 1,
            }
        }
    }
    if chosen.len() < params.count {
        let most = pool.refused.iter().max_by_key(|(_, n)| **n);
        return Err(ShapeError::Refused {
            accepted: chosen.len(),
            wanted: params.count,
            tries: pool.tries,
            reason: most.map_or_else(String::new, |(r, _)| r.clone()),
        }
        .into());
    }
    Ok((chosen, taken))
}
