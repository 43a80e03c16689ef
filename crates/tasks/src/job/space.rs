//! Cohort -> shape space.

use formkin_cohort::Cohort;
use formkin_shape::{CriteriaParams, FittedSpace, Quality, QualityParams, SpaceParams};
use serde::{Deserialize, Serialize};

use crate::TaskError;
use crate::choose::{Items, people_of};

/// What is asked for.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SpaceJob {
    /// Settings of alignment, space and cross-validation.
    pub params: SpaceParams,
    /// Which items.
    pub items: Items,
    /// How many modes by other criteria, stability, errors of vertices; none: left out. Its regions are those of the template.
    pub criteria: Option<CriteriaParams>,
    /// Compactness, generalisation, specificity; none: left out. It leaves every person out in turn.
    pub quality: Option<QualityParams>,
}

/// What came out.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SpaceOutcome {
    /// Space, alignment and coefficients.
    pub fitted: FittedSpace,
    /// The items that the rows of the coefficients belong to, as indices into the cohort's accepted items.
    pub items: Vec<usize>,
    /// What a reader must know.
    pub notes: Vec<String>,
    /// Compactness, generalisation, specificity, where they were asked for.
    pub quality: Option<Quality>,
}

/// Aligns the chosen items and fits their space. Progress counts are those of the fit.
///
/// # Errors
/// [`TaskError::Nothing`] where there are fewer than two items, and what the fit refuses.
pub fn fit_space(
    cohort: &Cohort,
    job: &SpaceJob,
    progress: &(dyn Fn(usize, usize) + Sync),
) -> Result<SpaceOutcome, TaskError> {
    let items = job.items.of(cohort)?;
    if items.len() < 2 {
        return Err(TaskError::Nothing {
            what: format!("{} has only one item to build a space from", cohort.path().display()),
            advice: "variation needs two shapes or more; import more bodies, or choose all items".into(),
        });
    }
    let people = people_of(cohort, &items);
    let source = cohort.select(items.clone());
    let topology = cohort.template().mesh.topology();
    let mut fitted = job.params.fit(&source, topology, &people, None, progress)?;
    if fitted.space.variances_mm2.is_empty() {
        return Err(TaskError::Nothing {
            what: format!("all {} items have the same shape: there is no variation to describe", items.len()),
            advice: "look for a file that was copied under several names".into(),
        });
    }
    if let Some(criteria) = &job.criteria {
        let criteria = CriteriaParams { regions: cohort.template().regions.clone(), ..criteria.clone() };
        fitted.space.criteria = Some(criteria.find(&source, &fitted, &people, &job.params, progress)?);
    }
    let quality = match &job.quality {
        Some(quality) => Some(quality.find(&source, &fitted, &people, &job.params, progress)?),
        None => None,
    };
    fitted.space.quality.clone_from(&quality);
    let mut notes = Vec::new();
    if fitted.space.people == 1 {
        notes.push(
            "All items are of one person: the modes describe poses of this person, not a population.".into(),
        );
    } else if fitted.space.people < fitted.space.items {
        notes.push(format!(
            "{} items of {} people: repeated scans and frames of one person are not people.",
            fitted.space.items, fitted.space.people
        ));
    }
    Ok(SpaceOutcome { fitted, items, notes, quality })
}
