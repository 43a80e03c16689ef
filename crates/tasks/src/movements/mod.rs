//! What all movements of a study say together.
//!
//! | file | what it holds |
//! |---|---|
//! | `settings` | what is asked for |
//! | `run` | changes, allowances, components of curves, conditions compared, one motion space |
//! | `object`, `deliver` | the figures for programs, the tables and arrays |
//! | `section`, `shared_section` | what a reader is shown |

mod deliver;
mod object;
mod run;
mod section;
mod settings;
mod shared_section;

use std::sync::Arc;

use formkin_report::document::Section;
use serde_json::Value;

pub use deliver::allowance_table;
pub use run::{MovementsInputs, MovementsOutcome};
pub use settings::{MovementsSettings, OriginChoice, SharedSettings};

use crate::fields::Nothing;
use crate::motion::{Motion, no_movement};
use crate::signals::check::pairs;
use crate::{Delivery, Facts, InStudy, Need, Problems, Progress, Store, Task, TaskError};

/// What all movements of a study say together.
#[derive(Debug, Clone, Copy)]
pub struct Movements;

impl Task for Movements {
    const NAME: &'static str = "movements";
    const ABOUT: &'static str = "What all movements of a study say together";
    const IS_COMMAND: bool = false;
    const IN_STUDY: InStudy = InStudy::Always;

    type Sources = Nothing;
    type Settings = MovementsSettings;
    type Inputs = MovementsInputs;
    type Outcome = MovementsOutcome;

    fn check(_: &Nothing, settings: &MovementsSettings, facts: &Facts, problems: &mut Problems) {
        if let Some(captures) = &facts.captures {
            let people: Vec<(&str, &str)> =
                captures.iter().map(|c| (c.id.as_str(), c.participant.as_str())).collect();
            pairs("compare", &settings.compare, &people, problems);
        }
    }

    fn open(_: &Nothing, _: &MovementsSettings) -> Result<MovementsInputs, TaskError> {
        Err(TaskError::Nothing {
            what: "movements are taken together in a study".to_owned(),
            advice: "write a study file, and run `formkin study`".to_owned(),
        })
    }

    fn needs() -> Vec<Need> {
        vec![Need::of::<Motion>()]
    }

    fn gather(
        _: &Nothing,
        _: &MovementsSettings,
        store: &Store,
    ) -> Result<Option<MovementsInputs>, TaskError> {
        let Some(cohort) = store.cohort() else { return Ok(None) };
        let motions = store.all::<Motion>();
        let left_out: Vec<String> = cohort
            .captures()
            .iter()
            .filter(|c| motions.iter().all(|m| m.outcome.capture != c.id))
            .filter_map(no_movement)
            .collect();
        let some = !motions.is_empty() || !left_out.is_empty();
        Ok(some.then(|| MovementsInputs { cohort: Arc::clone(&cohort), motions, left_out }))
    }

    fn run(
        settings: &MovementsSettings,
        inputs: &MovementsInputs,
        progress: Progress<'_>,
    ) -> Result<MovementsOutcome, TaskError> {
        run::run(settings, inputs, progress)
    }

    fn object(
        _: &MovementsSettings,
        inputs: &MovementsInputs,
        outcome: &MovementsOutcome,
    ) -> Result<Value, TaskError> {
        Ok(object::object(inputs, outcome))
    }

    fn deliver<'a>(
        _: &'a MovementsSettings,
        inputs: &'a MovementsInputs,
        outcome: &'a MovementsOutcome,
    ) -> Result<Delivery<'a>, TaskError> {
        deliver::files(inputs.body(), outcome)
    }

    fn section(
        _: &MovementsSettings,
        inputs: &MovementsInputs,
        outcome: &MovementsOutcome,
        _: &Store,
    ) -> Result<Vec<Section>, TaskError> {
        Ok(section::section(inputs, outcome).into_iter().collect())
    }

    fn cautions(inputs: &MovementsInputs, _: &MovementsOutcome) -> Vec<String> {
        inputs.left_out.clone()
    }
}
