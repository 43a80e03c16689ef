//! What a movement does to points: signals, cycles, displacement in a body frame. What is done with dimensions of meshes is done with points.
//!
//! | file | what it holds |
//! |---|---|
//! | `settings` | what is asked for |
//! | `check` | what is wrong before anything runs |
//! | `read` | files of trajectories as they are read |
//! | `record` | one record: signals, cycles, displacement in a body frame |
//! | `run` | all records, and what they say together |
//! | `deliver` | the figures for programs and the tables |
//! | `section`, `picture` | what a reader is shown |

mod check;
mod deliver;
mod picture;
mod read;
mod record;
mod run;
mod section;
mod settings;

use std::path::PathBuf;

use formkin_report::document::Section;
use serde_json::Value;

pub use read::{PointFile, PointsInputs, read_points};
pub use record::PointsRecord;
pub use run::PointsOutcome;
pub use settings::{PointsSettings, PointsSources, Up};

use crate::{Delivery, Facts, InStudy, Problems, Progress, Store, Target, Task, TaskError};

/// What a movement does to points.
#[derive(Debug, Clone, Copy)]
pub struct Points;

impl Task for Points {
    const NAME: &'static str = "points";
    const ABOUT: &'static str = "What a movement does to points";
    const EXAMPLES: &'static str = "Examples:
  formkin points walk.trc --cycles heel_left_z --into walk
  formkin points A01_bare.trc A02_bare.trc --against A01_suit.trc --against A02_suit.trc \\
      --frame sternum --frame clavicle_left --frame clavicle_right --follow-point soft_left --events events.csv --into compared";
    const TARGETS: &'static [Target] = &[Target::Folder {
        option: "into",
        about: "The folder to write signals, cycles, components and trajectories into",
        required: false,
    }];
    const NAMES: &'static [&'static str] = &["changes.csv"];
    const IN_STUDY: InStudy = InStudy::Asked;

    type Sources = PointsSources;
    type Settings = PointsSettings;
    type Inputs = PointsInputs;
    type Outcome = PointsOutcome;

    fn check(sources: &PointsSources, settings: &PointsSettings, _: &Facts, problems: &mut Problems) {
        check::check(sources, settings, problems);
    }

    fn open(sources: &PointsSources, _: &PointsSettings) -> Result<PointsInputs, TaskError> {
        PointsInputs::open(sources)
    }

    fn gather(
        sources: &PointsSources,
        _: &PointsSettings,
        _: &Store,
    ) -> Result<Option<PointsInputs>, TaskError> {
        PointsInputs::open(sources).map(Some)
    }

    fn folder(_: &PointsSettings) -> PathBuf {
        PathBuf::from("points")
    }

    fn run(
        settings: &PointsSettings,
        inputs: &PointsInputs,
        progress: Progress<'_>,
    ) -> Result<PointsOutcome, TaskError> {
        run::run(settings, inputs, progress)
    }

    fn object(_: &PointsSettings, _: &PointsInputs, outcome: &PointsOutcome) -> Result<Value, TaskError> {
        Ok(deliver::object(outcome))
    }

    fn deliver<'a>(
        _: &'a PointsSettings,
        _: &'a PointsInputs,
        outcome: &'a PointsOutcome,
    ) -> Result<Delivery<'a>, TaskError> {
        Ok(deliver::files(outcome))
    }

    fn section(
        _: &PointsSettings,
        _: &PointsInputs,
        outcome: &PointsOutcome,
        _: &Store,
    ) -> Result<Vec<Section>, TaskError> {
        Ok(vec![section::section(outcome)])
    }

    fn cautions(_: &PointsInputs, _: &PointsOutcome) -> Vec<String> {
        vec![
            "A movement is that of one person: its frames and cycles say nothing about how other people move."
                .to_owned(),
        ]
    }
}
