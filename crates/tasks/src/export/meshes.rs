//! The items of a cohort as mesh files.

use std::path::PathBuf;

use formkin_cohort::{Cohort, MeshWriting, obj_bytes, ply_bytes};
use formkin_report::document::Section;
use formkin_report::format::counted;
use formkin_table::FileNames;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use serde_json::{Value, json};

use super::said;
use crate::choices::Which;
use crate::{Delivery, InStudy, Progress, Store, Target, Task, TaskError};

/// The items of a cohort as mesh files.
#[derive(Debug, Clone, Copy)]
pub struct Meshes;

/// The file of the command.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct MeshesSources {
    /// The cohort
    #[schemars(extend("position" = 1, "needed" = true))]
    pub cohort: PathBuf,
}

/// What is asked for.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct MeshesSettings {
    /// The kind of file
    pub format: MeshFormat,
    /// Which items
    pub items: Which,
}

/// The kind of a mesh file.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum MeshFormat {
    /// Binary PLY
    #[default]
    Ply,
    /// Wavefront OBJ
    Obj,
}

impl Task for Meshes {
    const NAME: &'static str = "export meshes";
    const ABOUT: &'static str = "The items of a cohort as mesh files";
    const TARGETS: &'static [Target] =
        &[Target::Folder { option: "into", about: "The folder to write into", required: true }];
    const OBJECT_IN_FOLDER: bool = false;
    const IN_STUDY: InStudy = InStudy::Never;

    type Sources = MeshesSources;
    type Settings = MeshesSettings;
    type Inputs = Cohort;
    /// The items, as indices into the accepted ones of the cohort.
    type Outcome = Vec<usize>;

    fn open(sources: &MeshesSources, _: &MeshesSettings) -> Result<Cohort, TaskError> {
        Ok(Cohort::open(&sources.cohort)?)
    }

    fn run(settings: &MeshesSettings, cohort: &Cohort, _: Progress<'_>) -> Result<Vec<usize>, TaskError> {
        settings.items.of(cohort)
    }

    fn object(_: &MeshesSettings, _: &Cohort, items: &Vec<usize>) -> Result<Value, TaskError> {
        Ok(json!({ "items": items.len() }))
    }

    fn deliver<'a>(
        settings: &'a MeshesSettings,
        cohort: &'a Cohort,
        items: &'a Vec<usize>,
    ) -> Result<Delivery<'a>, TaskError> {
        let ending = match settings.format {
            MeshFormat::Ply => "ply",
            MeshFormat::Obj => "obj",
        };
        let topology = cohort.template().mesh.topology();
        let mut names = FileNames::default();
        Ok(items.iter().fold(Delivery::new(), |delivery, &i| {
            let item = &cohort.items()[i].item;
            let name = format!("{}.{ending}", names.of(item));
            delivery.made(name, format!("The body of {item}, mm, z up"), move || {
                let shape = cohort.source().read_shape(i)?;
                let writing = MeshWriting::default();
                Ok(match settings.format {
                    MeshFormat::Ply => ply_bytes(topology, &shape, &writing)?,
                    MeshFormat::Obj => obj_bytes(topology, &shape, &writing)?,
                })
            })
        }))
    }

    fn section(
        _: &MeshesSettings,
        _: &Cohort,
        items: &Vec<usize>,
        _: &Store,
    ) -> Result<Vec<Section>, TaskError> {
        Ok(said("meshes", "Bodies as mesh files", counted(items.len(), "mesh", "meshes")))
    }
}
