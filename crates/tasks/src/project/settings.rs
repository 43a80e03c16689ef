//! What is asked for.

use std::path::PathBuf;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::import::{FileUnit, FileUp};

/// The files of the command, and how they are read.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct ProjectSources {
    /// The space
    #[schemars(extend("position" = 1, "needed" = true))]
    pub space: PathBuf,
    /// Mesh files on the triangles of the space
    #[schemars(extend("position" = 2, "needed" = true))]
    pub meshes: Vec<PathBuf>,
    /// Unit of the files
    pub unit: FileUnit,
    /// Height axis of the files
    pub up: FileUp,
}

/// What is asked for.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct ProjectSettings {
    /// How many modes; all where absent
    #[schemars(range(min = 1), extend("value" = "K"))]
    pub modes: Option<usize>,
}
