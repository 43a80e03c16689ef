//! The body that goes with a part of a surface; a cohort with holes filled; in a study, how completions of a hidden region fare on people held out.
//!
//! | file | what it holds |
//! |---|---|
//! | `settings` | what is asked for |
//! | `run` | a part of a surface, a cohort, or hidden regions to what comes of completing them |
//! | `seen` | what is seen of a body |
//! | `part` | a part of a surface to a body |
//! | `holes` | what is missing of the items of a cohort |
//! | `fill` | a cohort with holes to one without |
//! | `deliver` | the object, the body, the cohort, the tables |
//! | `section` | what a reader is shown |

mod deliver;
mod fill;
mod holes;
mod part;
mod run;
mod section;
mod seen;
mod settings;

use std::collections::BTreeMap;
use std::path::PathBuf;

use formkin_report::document::Section;
use serde_json::Value;

pub use fill::{FillOutcome, PatternCalibration, fill_holes};
pub use holes::{FilledItem, holes_of_table};
pub use part::{CompletedBody, complete_shape};
pub use run::{CompleteInputs, CompleteOutcome};
pub use settings::{CompleteSettings, CompleteSources};

use crate::predictions::Predictions;
use crate::{Delivery, Facts, InStudy, Need, Problems, Progress, Store, Target, Task, TaskError};

/// The body that goes with a part of a surface.
#[derive(Debug, Clone, Copy)]
pub struct Complete;

impl Task for Complete {
    const NAME: &'static str = "complete";
    const ABOUT: &'static str = "The body that goes with a part of a surface";
    const EXAMPLES: &'static str = "Examples:
  formkin complete crew.safetensors scan.ply --missing hand_left --missing hand_right --into whole.ply
  formkin complete crew.safetensors scan.ply --missing-vertices holes.txt --into whole.ply --keep-seen
  formkin complete crew.safetensors --landmarks landmarks.csv --error-mm 3 --into body.ply
  formkin complete crew.safetensors --cohort crew.cohort --holes holes.csv --into whole.cohort

With --cohort, every item that --holes names and every item that was set aside for positions that are
not finite is filled; seen vertices keep their places, and filled.csv in the new cohort says what was done.

Exit code 1 where the completed body lies further out than 99 % of people.";
    const TARGETS: &'static [Target] = &[
        Target::File {
            option: "into",
            value: "FILE",
            about: "The mesh to write: .ply or .obj; with --cohort the cohort",
            required: false,
            name: deliver::BODY,
        },
        Target::File {
            option: "intervals",
            value: "CSV",
            about: "The table of 95 % intervals of vertices to write",
            required: false,
            name: deliver::INTERVALS,
        },
    ];
    const SEVERAL: bool = true;
    const IN_STUDY: InStudy = InStudy::Tried;

    type Sources = CompleteSources;
    type Settings = CompleteSettings;
    type Inputs = CompleteInputs;
    type Outcome = CompleteOutcome;

    fn check(sources: &CompleteSources, settings: &CompleteSettings, facts: &Facts, problems: &mut Problems) {
        settings.check(sources, facts, problems);
    }

    fn check_targets(
        sources: &CompleteSources,
        _: &CompleteSettings,
        targets: &BTreeMap<&'static str, PathBuf>,
        problems: &mut Problems,
    ) {
        deliver::check_targets(sources, targets.get("into").map(PathBuf::as_path), problems);
    }

    fn open(sources: &CompleteSources, settings: &CompleteSettings) -> Result<CompleteInputs, TaskError> {
        CompleteInputs::open(sources, settings)
    }

    fn needs() -> Vec<Need> {
        vec![Need::of::<crate::space::Space>(), Need::of::<Predictions>()]
    }

    fn gather(
        _: &CompleteSources,
        _: &CompleteSettings,
        store: &Store,
    ) -> Result<Option<CompleteInputs>, TaskError> {
        Ok(CompleteInputs::of(store))
    }

    fn label(settings: &CompleteSettings) -> String {
        settings.label()
    }

    fn run(
        settings: &CompleteSettings,
        inputs: &CompleteInputs,
        progress: Progress<'_>,
    ) -> Result<CompleteOutcome, TaskError> {
        run::run(settings, inputs, progress)
    }

    fn object(
        settings: &CompleteSettings,
        inputs: &CompleteInputs,
        made: &CompleteOutcome,
    ) -> Result<Value, TaskError> {
        Ok(deliver::object(settings, inputs, made))
    }

    fn deliver<'a>(
        _: &'a CompleteSettings,
        inputs: &'a CompleteInputs,
        made: &'a CompleteOutcome,
    ) -> Result<Delivery<'a>, TaskError> {
        Ok(deliver::files(inputs, made))
    }

    fn section(
        settings: &CompleteSettings,
        inputs: &CompleteInputs,
        made: &CompleteOutcome,
        others: &Store,
    ) -> Result<Vec<Section>, TaskError> {
        let runs = others.all::<Complete>();
        let all: Vec<_> = runs.iter().map(|r| (r.settings.label(), &r.outcome)).collect();
        Ok(section::sections(&settings.label(), &inputs.space, made, &all))
    }

    fn finds(made: &CompleteOutcome) -> bool {
        deliver::finds(made)
    }
}
