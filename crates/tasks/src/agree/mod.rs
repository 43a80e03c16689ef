//! Scan against hand, or repeats against each other: error, limits, reliability.
//!
//! | file | what it holds |
//! |---|---|
//! | `settings` | what is asked for |
//! | `run` | tables to agreement or repeatability |
//! | `deliver` | the object, the tables, the page, the charts |
//! | `section`, `answer` | what a reader is shown |

mod answer;
mod deliver;
mod run;
mod section;
mod settings;
#[cfg(test)]
mod tests;

use formkin_report::document::{Front, Section};
use serde_json::Value;

pub use run::{AgreeInputs, AgreeOutcome, Measurings};
pub use settings::{AgreeSettings, AgreeSources};

use crate::{Delivery, Facts, InStudy, Problems, Progress, Store, Target, Task, TaskError};

/// Scan against hand, or repeats against each other.
#[derive(Debug, Clone, Copy)]
pub struct Agree;

impl Task for Agree {
    const NAME: &'static str = "agree";
    const ABOUT: &'static str =
        "Scan against hand, or repeats against each other: error, limits, reliability";
    const EXAMPLES: &'static str = "Examples:
  formkin agree scan.csv hand.csv --dimensions dimensions.toml --into agreement
  formkin agree scan.csv hand.csv --type wrist_girth=small-girth
  formkin agree --repeats repeats.csv                rows are a participant in a session

Limits after ISO 20685-1; they test the mean error alone.";
    const TARGETS: &'static [Target] = &[Target::Folder {
        option: "into",
        about: "The folder to write the table and the charts into",
        required: false,
    }];
    const NAMES: &'static [&'static str] = &["agreement.csv", "agreement.html", "agree.json"];
    const IN_STUDY: InStudy = InStudy::Never;

    type Sources = AgreeSources;
    type Settings = AgreeSettings;
    type Inputs = AgreeInputs;
    type Outcome = AgreeOutcome;

    fn check(sources: &AgreeSources, settings: &AgreeSettings, _: &Facts, problems: &mut Problems) {
        settings.check(sources, problems);
    }

    fn open(sources: &AgreeSources, _: &AgreeSettings) -> Result<AgreeInputs, TaskError> {
        AgreeInputs::open(sources)
    }

    fn run(
        settings: &AgreeSettings,
        inputs: &AgreeInputs,
        _: Progress<'_>,
    ) -> Result<AgreeOutcome, TaskError> {
        run::run(settings, inputs)
    }

    fn object(_: &AgreeSettings, _: &AgreeInputs, made: &AgreeOutcome) -> Result<Value, TaskError> {
        Ok(deliver::object(made))
    }

    fn deliver<'a>(
        _: &'a AgreeSettings,
        _: &'a AgreeInputs,
        made: &'a AgreeOutcome,
    ) -> Result<Delivery<'a>, TaskError> {
        Ok(deliver::files(made))
    }

    fn section(
        _: &AgreeSettings,
        _: &AgreeInputs,
        made: &AgreeOutcome,
        _: &Store,
    ) -> Result<Vec<Section>, TaskError> {
        Ok(section::sections(made))
    }

    fn front(_: &AgreeSettings, _: &AgreeInputs, made: &AgreeOutcome) -> Result<Option<Front>, TaskError> {
        Ok(section::front(made))
    }

    fn cautions(_: &AgreeInputs, made: &AgreeOutcome) -> Vec<String> {
        match made {
            AgreeOutcome::Compared(made) => vec![made.caution.clone()],
            AgreeOutcome::Repeated(_) => Vec::new(),
        }
    }
}
