//! Shape regressed on a number of people.
//!
//! | file | what it holds |
//! |---|---|
//! | `settings` | what is asked for |
//! | `run` | people and a column of numbers to the slope |
//! | `section` | what a reader is shown |

mod run;
mod section;
mod settings;

use std::path::PathBuf;

use formkin_report::document::Section;
use formkin_shape::compare::ShapeRegression;
use formkin_table::file_name;
use serde_json::{Value, json};

pub use run::regress_on;
pub use settings::RegressSettings;

use crate::groups::{self, Among};
use crate::people::{PeopleInputs, PeopleSources};
use crate::{Delivery, Facts, InStudy, Need, Problems, Progress, Store, Target, Task, TaskError};

/// Shape regressed on a number of people.
#[derive(Debug, Clone, Copy)]
pub struct Regress;

impl Task for Regress {
    const NAME: &'static str = "regress";
    const ABOUT: &'static str = "What shape goes with: shape regressed on a number";
    const EXAMPLES: &'static str = "Example:
  formkin regress crew.safetensors --on age_years --by sex --coefficients crew.parquet --into age";
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
    type Settings = RegressSettings;
    type Inputs = PeopleInputs;
    type Outcome = Among<ShapeRegression>;

    fn check(sources: &PeopleSources, settings: &RegressSettings, facts: &Facts, problems: &mut Problems) {
        sources.check(problems);
        let mut asked = vec![("on", settings.on.as_str(), true)];
        asked.extend(settings.by.iter().map(|by| ("by", by.as_str(), false)));
        groups::check_columns(&asked, &settings.covariate, facts, problems);
    }

    fn open(sources: &PeopleSources, _: &RegressSettings) -> Result<PeopleInputs, TaskError> {
        PeopleInputs::open(sources)
    }

    fn needs() -> Vec<Need> {
        PeopleInputs::needs()
    }

    fn gather(
        _: &PeopleSources,
        _: &RegressSettings,
        store: &Store,
    ) -> Result<Option<PeopleInputs>, TaskError> {
        PeopleInputs::of(store)
    }

    fn label(settings: &RegressSettings) -> String {
        settings.on.clone()
    }

    fn folder(settings: &RegressSettings) -> PathBuf {
        PathBuf::from("slopes").join(format!("regress-{}", file_name(&settings.on)))
    }

    fn run(
        settings: &RegressSettings,
        inputs: &PeopleInputs,
        _: Progress<'_>,
    ) -> Result<Among<ShapeRegression>, TaskError> {
        regress_on(&inputs.space, &inputs.people, settings)
    }

    fn object(
        settings: &RegressSettings,
        inputs: &PeopleInputs,
        made: &Among<ShapeRegression>,
    ) -> Result<Value, TaskError> {
        let mut object = groups::object(&inputs.space, made, Self::NAME)?;
        object["by"] = json!(settings.by);
        object["people"] = json!(made.people);
        Ok(object)
    }

    fn deliver<'a>(
        _: &'a RegressSettings,
        inputs: &'a PeopleInputs,
        made: &'a Among<ShapeRegression>,
    ) -> Result<Delivery<'a>, TaskError> {
        let (space, found) = (&*inputs.space, &made.result);
        Ok(groups::delivery(space, &found.place, move || run::glb(space, found)))
    }

    fn section(
        settings: &RegressSettings,
        inputs: &PeopleInputs,
        made: &Among<ShapeRegression>,
        others: &Store,
    ) -> Result<Vec<Section>, TaskError> {
        Ok(vec![section::section(settings, &inputs.space, made, others.which::<Self>(&settings.on))])
    }
}
