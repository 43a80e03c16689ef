//! What is the same left and right, and what is not.
//!
//! | file | what it holds |
//! |---|---|
//! | `settings` | what is asked for |
//! | `run` | a cohort to symmetric and asymmetric parts |
//! | `deliver` | the object, the tables, the body |
//! | `section` | what a reader is shown |

mod deliver;
mod run;
mod section;
mod settings;

use std::path::PathBuf;

use formkin_report::document::Section;
use serde_json::Value;

pub use run::{SymmetryInputs, SymmetryOutcome};
pub use settings::{SymmetrySettings, SymmetrySources};

use crate::{Delivery, Facts, InStudy, Need, Problems, Progress, Store, Target, Task, TaskError};

/// What is the same left and right, and what is not.
#[derive(Debug, Clone, Copy)]
pub struct Symmetry;

impl Task for Symmetry {
    const NAME: &'static str = "symmetry";
    const ABOUT: &'static str = "What is the same left and right, and what is not";
    const EXAMPLES: &'static str = "Examples:
  formkin symmetry crew.cohort
  formkin symmetry crew.cohort --into symmetry

The template must name its mirror pairs. People captured twice or more let measurement error be separated from asymmetry.";
    const TARGETS: &'static [Target] = &[Target::Folder {
        option: "into",
        about: "The folder to write scores, table, map and body into",
        required: false,
    }];
    const NAMES: &'static [&'static str] =
        &["asymmetry.csv", "asymmetry-table.csv", "asymmetry-map.csv", "asymmetry.glb", "symmetry.json"];
    const IN_STUDY: InStudy = InStudy::Tried;

    type Sources = SymmetrySources;
    type Settings = SymmetrySettings;
    type Inputs = SymmetryInputs;
    type Outcome = SymmetryOutcome;

    fn check(_: &SymmetrySources, settings: &SymmetrySettings, facts: &Facts, problems: &mut Problems) {
        if problems.in_study()
            && (facts.template.as_ref().is_some_and(|t| t.mirror.is_none()) || facts.nameless)
        {
            problems.wrong(
                "",
                "the template has no mirror pairs",
                "name them in template.toml (`mirror = ..`), or leave the section out",
            );
        }
        settings.check(facts, problems);
    }

    fn open(sources: &SymmetrySources, _: &SymmetrySettings) -> Result<SymmetryInputs, TaskError> {
        SymmetryInputs::open(&sources.cohort)
    }

    fn needs() -> Vec<Need> {
        Vec::new()
    }

    fn gather(
        _: &SymmetrySources,
        _: &SymmetrySettings,
        store: &Store,
    ) -> Result<Option<SymmetryInputs>, TaskError> {
        Ok(store.cohort().map(SymmetryInputs::of))
    }

    fn folder(_: &SymmetrySettings) -> PathBuf {
        PathBuf::from("symmetry")
    }

    fn run(
        settings: &SymmetrySettings,
        inputs: &SymmetryInputs,
        progress: Progress<'_>,
    ) -> Result<SymmetryOutcome, TaskError> {
        run::run(settings, inputs, progress)
    }

    fn object(
        _: &SymmetrySettings,
        _: &SymmetryInputs,
        outcome: &SymmetryOutcome,
    ) -> Result<Value, TaskError> {
        Ok(deliver::object(outcome))
    }

    fn deliver<'a>(
        _: &'a SymmetrySettings,
        inputs: &'a SymmetryInputs,
        outcome: &'a SymmetryOutcome,
    ) -> Result<Delivery<'a>, TaskError> {
        Ok(deliver::files(inputs.topology(), outcome))
    }

    fn section(
        settings: &SymmetrySettings,
        inputs: &SymmetryInputs,
        outcome: &SymmetryOutcome,
        _: &Store,
    ) -> Result<Vec<Section>, TaskError> {
        Ok(vec![section::section(settings, inputs.topology(), outcome)])
    }
}
