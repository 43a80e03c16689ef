//! The coefficients of new shapes in a space.

mod settings;

use formkin_geometry::Topology;
use formkin_report::document::table::{Table, cell, number, text};
use formkin_report::document::{Body, Section};
use formkin_report::format::{counted, fixed};
use formkin_shape::{Projection, Space};
use formkin_table::{NumberFormat::Fixed, Sheet};
use rayon::prelude::*;
use serde::{Deserialize, Serialize};
use serde_json::{Value, json};

pub use settings::{ProjectSettings, ProjectSources};

use crate::bodies::{read_shape, read_space};
use crate::{Delivery, InStudy, Progress, Store, Target, Task, TaskError};

/// The table of coefficients.
const FILE: &str = "coefficients.csv";
/// Coefficients that a page shows.
const SHOWN: usize = 6;

/// The coefficients of new shapes in a space.
#[derive(Debug, Clone, Copy)]
pub struct Project;

/// The space, with no more modes than are asked for, and the shapes.
#[derive(Debug)]
pub struct ProjectInputs {
    space: Space,
    sources: ProjectSources,
}

/// What came out.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ProjectOutcome {
    /// Every file with its place in the space.
    pub shapes: Vec<(String, Projection)>,
}

impl Task for Project {
    const NAME: &'static str = "project";
    const ABOUT: &'static str = "The coefficients of new shapes in a space";
    const EXAMPLES: &'static str = "Example:
  formkin project crew.safetensors new/*.ply --into new.csv";
    const TARGETS: &'static [Target] = &[Target::File {
        option: "into",
        value: "CSV",
        about: "The CSV table to write; it is printed where this is absent",
        required: false,
        name: FILE,
    }];
    const PRINTED: Option<&'static str> = Some(FILE);
    const IN_STUDY: InStudy = InStudy::Never;

    type Sources = ProjectSources;
    type Settings = ProjectSettings;
    type Inputs = ProjectInputs;
    type Outcome = ProjectOutcome;

    fn open(sources: &ProjectSources, settings: &ProjectSettings) -> Result<ProjectInputs, TaskError> {
        let mut space = read_space(&sources.space)?;
        let kept = space.modes.len();
        if let Some(modes) = settings.modes {
            if modes > kept {
                let reason =
                    format!("it keeps only {}, and --modes is {modes}", counted(kept, "mode", "modes"));
                return Err(TaskError::Space { reason });
            }
            space.modes.truncate(modes);
        }
        Ok(ProjectInputs { space, sources: sources.clone() })
    }

    fn run(
        _: &ProjectSettings,
        inputs: &ProjectInputs,
        progress: Progress<'_>,
    ) -> Result<ProjectOutcome, TaskError> {
        let ProjectInputs { space, sources } = inputs;
        let topology = Topology::new(space.mean.len(), space.triangles.clone())?;
        let of = sources.meshes.len();
        let done = std::sync::atomic::AtomicUsize::new(0);
        let shapes = sources
            .meshes
            .par_iter()
            .map(|path| {
                let shape = read_shape(path, &topology, sources.unit.into(), sources.up.into())?;
                let found = space
                    .project(&shape)
                    .map_err(|e| TaskError::In { path: path.clone(), source: Box::new(e.into()) })?;
                progress(done.fetch_add(1, std::sync::atomic::Ordering::Relaxed) + 1, of);
                Ok((path.display().to_string(), found))
            })
            .collect::<Result<_, TaskError>>()?;
        Ok(ProjectOutcome { shapes })
    }

    fn object(
        _: &ProjectSettings,
        inputs: &ProjectInputs,
        made: &ProjectOutcome,
    ) -> Result<Value, TaskError> {
        let space = &inputs.space;
        Ok(json!({
            "items": made.shapes.len(),
            "shapes": made.shapes.iter().map(|(file, p)| json!({
                "file": file,
                "coefficients_mm": p.coefficients,
                "residual_rms_mm": p.residual_rms_mm,
            })).collect::<Vec<_>>(),
            "modes": space.modes.len(),
            "unstable_modes": space.unstable_modes(),
            "stability_asked_modes": space.stability_asked_modes(),
        }))
    }

    fn deliver<'a>(
        _: &'a ProjectSettings,
        inputs: &'a ProjectInputs,
        made: &'a ProjectOutcome,
    ) -> Result<Delivery<'a>, TaskError> {
        let what = "Coefficients of the shapes, and what the modes leave";
        Ok(Delivery::new().sheet(FILE, what, sheet(made, inputs.space.modes.len())))
    }

    fn section(
        _: &ProjectSettings,
        inputs: &ProjectInputs,
        made: &ProjectOutcome,
        _: &Store,
    ) -> Result<Vec<Section>, TaskError> {
        let modes = inputs.space.modes.len();
        let many = format!("{} shapes, {modes} modes", made.shapes.len());
        let mut body = Body::default();
        body.table(table(made, modes));
        body.note("Residual: what the modes leave, root mean square over the skin.");
        Ok(vec![Section { answer: vec![many], body, ..Section::new("projected", "Shapes in the space") }])
    }
}

fn sheet(made: &ProjectOutcome, modes: usize) -> Sheet {
    let shapes = &made.shapes;
    let mut sheet = Sheet::new().text("file", "The mesh file", shapes.iter().map(|s| s.0.as_str())).number(
        "residual_rms",
        Some("mm"),
        "What the modes leave, root mean square over the skin",
        Fixed(4),
        shapes.iter().map(|s| s.1.residual_rms_mm),
    );
    for k in 0..modes {
        let name = format!("mode_{:03}", k + 1);
        let values = shapes.iter().map(|s| s.1.coefficients[k]);
        sheet = sheet.number(&name, Some("mm"), "Coefficient of a mode", Fixed(6), values);
    }
    sheet
}

fn table(made: &ProjectOutcome, modes: usize) -> Table {
    let shown = modes.min(SHOWN);
    let mut columns = vec![text("Shape"), number("Residual", "mm")];
    columns.extend((1..=shown).map(|k| number(format!("Mode {k}"), "mm")));
    let mut table = Table::unnamed("Shapes in the space", columns);
    for (file, found) in &made.shapes {
        let mut row = vec![cell(file.clone()).keep(), cell(fixed(found.residual_rms_mm, 2))];
        row.extend(found.coefficients.iter().take(shown).map(|c| cell(fixed(*c, 2))));
        table.row(row);
    }
    table
}
