//! A cohort to a shape space.

use std::sync::Arc;

use formkin_cohort::Cohort;
use formkin_measure::Dimensions;
use formkin_shape::{FittedSpace, ProbabilisticPca};
use serde::{Deserialize, Serialize};

use super::covariance::{Shrunk, shrunk};
use super::moments::{Foundation, describe};
use super::{SpaceSettings, SpaceSources};
use crate::choices::people_of;
use crate::measure::{MeasureSettings, measure};
use crate::reading::read_dimensions;
use crate::{Progress, TaskError};

/// The bodies, and on a command line what predictions are prepared with.
#[derive(Debug)]
pub struct SpaceInputs {
    cohort: Arc<Cohort>,
    /// Definitions of dimensions, and what predictions are cross-validated from.
    predicting: Option<(Dimensions, Vec<String>)>,
    in_study: bool,
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
    /// With the quality of the space: its covariance shrunk.
    pub shrunk: Option<Shrunk>,
    /// With the quality of the space: its probabilistic components.
    pub probabilistic: Option<ProbabilisticPca>,
}

impl SpaceInputs {
    pub(super) fn open(sources: &SpaceSources) -> Result<Self, TaskError> {
        let dimensions = sources.dimensions.as_deref().map(read_dimensions).transpose()?;
        Ok(Self {
            cohort: Arc::new(Cohort::open(&sources.cohort)?),
            predicting: dimensions.map(|d| (d, sources.predict_from.clone())),
            in_study: false,
        })
    }

    pub(super) fn of(cohort: Arc<Cohort>) -> Self {
        Self { cohort, predicting: None, in_study: true }
    }

    /// The bodies.
    #[must_use]
    pub fn cohort(&self) -> &Arc<Cohort> {
        &self.cohort
    }

    /// Whether other tasks go on with the space: predictions then complete it and hand it over.
    pub(super) fn in_study(&self) -> bool {
        self.in_study
    }
}

/// Fits the space; on a command line with dimensions it is given what predictions need.
pub(super) fn run(
    settings: &SpaceSettings,
    inputs: &SpaceInputs,
    progress: Progress<'_>,
) -> Result<SpaceOutcome, TaskError> {
    let cohort = &*inputs.cohort;
    let mut made = fit(cohort, settings, progress)?;
    if let Some((dimensions, from)) = &inputs.predicting {
        let taking = MeasureSettings { items: Some(settings.items), ..MeasureSettings::default() };
        let measured = measure(&taking, cohort, dimensions, progress)?;
        let on = Foundation { cohort, items: &made.items, fitted: &made.fitted };
        let found = describe(&on, &measured.table, dimensions, from, settings.seed)?;
        found.put_into(&mut made.fitted.space);
        made.notes.extend(found.notes);
    }
    Ok(made)
}

/// Aligns the chosen items and fits their space. Progress counts are those of the fit.
///
/// # Errors
/// [`TaskError::Nothing`] where there are fewer than two items, and what the fit refuses.
pub fn fit(
    cohort: &Cohort,
    settings: &SpaceSettings,
    progress: Progress<'_>,
) -> Result<SpaceOutcome, TaskError> {
    let items = settings.items.of(cohort)?;
    if items.len() < 2 {
        return Err(TaskError::Nothing {
            what: format!("{} has only one item to build a space from", cohort.path().display()),
            advice: "variation needs two shapes or more; import more bodies, or choose all items".into(),
        });
    }
    let people = people_of(cohort, &items);
    let source = cohort.select(items.clone());
    let template = cohort.template();
    let params = settings.params(template)?;
    let mut fitted = params.fit(&source, template.mesh.topology(), &people, None, progress)?;
    if fitted.space.variances_mm2.is_empty() {
        return Err(TaskError::Nothing {
            what: format!("all {} items have the same shape: there is no variation to describe", items.len()),
            advice: "look for a file that was copied under several names".into(),
        });
    }
    if let Some(criteria) = settings.criteria_params(template) {
        fitted.space.criteria = Some(criteria.find(&source, &fitted, &people, &params, progress)?);
    }
    if let Some(quality) = settings.quality_params() {
        fitted.space.quality = Some(quality.find(&source, &fitted, &people, &params, progress)?);
    }
    let mut notes = whose(fitted.space.people, fitted.space.items);
    let mut made = SpaceOutcome { fitted, items, notes: Vec::new(), shrunk: None, probabilistic: None };
    if settings.quality {
        match shrunk(cohort, &made.items, &made.fitted) {
            Ok(found) => made.shrunk = Some(found),
            Err(e) if e.is_of_the_data() => notes.push(format!("The covariance could not be shrunk: {e}.")),
            Err(e) => return Err(e),
        }
        made.probabilistic = made.fitted.space.probabilistic(None).ok();
    }
    made.notes = notes;
    Ok(made)
}

/// What a reader must know of whose the shapes are.
fn whose(people: usize, items: usize) -> Vec<String> {
    if people == 1 {
        return vec![
            "All items are of one person: the modes describe poses of this person, not a population.".into(),
        ];
    }
    let several = people < items;
    let note = || {
        format!("{items} items of {people} people: repeated scans and frames of one person are not people.")
    };
    several.then(note).into_iter().collect()
}
