//! What is wrong with the data.
//!
//! | file | what it holds |
//! |---|---|
//! | `settings` | the limits |
//! | `section` | what a reader is shown |

mod section;
mod settings;

use std::sync::Arc;

use formkin_cohort::{Checks, Cohort};
use formkin_report::document::Section;
use serde_json::{Value, json};

pub use settings::{CheckSettings, CheckSources};

use crate::{Delivery, Facts, InStudy, Problems, Progress, Store, Target, Task, TaskError};

/// The file of what the checks found.
const FILE: &str = "checks.json";

/// What is wrong with the data.
#[derive(Debug, Clone, Copy)]
pub struct Check;

/// The bodies.
#[derive(Debug)]
pub struct CheckInputs {
    cohort: Arc<Cohort>,
}

impl Task for Check {
    const NAME: &'static str = "check";
    const ABOUT: &'static str = "Say what is wrong with the data; nothing is repaired";
    const EXAMPLES: &'static str = "Example:
  formkin check crew.cohort

Exit code 1 where there are findings. All of them are written into the cohort, as checks.json.";
    const TARGETS: &'static [Target] = &[Target::Inside { source: "cohort", name: FILE }];
    const AT_TOP: bool = true;
    const IN_STUDY: InStudy = InStudy::Always;

    type Sources = CheckSources;
    type Settings = CheckSettings;
    type Inputs = CheckInputs;
    type Outcome = Checks;

    fn check(_: &CheckSources, settings: &CheckSettings, _: &Facts, problems: &mut Problems) {
        settings.check(problems);
    }

    fn open(sources: &CheckSources, _: &CheckSettings) -> Result<CheckInputs, TaskError> {
        Ok(CheckInputs { cohort: Arc::new(Cohort::open(&sources.cohort)?) })
    }

    fn gather(_: &CheckSources, _: &CheckSettings, store: &Store) -> Result<Option<CheckInputs>, TaskError> {
        Ok(store.cohort().map(|cohort| CheckInputs { cohort }))
    }

    fn run(
        settings: &CheckSettings,
        inputs: &CheckInputs,
        progress: Progress<'_>,
    ) -> Result<Checks, TaskError> {
        Ok(formkin_cohort::check(&inputs.cohort, &settings.params(), progress)?)
    }

    fn object(_: &CheckSettings, _: &CheckInputs, checks: &Checks) -> Result<Value, TaskError> {
        let topology = &checks.topology;
        Ok(json!({
            "people": checks.people,
            "items": checks.items,
            "quarantined": checks.quarantined,
            "vertices": topology.vertices,
            "triangles": topology.triangles,
            "watertight": topology.watertight,
            "topology": topology,
            "findings": checks.findings,
        }))
    }

    fn deliver<'a>(
        _: &'a CheckSettings,
        _: &'a CheckInputs,
        checks: &'a Checks,
    ) -> Result<Delivery<'a>, TaskError> {
        let what = "What the checks found, for programs";
        Ok(Delivery::new().bytes(FILE, what, checks.to_json()?))
    }

    fn section(
        _: &CheckSettings,
        inputs: &CheckInputs,
        checks: &Checks,
        _: &Store,
    ) -> Result<Vec<Section>, TaskError> {
        Ok(vec![section::section(inputs.cohort.path(), checks)])
    }

    fn finds(checks: &Checks) -> bool {
        !checks.findings.is_empty()
    }
}
