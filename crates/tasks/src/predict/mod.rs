//! The body that goes with given dimensions.
//!
//! | file | what it holds |
//! |---|---|
//! | `settings` | what is asked for |
//! | `run` | a space and values to a body, measured again until it has them |
//! | `section` | what a reader is shown |

mod run;
mod section;
mod settings;

use std::collections::BTreeMap;
use std::path::PathBuf;

use formkin_report::document::Section;
use formkin_shape::Space;
use serde_json::{Value, json};

pub use run::{
    DimensionOutcome, MOST_DISTANCE, MOST_ROUNDS, Method, NEAR_MM, PredictJob, PredictOutcome, millimetres,
    predict,
};
pub use settings::{PredictSettings, PredictSources};

use crate::bodies::{check_mesh_name, half_width, intervals, mesh_bytes, read_space};
use crate::{Delivery, InStudy, Problems, Progress, Store, Target, Task, TaskError};

/// The delivered body.
const BODY: &str = "body.ply";
/// The delivered table of intervals.
const INTERVALS: &str = "intervals.csv";

/// The body that goes with given dimensions.
#[derive(Debug, Clone, Copy)]
pub struct Predict;

impl Task for Predict {
    const NAME: &'static str = "predict";
    const ABOUT: &'static str = "The body that goes with given dimensions";
    const EXAMPLES: &'static str = "Examples:
  formkin predict crew.safetensors --dimension stature=1850 --dimension chest_girth=1060 --into tall.ply
  formkin predict crew.safetensors --dimension stature=1650 --level sex=female --error stature=5

Values are in the units of the space: mm for lengths. A space knows dimensions when it was built with
`formkin space --dimensions FILE`, or by a study with dimensions.
Exit code 1 where the values lie further out than 99 % of people.";
    const TARGETS: &'static [Target] = &[
        Target::File {
            option: "into",
            value: "FILE",
            about: "The mesh to write: .ply or .obj",
            required: false,
            name: BODY,
        },
        Target::File {
            option: "intervals",
            value: "CSV",
            about: "The table of 95 % intervals of vertices to write",
            required: false,
            name: INTERVALS,
        },
    ];
    const IN_STUDY: InStudy = InStudy::Never;

    type Sources = PredictSources;
    type Settings = PredictSettings;
    type Inputs = Space;
    type Outcome = PredictOutcome;

    fn check_targets(
        _: &PredictSources,
        _: &PredictSettings,
        targets: &BTreeMap<&'static str, PathBuf>,
        problems: &mut Problems,
    ) {
        if let Some(path) = targets.get("into") {
            check_mesh_name("into", path, problems);
        }
    }

    fn open(sources: &PredictSources, _: &PredictSettings) -> Result<Space, TaskError> {
        read_space(&sources.space)
    }

    fn run(settings: &PredictSettings, space: &Space, _: Progress<'_>) -> Result<PredictOutcome, TaskError> {
        predict(space, &settings.job())
    }

    fn object(settings: &PredictSettings, space: &Space, found: &PredictOutcome) -> Result<Value, TaskError> {
        Ok(json!({
            "vertices": found.positions.len(),
            "people": found.people,
            "method": found.method,
            "given": settings.job(),
            "coefficients_mm": found.coefficients_mm,
            "unstable_modes": space.unstable_modes(),
            "stability_asked_modes": space.stability_asked_modes(),
            "dimensions": found.dimensions,
            "rounds": found.rounds,
            "largest_miss_mm": found.largest_miss_mm,
            "on_target": found.on_target,
            "mahalanobis": found.mahalanobis,
            "mahalanobis_limit_99": found.limit,
            "outside_99": found.outside,
            "vertex_half_width_95_mm": half_width(&found.sd_mm, found.t_95),
            "notes": found.notes,
        }))
    }

    fn deliver<'a>(
        _: &'a PredictSettings,
        space: &'a Space,
        found: &'a PredictOutcome,
    ) -> Result<Delivery<'a>, TaskError> {
        Ok(Delivery::new()
            .named(BODY, "The predicted body", |name| mesh_bytes(name, space, &found.positions))
            .sheet(
                INTERVALS,
                "Intervals of the vertices of such people",
                intervals(&found.positions, &found.sd_mm, found.t_95),
            ))
    }

    fn section(
        _: &PredictSettings,
        _: &Space,
        found: &PredictOutcome,
        _: &Store,
    ) -> Result<Vec<Section>, TaskError> {
        Ok(vec![section::section(found)])
    }

    fn finds(found: &PredictOutcome) -> bool {
        found.outside
    }
}
