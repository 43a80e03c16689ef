//! A study's space and dimensions to what predictions need, and the space that later tasks take.

use std::sync::{Arc, OnceLock};

use formkin_shape::{ShapeError, Space as ShapeSpace};
use serde::{Deserialize, Serialize};
use serde_json::{Value, json};

use super::PredictionsSettings;
use crate::measure::Measure;
use crate::space::{Described, Foundation, Space, describe};
use crate::{Ran, Store, TaskError};

/// A space, and the dimensions of its people where they were taken.
pub struct PredictionsInputs {
    space: Arc<Ran<Space>>,
    measured: Option<Arc<Ran<Measure>>>,
    described: OnceLock<Arc<ShapeSpace>>,
}

/// What came out.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct PredictionsOutcome {
    /// What predictions need; none without dimensions, or of too few people.
    pub described: Option<Described>,
    /// What a reader must know.
    pub notes: Vec<String>,
}

impl PredictionsInputs {
    pub(super) fn gather(settings: &PredictionsSettings, store: &Store) -> Result<Option<Self>, TaskError> {
        let Some(space) = store.get::<Space>() else { return Ok(None) };
        let measured = store.get::<Measure>();
        if measured.is_none() && !settings.from.is_empty() {
            return Err(TaskError::Nothing {
                what: "there are no dimensions to predict from".into(),
                advice: "add [measure] with `dimensions` to the study file".into(),
            });
        }
        Ok(Some(Self { space, measured, described: OnceLock::new() }))
    }

    /// The space with what predictions need, where it was found.
    pub(super) fn described(&self, outcome: &PredictionsOutcome) -> Arc<ShapeSpace> {
        let make = || {
            let mut space = self.space.outcome.fitted.space.clone();
            if let Some(found) = &outcome.described {
                found.put_into(&mut space);
            }
            Arc::new(space)
        };
        Arc::clone(self.described.get_or_init(make))
    }
}

pub(super) fn run(
    settings: &PredictionsSettings,
    inputs: &PredictionsInputs,
) -> Result<PredictionsOutcome, TaskError> {
    let mut outcome = PredictionsOutcome { described: None, notes: Vec::new() };
    let Some(measured) = &inputs.measured else { return Ok(outcome) };
    let Some(dimensions) = &measured.inputs.dimensions else { return Ok(outcome) };
    let table = &measured.outcome.table;
    let made = &inputs.space.outcome;
    let on = Foundation { cohort: inputs.space.inputs.cohort(), items: &made.items, fitted: &made.fitted };
    match describe(&on, table, dimensions, &settings.from, settings.seed) {
        Ok(mut found) => {
            outcome.notes.append(&mut found.notes);
            outcome.described = Some(found);
        }
        // a study of few people goes on without predictions, and says so
        Err(TaskError::Shape(ShapeError::TooFewPeople { .. })) => {
            let people = made.fitted.space.people;
            outcome
                .notes
                .push(format!("Nothing can be predicted from dimensions: {people} people are too few."));
        }
        Err(e) => return Err(e),
    }
    Ok(outcome)
}

pub(super) fn object(outcome: &PredictionsOutcome) -> Value {
    let moments = outcome.described.as_ref().map(|d| &d.moments);
    json!({
        "predicts_from": moments.map(|m| m.variables.iter().map(|v| &v.name).collect::<Vec<_>>()),
        "prediction_people": moments.map(|m| m.people),
        "prediction_errors": moments.and_then(|m| m.errors.as_ref()),
        "notes": outcome.notes,
    })
}
