//! Cross-validated error of both ways of prediction, by region and by dimension.
//!
//! People are dealt into folds. In each, alignment, modes and regression are refitted without the people held out, exactly, from the cross moments of all shapes; a person held out is laid on the mean of
//! the others, and what their modes leave of the person is in the errors. Regions and the coverage of intervals take one more walk over the meshes a fold.

use std::collections::BTreeMap;

use formkin_align::{AlignParams, CrossMoments};
use formkin_geometry::{ShapeSource, Subset};
use formkin_stats::folds::grouped_folds;

use super::errors::{DimensionError, MethodErrors, PredictionErrors, PredictionParams, RegionRms};
use super::fold::{FoldFit, Walk, fit_fold, walk};
use crate::ShapeError;
use crate::predict::Variable;
use crate::validate::{MOST_ITEMS, thin};

/// The shapes that predictions are cross-validated on: one a person, aligned as `align` says under `weights`.
pub struct People<'a> {
    /// The shapes.
    pub source: &'a dyn ShapeSource,
    /// V vertex weights.
    pub weights: &'a [f64],
    /// The alignment.
    pub align: &'a AlignParams,
}

/// Cross-validates predictions from `params.given`. One row of `values` a shape of `people`; rows with missing values are left out. `regions` are lists of vertices.
///
/// # Errors
/// [`ShapeError`]: sizes that do not fit, too few people, given variables that cannot be used, shapes that cannot be read or aligned.
pub fn validate_prediction(
    people: &People<'_>,
    variables: &[Variable],
    values: &[Vec<Option<f64>>],
    regions: &BTreeMap<String, Vec<u32>>,
    params: &PredictionParams,
) -> Result<PredictionErrors, ShapeError> {
    if values.len() != people.source.shapes() {
        let (expected, found) = (people.source.shapes(), values.len());
        return Err(ShapeError::Count { what: "rows of variables", expected, found });
    }
    let complete: Vec<usize> = (0..values.len()).filter(|&i| values[i].iter().all(Option::is_some)).collect();
    if complete.len() < 3 {
        return Err(ShapeError::TooFewPeople { people: complete.len() });
    }
    if let Some(g) = params.given.iter().find(|g| **g >= variables.len()) {
        let reason = format!("there are only {} variables", variables.len());
        return Err(ShapeError::Given { variable: g.to_string(), reason });
    }
    let chosen: Vec<usize> =
        thin(&complete, MOST_ITEMS, params.seed).into_iter().map(|i| complete[i]).collect();
    let source = Subset::new(people.source, &chosen);
    let rows: Vec<Vec<f64>> = chosen.iter().map(|&i| values[i].iter().flatten().copied().collect()).collect();
    let moments = CrossMoments::of(&source, people.weights, people.align.removes, &|_, _| ())?;
    let groups: Vec<usize> = (0..chosen.len()).collect();
    let folds = grouped_folds(&groups, params.folds, params.seed)?;
    let fits: Vec<FoldFit> = folds
        .iter()
        .map(|fold| fit_fold(&moments, fold, people.align, variables, &rows, params))
        .collect::<Result<_, _>>()?;
    let most = params.given.len();
    let square = |method: usize| -> f64 {
        fits.iter().flat_map(|f| &f.held).map(|h| h.methods[method].square_mm2).sum()
    };
    // the mean, the conditional, then partial least squares with 1, 2, .. components
    let best = (2..2 + most).min_by(|&a, &b| square(a).total_cmp(&square(b)));
    let mut wanted = vec![1];
    wanted.extend(best);
    wanted.push(0);
    let told = walk(&source, people.weights, &fits, &wanted, regions)?;
    let methods = wanted
        .iter()
        .enumerate()
        .map(|(place, &method)| {
            let (name, components) = match method {
                0 => ("mean", None),
                1 => ("conditional_normal", None),
                pls => ("partial_least_squares", Some(pls - 1)),
            };
            method_errors(name, components, method, place, &fits, &told, variables, &params.given)
        })
        .collect();
    Ok(PredictionErrors {
        given: params.given.iter().map(|&v| variables[v].name.clone()).collect(),
        people: chosen.len(),
        folds: folds.len(),
        seed: params.seed,
        methods,
        intervals: told.intervals,
    })
}

#[allow(clippy::too_many_arguments)] // one summary of one method
fn method_errors(
    name: &str,
    components: Option<usize>,
    method: usize,
    place: usize,
    fits: &[FoldFit],
    told: &Walk,
    variables: &[Variable],
    given: &[usize],
) -> MethodErrors {
    let held: Vec<_> = fits.iter().flat_map(|f| &f.held).collect();
    let n = held.len() as f64;
    let squares: Vec<f64> = held.iter().map(|h| h.methods[method].square_mm2).collect();
    let mean = squares.iter().sum::<f64>() / n;
    let variance = squares.iter().map(|s| (s - mean).powi(2)).sum::<f64>() / (n - 1.0);
    let rms_mm = mean.sqrt();
    let rms_of = |method: usize, v: usize| {
        (held.iter().map(|h| h.methods[method].variables[v].powi(2)).sum::<f64>() / n).sqrt()
    };
    MethodErrors {
        method: name.to_owned(),
        components,
        rms_mm,
        se_mm: if rms_mm > 0.0 { (variance / n).sqrt() / (2.0 * rms_mm) } else { 0.0 },
        regions: told
            .regions
            .iter()
            .map(|(region, rms)| RegionRms { region: region.clone(), rms_mm: rms[place] })
            .collect(),
        dimensions: (0..variables.len())
            .filter(|v| !given.contains(v))
            .map(|v| DimensionError {
                variable: variables[v].name.clone(),
                unit: variables[v].unit.clone(),
                rms: rms_of(method, v),
                sd: rms_of(0, v),
                coverage_95: (method == 1).then(|| held.iter().filter(|h| h.within[v]).count() as f64 / n),
            })
            .collect(),
    }
}
