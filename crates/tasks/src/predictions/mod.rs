//! What a space needs so that bodies can be predicted from dimensions, and how well they are.
//!
//! | file | what it holds |
//! |---|---|
//! | `settings` | what is asked for |
//! | `run` | the inputs and outcome of a study; the space that later tasks take |

mod run;
mod settings;

use std::sync::Arc;

use formkin_report::document::Section;
use formkin_shape::Space as ShapeSpace;
use serde_json::Value;

pub use run::{PredictionsInputs, PredictionsOutcome};
pub use settings::PredictionsSettings;

use crate::measure::Measure;
use crate::space::{SPACE_FILE, SPACE_WHAT, Space, moments_section};
use crate::{Delivery, Facts, InStudy, Need, Nothing, Problems, Progress, Store, Task, TaskError};

/// What a space needs so that bodies can be predicted from dimensions.
///
/// A study runs it whether or not it has dimensions, since it hands over the space: with what predictions need where dimensions were taken, as
/// it was fitted otherwise.
#[derive(Debug, Clone, Copy)]
pub struct Predictions;

/// The space of a study as the study writes it: with what predictions need where dimensions were taken. `None` where there is no space.
#[must_use]
pub fn described_space(store: &Store) -> Option<Arc<ShapeSpace>> {
    let ran = store.get::<Predictions>()?;
    Some(ran.inputs.described(&ran.outcome))
}

impl Task for Predictions {
    const NAME: &'static str = "predictions";
    const ABOUT: &'static str = "Bodies predicted from dimensions, and the error on people held out";
    const IS_COMMAND: bool = false;
    const IN_STUDY: InStudy = InStudy::Always;

    type Sources = Nothing;
    type Settings = PredictionsSettings;
    type Inputs = PredictionsInputs;
    type Outcome = PredictionsOutcome;

    fn check(_: &Nothing, settings: &PredictionsSettings, facts: &Facts, problems: &mut Problems) {
        settings.check(facts, problems);
    }

    fn open(_: &Nothing, _: &PredictionsSettings) -> Result<PredictionsInputs, TaskError> {
        Err(TaskError::Nothing {
            what: "predictions are prepared in a study".into(),
            advice: "on a command line, `formkin space --dimensions` prepares them".into(),
        })
    }

    fn needs() -> Vec<Need> {
        vec![Need::of::<Space>(), Need::of::<Measure>()]
    }

    fn gather(
        _: &Nothing,
        settings: &PredictionsSettings,
        store: &Store,
    ) -> Result<Option<PredictionsInputs>, TaskError> {
        PredictionsInputs::gather(settings, store)
    }

    fn run(
        settings: &PredictionsSettings,
        inputs: &PredictionsInputs,
        _: Progress<'_>,
    ) -> Result<PredictionsOutcome, TaskError> {
        run::run(settings, inputs)
    }

    fn object(
        _: &PredictionsSettings,
        _: &PredictionsInputs,
        outcome: &PredictionsOutcome,
    ) -> Result<Value, TaskError> {
        Ok(run::object(outcome))
    }

    fn deliver<'a>(
        _: &'a PredictionsSettings,
        inputs: &'a PredictionsInputs,
        outcome: &'a PredictionsOutcome,
    ) -> Result<Delivery<'a>, TaskError> {
        let bytes = || Ok(inputs.described(outcome).to_safetensors());
        Ok(Delivery::new().made(SPACE_FILE, SPACE_WHAT, bytes))
    }

    fn section(
        _: &PredictionsSettings,
        _: &PredictionsInputs,
        outcome: &PredictionsOutcome,
        _: &Store,
    ) -> Result<Vec<Section>, TaskError> {
        Ok(outcome.described.iter().map(|d| moments_section(&d.moments)).collect())
    }

    fn cautions(_: &PredictionsInputs, outcome: &PredictionsOutcome) -> Vec<String> {
        outcome.notes.clone()
    }
}
