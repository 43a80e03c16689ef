//! Groups of people compared by the coefficients of their shapes.
//!
//! | file | what it holds |
//! |---|---|
//! | `settings` | what is asked for |
//! | `run` | people and a column to the tests |
//! | `section` | what a reader is shown |

mod run;
mod section;
mod settings;

use std::path::PathBuf;

use formkin_report::document::Section;
use formkin_shape::compare::Comparison;
use formkin_table::file_name;
use serde_json::{Value, json};

pub use run::compare;
pub use settings::CompareSettings;

use crate::groups::{self, Among};
use crate::people::{PeopleInputs, PeopleSources};
use crate::{Delivery, Facts, InStudy, Need, Problems, Progress, Store, Target, Task, TaskError};

/// Groups of people compared by the coefficients of their shapes.
#[derive(Debug, Clone, Copy)]
pub struct Compare;

impl Task for Compare {
    const NAME: &'static str = "compare";
    const ABOUT: &'static str = "How the shapes of groups of people differ";
    const EXAMPLES: &'static str = "Examples:
  formkin compare crew.safetensors --by sex --coefficients crew.parquet --into compared
  formkin compare crew.safetensors --by station --cohort crew.cohort --covariate age_years";
    const TARGETS: &'static [Target] = &[Target::Folder {
        option: "into",
        about: "The folder to write the map and the morphing body into",
        required: false,
    }];
    const NAMES: &'static [&'static str] = groups::NAMES;
    const OBJECT: Option<&'static str> = Some("result.json");
    const SEVERAL: bool = true;
    const IN_STUDY: InStudy = InStudy::Tried;

    type Sources = PeopleSources;
    type Settings = CompareSettings;
    type Inputs = PeopleInputs;
    type Outcome = Among<Comparison>;

    fn check(sources: &PeopleSources, settings: &CompareSettings, facts: &Facts, problems: &mut Problems) {
        sources.check(problems);
        let asked = [("by", settings.by.as_str(), false)];
        groups::check_columns(&asked, &settings.covariate, facts, problems);
    }

    fn open(sources: &PeopleSources, _: &CompareSettings) -> Result<PeopleInputs, TaskError> {
        PeopleInputs::open(sources)
    }

    fn needs() -> Vec<Need> {
        PeopleInputs::needs()
    }

    fn gather(
        _: &PeopleSources,
        _: &CompareSettings,
        store: &Store,
    ) -> Result<Option<PeopleInputs>, TaskError> {
        PeopleInputs::of(store)
    }

    fn label(settings: &CompareSettings) -> String {
        settings.by.clone()
    }

    fn folder(settings: &CompareSettings) -> PathBuf {
        PathBuf::from("groups").join(format!("compare-{}", file_name(&settings.by)))
    }

    fn run(
        settings: &CompareSettings,
        inputs: &PeopleInputs,
        _: Progress<'_>,
    ) -> Result<Among<Comparison>, TaskError> {
        compare(&inputs.space, &inputs.people, settings)
    }

    fn object(
        settings: &CompareSettings,
        inputs: &PeopleInputs,
        made: &Among<Comparison>,
    ) -> Result<Value, TaskError> {
        let mut object = groups::object(&inputs.space, made, Self::NAME)?;
        object["by"] = json!(settings.by);
        Ok(object)
    }

    fn deliver<'a>(
        _: &'a CompareSettings,
        inputs: &'a PeopleInputs,
        made: &'a Among<Comparison>,
    ) -> Result<Delivery<'a>, TaskError> {
        let (space, found) = (&*inputs.space, &made.result);
        let towards = |(name, c): (&String, &Vec<f64>)| (name.clone(), groups::moved(space, c));
        Ok(groups::delivery(space, &found.place, move || {
            let targets = found.groups.iter().zip(&found.means_mm).map(towards).collect();
            groups::scene(space, &found.place, targets, None)
        }))
    }

    fn section(
        settings: &CompareSettings,
        inputs: &PeopleInputs,
        made: &Among<Comparison>,
        others: &Store,
    ) -> Result<Vec<Section>, TaskError> {
        Ok(vec![section::section(settings, &inputs.space, made, others.which::<Self>(&settings.by))])
    }
}
