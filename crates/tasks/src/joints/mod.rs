//! Joint centres, segment lengths, joint angles and segment masses.

mod deliver;
mod run;
mod settings;

use std::sync::Arc;

use formkin_cohort::Cohort;
use formkin_report::document::Section;
use serde_json::Value;

pub use run::{JointsOutcome, SegmentShare};
pub use settings::{JointsSettings, JointsSources};

use crate::{Delivery, InStudy, Progress, Store, Target, Task, TaskError};

/// Joint centres, segment lengths, joint angles and segment masses.
#[derive(Debug, Clone, Copy)]
pub struct Joints;

impl Task for Joints {
    const NAME: &'static str = "joints";
    const ABOUT: &'static str = "Joint centres, segment lengths, joint angles and segment masses";
    const EXAMPLES: &'static str = "Examples:
  formkin joints crew.cohort --into joints
  formkin joints crew.cohort --capture C001_climb --into climb        with a point-trajectory file (TRC)";
    const TARGETS: &'static [Target] = &[Target::Folder {
        option: "into",
        about: "The folder to write joints.csv, segments.csv and joints.trc into",
        required: false,
    }];
    const NAMES: &'static [&'static str] = &["joints.csv", "segments.csv", "joints.trc", "joints.json"];
    const IN_STUDY: InStudy = InStudy::Never;

    type Sources = JointsSources;
    type Settings = JointsSettings;
    type Inputs = Arc<Cohort>;
    type Outcome = JointsOutcome;

    fn open(sources: &JointsSources, _: &JointsSettings) -> Result<Arc<Cohort>, TaskError> {
        Ok(Arc::new(Cohort::open(&sources.cohort)?))
    }

    fn run(
        settings: &JointsSettings,
        cohort: &Arc<Cohort>,
        progress: Progress<'_>,
    ) -> Result<JointsOutcome, TaskError> {
        run::run(settings, cohort, progress)
    }

    fn object(_: &JointsSettings, _: &Arc<Cohort>, outcome: &JointsOutcome) -> Result<Value, TaskError> {
        Ok(deliver::object(outcome))
    }

    fn deliver<'a>(
        _: &'a JointsSettings,
        _: &'a Arc<Cohort>,
        outcome: &'a JointsOutcome,
    ) -> Result<Delivery<'a>, TaskError> {
        Ok(deliver::files(outcome))
    }

    fn section(
        _: &JointsSettings,
        _: &Arc<Cohort>,
        outcome: &JointsOutcome,
        _: &Store,
    ) -> Result<Vec<Section>, TaskError> {
        let answer = deliver::answer(outcome);
        Ok(vec![Section { answer, ..Section::new("joints", "Joints and segments") }])
    }
}
