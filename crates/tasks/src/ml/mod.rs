//! A cohort to a data set for machine learning: parts by participant, a space of the training people alone, coefficients, dimensions, scalers, a data sheet.
//!
//! | module | what it holds |
//! |---|---|
//! | `settings` | what is asked for |
//! | `run` | people split, the space of the training people, coefficients |
//! | `parts` | how the parts came out, and how coefficients are spread in them |
//! | `split` | who trains and who is held out; the leak check |
//! | `tables` | the tables and arrays as bytes |
//! | `describe` | what the data sheet says |
//! | `sheet` | the files: the manifest, the data sheet as text, the example program |
//! | `data_sheet`, `page` | the data sheet as data, and as a page |

mod data_sheet;
mod describe;
mod page;
mod parts;
mod run;
mod settings;
mod sheet;
mod split;
mod tables;

use std::collections::BTreeMap;
use std::sync::Arc;

use formkin_cohort::Cohort;
use formkin_measure::Dimensions;
use formkin_report::document::Section;
use serde_json::Value;

pub use data_sheet::DataSheet;
pub use parts::{MlRow, PartFacts};
pub use run::{MlOutcome, ROUND_TRIP_MM, SetOutcome};
pub use settings::{SetSettings, SetSources};
pub use split::Part;

use crate::reading::read_dimensions;
use crate::{Delivery, Facts, InStudy, Problems, Progress, Store, Target, Task, TaskError};

/// A data set for machine learning.
#[derive(Debug, Clone, Copy)]
pub struct LearningSet;

/// The people, and what is set from outside.
#[derive(Debug)]
pub struct SetInputs {
    cohort: Arc<Cohort>,
    given: Option<BTreeMap<String, Part>>,
    dimensions: Option<Dimensions>,
}

impl SetInputs {
    fn files(
        &self,
        settings: &SetSettings,
        outcome: &SetOutcome,
    ) -> Result<(BTreeMap<String, Vec<u8>>, Value), TaskError> {
        let job = settings.job(&self.cohort, self.given.as_ref(), self.dimensions.as_ref())?;
        sheet::files(&self.cohort, &job, outcome)
    }
}

impl Task for LearningSet {
    const NAME: &'static str = "export ml";
    const ABOUT: &'static str =
        "A data set for machine learning: parts by participant, scalers, a data sheet";
    const EXAMPLES: &'static str = "Example:
  formkin export ml crew.cohort --into crew-ml --dimensions dimensions.toml --stratify sex";
    const TARGETS: &'static [Target] =
        &[Target::Folder { option: "into", about: "The folder to make", required: true }];
    const NAMES: &'static [&'static str] = &["manifest.json"];
    const OBJECT_IN_FOLDER: bool = false;
    const IN_STUDY: InStudy = InStudy::Never;

    type Sources = SetSources;
    type Settings = SetSettings;
    type Inputs = SetInputs;
    type Outcome = SetOutcome;

    fn check(_: &SetSources, settings: &SetSettings, _: &Facts, problems: &mut Problems) {
        settings.check(problems);
    }

    fn open(sources: &SetSources, _: &SetSettings) -> Result<SetInputs, TaskError> {
        Ok(SetInputs {
            cohort: Arc::new(Cohort::open(&sources.cohort)?),
            given: sources.splits.as_deref().map(settings::read_parts).transpose()?,
            dimensions: sources.dimensions.as_deref().map(read_dimensions).transpose()?,
        })
    }

    fn run(
        settings: &SetSettings,
        inputs: &SetInputs,
        progress: Progress<'_>,
    ) -> Result<SetOutcome, TaskError> {
        let job = settings.job(&inputs.cohort, inputs.given.as_ref(), inputs.dimensions.as_ref())?;
        let made = run::ml_set(&inputs.cohort, &job, progress)?;
        let take = |definitions| tables::take(&inputs.cohort, definitions, &made, progress);
        let dimensions = inputs.dimensions.as_ref().map(take).transpose()?;
        Ok(SetOutcome { made, dimensions })
    }

    fn object(settings: &SetSettings, inputs: &SetInputs, outcome: &SetOutcome) -> Result<Value, TaskError> {
        Ok(inputs.files(settings, outcome)?.1)
    }

    fn deliver<'a>(
        settings: &'a SetSettings,
        inputs: &'a SetInputs,
        outcome: &'a SetOutcome,
    ) -> Result<Delivery<'a>, TaskError> {
        let (files, _) = inputs.files(settings, outcome)?;
        let add = |all: Delivery<'a>, (name, bytes)| all.bytes(name, "A part of the data set", bytes);
        Ok(files.into_iter().fold(Delivery::new(), add))
    }

    fn section(
        _: &SetSettings,
        _: &SetInputs,
        outcome: &SetOutcome,
        _: &Store,
    ) -> Result<Vec<Section>, TaskError> {
        let made = &outcome.made;
        let mut answer = vec!["part         people   rows   residual mm".to_owned()];
        for p in &made.parts {
            let residual = p.residual_rms_mm.map_or_else(|| "-".to_owned(), |x| format!("{x:.3}"));
            answer.push(format!("{:<12} {:>6} {:>6} {residual:>13}", p.part.name(), p.people, p.rows));
        }
        answer.push(format!(
            "{} modes of the training people; decoding within {:.5} mm",
            made.space.modes.len(),
            made.storage_error_mm
        ));
        answer.extend(made.notes.iter().map(|n| format!("note: {n}")));
        Ok(vec![Section { answer, ..Section::new("set", "A data set for machine learning") }])
    }
}
