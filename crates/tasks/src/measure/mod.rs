//! Body dimensions of a cohort; without definitions, area, volume and centroid size.
//!
//! | file | what it holds |
//! |---|---|
//! | `settings` | what is asked for |
//! | `run` | a cohort to tables of dimensions |
//! | `deliver` | the object and the tables |
//! | `answer` | the answer on a terminal |
//! | `section` | what a reader is shown |
//! | `drawing` | a dimension drawn on the template |
//! | `carried` | definitions and names that a space carries with it |

mod answer;
mod carried;
mod deliver;
mod drawing;
mod run;
mod section;
mod settings;

use std::path::PathBuf;
use std::sync::Arc;

use formkin_cohort::Cohort;
use formkin_report::document::Section;
use serde_json::Value;

pub use answer::handbook_lines;
pub use carried::Measuring;
pub use run::{Explained, MeasureInputs, MeasureOutcome, Remark, facts, handbook, measure};
pub use settings::{MeasureSettings, MeasureSources, Per};

use crate::choices::Which;
use crate::reading::read_dimensions;
use crate::{Delivery, Facts, InStudy, Problems, Progress, Store, Target, Task, TaskError};

/// Body dimensions of a cohort.
#[derive(Debug, Clone, Copy)]
pub struct Measure;

impl Task for Measure {
    const NAME: &'static str = "measure";
    const ABOUT: &'static str = "Take body dimensions";
    const EXAMPLES: &'static str = "Examples:
  formkin measure crew.cohort --dimensions dimensions.toml --per person --into people.csv
  formkin measure crew.cohort --dimensions dimensions.toml --explain waist_girth --into waist.svg
  formkin measure crew.cohort --json                  area, volume and centroid size of every item";
    const TARGETS: &'static [Target] = &[Target::File {
        option: "into",
        value: "CSV",
        about: "The CSV table to write",
        required: false,
        name: "dimensions.csv",
    }];
    const PRINTED: Option<&'static str> = Some("dimensions.csv");
    const IN_STUDY: InStudy = InStudy::Asked;

    type Sources = MeasureSources;
    type Settings = MeasureSettings;
    type Inputs = MeasureInputs;
    type Outcome = MeasureOutcome;

    fn foretell(sources: &MeasureSources, _: &MeasureSettings, facts: &mut Facts) {
        facts.measured = true;
        facts.dimensions = sources.dimensions.as_ref().and_then(|path| read_dimensions(path).ok());
    }

    fn check(sources: &MeasureSources, settings: &MeasureSettings, facts: &Facts, problems: &mut Problems) {
        settings.check(sources, facts, problems);
    }

    fn open(sources: &MeasureSources, _: &MeasureSettings) -> Result<MeasureInputs, TaskError> {
        let dimensions = sources.dimensions.as_deref().map(read_dimensions).transpose()?;
        let cohort = Arc::new(Cohort::open(&sources.cohort)?);
        Ok(MeasureInputs { cohort, dimensions, explain: sources.explain.clone() })
    }

    fn runs(settings: MeasureSettings, _: &Store) -> Vec<MeasureSettings> {
        let items = Some(settings.items.unwrap_or(Which::Stills));
        vec![MeasureSettings { items, ..settings }]
    }

    fn gather(
        sources: &MeasureSources,
        _: &MeasureSettings,
        store: &Store,
    ) -> Result<Option<MeasureInputs>, TaskError> {
        let Some(cohort) = store.cohort() else { return Ok(None) };
        let dimensions = sources.dimensions.as_deref().map(read_dimensions).transpose()?;
        Ok(Some(MeasureInputs { cohort, dimensions, explain: None }))
    }

    fn folder(_: &MeasureSettings) -> PathBuf {
        PathBuf::new()
    }

    fn run(
        settings: &MeasureSettings,
        inputs: &MeasureInputs,
        progress: Progress<'_>,
    ) -> Result<MeasureOutcome, TaskError> {
        run::run(settings, inputs, progress)
    }

    fn object(
        settings: &MeasureSettings,
        inputs: &MeasureInputs,
        outcome: &MeasureOutcome,
    ) -> Result<Value, TaskError> {
        Ok(deliver::object(settings, inputs, outcome))
    }

    fn deliver<'a>(
        settings: &'a MeasureSettings,
        inputs: &'a MeasureInputs,
        outcome: &'a MeasureOutcome,
    ) -> Result<Delivery<'a>, TaskError> {
        Ok(deliver::files(settings, inputs.cohort.template(), outcome))
    }

    fn section(
        settings: &MeasureSettings,
        inputs: &MeasureInputs,
        outcome: &MeasureOutcome,
        others: &Store,
    ) -> Result<Vec<Section>, TaskError> {
        Ok(vec![section::section(settings, inputs, outcome, others.mentioned())])
    }
}
