//! Bodies aligned, and their shape space: mean, modes, variances, and how many modes are enough.
//!
//! | file | what it holds |
//! |---|---|
//! | `settings` | what is asked for |
//! | `run` | a cohort to a space |
//! | `moments` | what predictions of bodies from dimensions need, and their errors |
//! | `moments_section` | what a reader is shown of them |
//! | `covariance` | the covariance beyond the modes |
//! | `words` | what is in a space, for programs and for a terminal |
//! | `deliver` | the space, its first modes as a body, coefficients |
//! | `section` | the body on its sliders, variances and errors |
//! | `criteria` | how many modes by every criterion, and which are stable |
//! | `quality` | compactness, generalisation, specificity, covariance |
//!
//! In a study, tasks that predict bodies from dimensions take their space from [`described_space`](crate::predictions::described_space) and
//! need [`Predictions`](crate::predictions::Predictions); all others take `store.get::<Space>()`.

mod covariance;
mod criteria;
mod deliver;
mod moments;
mod moments_section;
mod quality;
mod run;
mod section;
mod settings;
mod words;

use formkin_report::document::Section;
use serde_json::Value;

pub use covariance::Shrunk;
pub(crate) use deliver::{SPACE_FILE, SPACE_WHAT};
pub use deliver::{coefficients_parquet, space_glb};
pub use moments::{Described, Foundation, describe, known, levels, positions};
pub(crate) use moments_section::section as moments_section;
pub use run::{SpaceInputs, SpaceOutcome, fit};
pub use settings::{SpaceSettings, SpaceSources};
pub use words::{described, facts, lines};

use crate::{Delivery, Facts, InStudy, Problems, Progress, Store, Target, Task, TaskError};

/// Bodies aligned, and their shape space.
#[derive(Debug, Clone, Copy)]
pub struct Space;

impl Task for Space {
    const NAME: &'static str = "space";
    const ABOUT: &'static str = "Align the bodies of a cohort and build their shape space";
    const EXAMPLES: &'static str = "Examples:
  formkin space crew.cohort --into crew.safetensors --glb crew.glb
  formkin space crew.cohort --into trunk.safetensors --weights torso
  formkin space crew.cohort --into crew.safetensors --dimensions dimensions.toml --predict-from stature";
    const TARGETS: &'static [Target] = &[
        Target::File {
            option: "into",
            value: "S.safetensors",
            about: "The model file to write",
            required: true,
            name: SPACE_FILE,
        },
        Target::File {
            option: "glb",
            value: "FILE.glb",
            about: "Also write mean and first modes as glTF",
            required: false,
            name: "space.glb",
        },
        Target::File {
            option: "coefficients",
            value: "FILE.parquet",
            about: "Also write the coefficients of the items",
            required: false,
            name: "coefficients.parquet",
        },
    ];
    const IN_STUDY: InStudy = InStudy::Always;

    type Sources = SpaceSources;
    type Settings = SpaceSettings;
    type Inputs = SpaceInputs;
    type Outcome = SpaceOutcome;

    fn check(sources: &SpaceSources, settings: &SpaceSettings, facts: &Facts, problems: &mut Problems) {
        sources.check(problems);
        settings.check(facts, problems);
    }

    fn open(sources: &SpaceSources, _: &SpaceSettings) -> Result<SpaceInputs, TaskError> {
        SpaceInputs::open(sources)
    }

    fn gather(
        _: &SpaceSources,
        settings: &SpaceSettings,
        store: &Store,
    ) -> Result<Option<SpaceInputs>, TaskError> {
        let Some(cohort) = store.cohort() else { return Ok(None) };
        // one shape does not vary
        let several = settings.items.of(&cohort)?.len() > 1;
        Ok(several.then(|| SpaceInputs::of(cohort)))
    }

    fn run(
        settings: &SpaceSettings,
        inputs: &SpaceInputs,
        progress: Progress<'_>,
    ) -> Result<SpaceOutcome, TaskError> {
        run::run(settings, inputs, progress)
    }

    fn object(_: &SpaceSettings, inputs: &SpaceInputs, outcome: &SpaceOutcome) -> Result<Value, TaskError> {
        Ok(deliver::object(inputs, outcome))
    }

    fn deliver<'a>(
        settings: &'a SpaceSettings,
        inputs: &'a SpaceInputs,
        outcome: &'a SpaceOutcome,
    ) -> Result<Delivery<'a>, TaskError> {
        deliver::files(settings, inputs, outcome)
    }

    fn section(
        _: &SpaceSettings,
        inputs: &SpaceInputs,
        outcome: &SpaceOutcome,
        _: &Store,
    ) -> Result<Vec<Section>, TaskError> {
        Ok(section::sections(inputs, outcome))
    }

    fn cautions(_: &SpaceInputs, outcome: &SpaceOutcome) -> Vec<String> {
        outcome.notes.clone()
    }
}
