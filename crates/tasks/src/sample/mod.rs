//! New bodies like those of given people.
//!
//! | file | what it holds |
//! |---|---|
//! | `settings` | what is asked for |
//! | `run` | people to bodies drawn like them |
//! | `reality` | what is known of people and asked of bodies |
//! | `target` | bodies of a target population |
//! | `population` | margins of a population and limits of dimensions, from files |
//! | `repeats` | how far repeated scans lie from each other |
//! | `deliver` | the object, the meshes, the tables |
//! | `section` | what a reader is shown |

mod deliver;
pub mod population;
mod reality;
mod repeats;
mod run;
mod section;
mod settings;
mod target;

use std::path::PathBuf;

use formkin_report::document::Section;
use serde_json::Value;

pub use run::{Crossings, SampleOutcome, body_name, sample_bodies};
pub use settings::{Components, SampleInputs, SampleJob, SampleSettings, SampleSources};

use crate::people::PeopleInputs;
use crate::{Delivery, Facts, InStudy, Need, Problems, Progress, Store, Target, Task, TaskError};

/// New bodies like those of given people.
#[derive(Debug, Clone, Copy)]
pub struct Sample;

impl Task for Sample {
    const NAME: &'static str = "sample";
    const ABOUT: &'static str = "New bodies like those of given people, and how they compare with them";
    const EXAMPLES: &'static str = "Examples:
  formkin sample crew.safetensors --count 50 --coefficients crew.parquet --into drawn
  formkin sample crew.safetensors --count 50 --cohort crew.cohort --by sex --into drawn
  formkin sample crew.safetensors --count 50 --cohort crew.cohort --components auto --into drawn
  formkin sample crew.safetensors --count 50 --cohort crew.cohort --target nation.toml --into drawn

Where the space carries definitions of dimensions, bodies whose dimensions are far outside those of the
people are drawn again, and so are bodies whose surfaces cross themselves more than on 99 % of people.";
    const TARGETS: &'static [Target] = &[Target::Folder {
        option: "into",
        about: "The folder to write meshes, coefficients, dimensions and report into",
        required: true,
    }];
    const NAMES: &'static [&'static str] = &["samples.csv", "dimensions.csv", "report.json"];
    const OBJECT: Option<&'static str> = Some("report.json");
    const IN_STUDY: InStudy = InStudy::Tried;

    type Sources = SampleSources;
    type Settings = SampleSettings;
    type Inputs = SampleInputs;
    type Outcome = SampleOutcome;

    fn check(sources: &SampleSources, settings: &SampleSettings, facts: &Facts, problems: &mut Problems) {
        settings.check(sources, facts, problems);
    }

    fn open(sources: &SampleSources, _: &SampleSettings) -> Result<SampleInputs, TaskError> {
        SampleInputs::open(sources)
    }

    fn needs() -> Vec<Need> {
        PeopleInputs::needs()
    }

    fn gather(
        sources: &SampleSources,
        _: &SampleSettings,
        store: &Store,
    ) -> Result<Option<SampleInputs>, TaskError> {
        SampleInputs::gather(sources, store)
    }

    fn folder(_: &SampleSettings) -> PathBuf {
        PathBuf::from("sample")
    }

    fn run(
        settings: &SampleSettings,
        inputs: &SampleInputs,
        _: Progress<'_>,
    ) -> Result<SampleOutcome, TaskError> {
        sample_bodies(&inputs.space, &inputs.rows, &settings.job(inputs))
    }

    fn object(
        settings: &SampleSettings,
        inputs: &SampleInputs,
        found: &SampleOutcome,
    ) -> Result<Value, TaskError> {
        Ok(deliver::object(settings, inputs, found))
    }

    fn deliver<'a>(
        settings: &'a SampleSettings,
        inputs: &'a SampleInputs,
        found: &'a SampleOutcome,
    ) -> Result<Delivery<'a>, TaskError> {
        Ok(deliver::files(settings, &inputs.space, found))
    }

    fn section(
        settings: &SampleSettings,
        _: &SampleInputs,
        found: &SampleOutcome,
        _: &Store,
    ) -> Result<Vec<Section>, TaskError> {
        Ok(vec![section::section(settings, found)])
    }
}
