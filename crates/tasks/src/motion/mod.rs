//! What a movement does to a body.
//!
//! | file | what it holds |
//! |---|---|
//! | `settings` | what is asked for |
//! | `check` | what is wrong before anything runs |
//! | `run` | a capture to modes and curves, and a comparison with another capture |
//! | `deep`, `posture` | cycles, soft tissue, strain, dynamic modes, poses |
//! | `object`, `deliver` | the figures for programs, the tables and bodies |
//! | `section` | what a reader is shown |

mod check;
mod deep;
mod deliver;
mod object;
mod posture;
mod run;
mod section;
mod settings;
mod taken;

use std::collections::BTreeMap;
use std::path::PathBuf;

use formkin_report::document::Section;
use formkin_table::file_name;
use serde_json::Value;

pub use deep::Deep;
pub use posture::PostureOutcome;
pub use run::{MotionInputs, MotionOutcome, find_capture, no_movement, times, without};
pub(crate) use section::{errors_plot, line};
pub use settings::{
    DynamicSettings, MotionSettings, MotionSources, PostureSettings, StrainSettings, TissueSettings, Weights,
};

use crate::measure::Measure;
use crate::reading::read_dimensions;
use crate::{Delivery, Facts, InStudy, Need, Problems, Progress, Store, Target, Task, TaskError};

/// What a movement does to a body.
#[derive(Debug, Clone, Copy)]
pub struct Motion;

impl Task for Motion {
    const NAME: &'static str = "motion";
    const ABOUT: &'static str = "What a movement does to a body";
    const EXAMPLES: &'static str = "Examples:
  formkin motion walk.cohort --capture Walk_Loop --into walk --dimensions dimensions.toml --follow chest_girth
  formkin motion crew.cohort --capture C003_suit --against C003_bare --frame trunk_frame --tissue chest_soft_left";
    const TARGETS: &'static [Target] = &[Target::Folder {
        option: "into",
        about: "The folder to write curves, coefficients and animations into",
        required: false,
    }];
    const NAMES: &'static [&'static str] = &["course.csv", "motion.json"];
    const OBJECT: Option<&'static str> = Some("motion.json");
    const IN_STUDY: InStudy = InStudy::Always;
    const SEVERAL: bool = true;

    type Sources = MotionSources;
    type Settings = MotionSettings;
    type Inputs = MotionInputs;
    type Outcome = MotionOutcome;

    fn foretell(sources: &MotionSources, settings: &MotionSettings, facts: &mut Facts) {
        facts.followed.extend(settings.follow.iter().cloned());
        // all dimensions of a file of its own are followed where none is named
        let own = sources.dimensions.as_ref().filter(|_| settings.follow.is_empty());
        let all = own.and_then(|path| read_dimensions(path).ok()).map(|d| d.definitions).unwrap_or_default();
        facts.followed.extend(all.into_iter().map(|d| d.name));
    }

    fn check(sources: &MotionSources, settings: &MotionSettings, facts: &Facts, problems: &mut Problems) {
        check::check(sources, settings, facts, problems);
    }

    fn check_targets(
        _: &MotionSources,
        settings: &MotionSettings,
        targets: &BTreeMap<&'static str, PathBuf>,
        problems: &mut Problems,
    ) {
        if settings.posture.as_ref().is_some_and(|p| p.unposed) && !targets.contains_key("into") {
            problems.wrong("posture_unposed", "there is no folder to write the frames into", "add --into");
        }
    }

    fn open(sources: &MotionSources, _: &MotionSettings) -> Result<MotionInputs, TaskError> {
        MotionInputs::open(sources)
    }

    fn needs() -> Vec<Need> {
        vec![Need::of::<Measure>()]
    }

    /// A run a capture. What has no movement is left out, unless it is named.
    fn runs(settings: MotionSettings, store: &Store) -> Vec<MotionSettings> {
        let ids = match (&settings.captures, store.cohort()) {
            (Some(named), _) => named.clone(),
            (None, Some(cohort)) => {
                cohort.captures().into_iter().filter(|c| no_movement(c).is_none()).map(|c| c.id).collect()
            }
            (None, None) => Vec::new(),
        };
        ids.into_iter().map(|id| MotionSettings { captures: Some(vec![id]), ..settings.clone() }).collect()
    }

    fn gather(
        sources: &MotionSources,
        settings: &MotionSettings,
        store: &Store,
    ) -> Result<Option<MotionInputs>, TaskError> {
        let Some(cohort) = store.cohort() else { return Ok(None) };
        let capture = find_capture(&cohort, Some(&Self::label(settings)))?;
        let measured = store.get::<Measure>().filter(|_| !settings.follow.is_empty());
        let dimensions = measured.and_then(|m| m.inputs.dimensions.clone());
        let inputs = MotionInputs { cohort, capture, against: None, dimensions, events: None };
        Ok(Some(inputs.with_files(sources)?))
    }

    fn label(settings: &MotionSettings) -> String {
        settings.captures.iter().flatten().next().cloned().unwrap_or_default()
    }

    fn folder(settings: &MotionSettings) -> PathBuf {
        PathBuf::from("motion").join(file_name(&Self::label(settings)))
    }

    fn run(
        settings: &MotionSettings,
        inputs: &MotionInputs,
        progress: Progress<'_>,
    ) -> Result<MotionOutcome, TaskError> {
        run::run(settings, inputs, progress)
    }

    fn object(
        _: &MotionSettings,
        inputs: &MotionInputs,
        outcome: &MotionOutcome,
    ) -> Result<Value, TaskError> {
        Ok(object::object(inputs.topology(), outcome))
    }

    fn deliver<'a>(
        _: &'a MotionSettings,
        inputs: &'a MotionInputs,
        outcome: &'a MotionOutcome,
    ) -> Result<Delivery<'a>, TaskError> {
        Ok(deliver::files(inputs.topology(), outcome))
    }

    fn section(
        settings: &MotionSettings,
        inputs: &MotionInputs,
        outcome: &MotionOutcome,
        others: &Store,
    ) -> Result<Vec<Section>, TaskError> {
        let runs = others.all::<Self>();
        let index = runs.iter().position(|r| r.settings == *settings).unwrap_or(0);
        Ok(vec![section::section(index, inputs.topology(), outcome)])
    }

    fn mentions(settings: &MotionSettings, _: &MotionOutcome) -> Vec<String> {
        settings.follow.clone()
    }

    fn cautions(_: &MotionInputs, _: &MotionOutcome) -> Vec<String> {
        vec![
            "A movement is that of one person: its frames say nothing about how other people move."
                .to_owned(),
        ]
    }
}
