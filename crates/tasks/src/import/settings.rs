//! What an import is asked for.

use std::path::{Path, PathBuf};

use formkin_cohort::{ImportParams, Sequences, Unit, Up};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// The files of an import.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ImportSources {
    /// Mesh files (OBJ, PLY, NPY), folders, or patterns such as `scans/**/*.ply`, in quotes on a command line
    #[schemars(extend("position" = 1, "value" = "FILES", "study" = true))]
    pub meshes: Vec<String>,
    /// A CSV table of people; extra columns become groups
    #[serde(default)]
    #[schemars(extend("value" = "CSV", "study" = true))]
    pub participants: Option<PathBuf>,
    /// template.toml or a mesh that sets the triangles; the first file where absent
    #[serde(default)]
    #[schemars(extend("value" = "FILE", "study" = true))]
    pub template: Option<PathBuf>,
    /// A CSV table of the frames' times: time_s, and capture where there are several
    #[serde(default)]
    #[schemars(extend("value" = "CSV", "study" = true))]
    pub times: Option<PathBuf>,
}

/// The unit of the positions in files.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum FileUnit {
    /// Found from the bodies' height
    #[default]
    Auto,
    /// Millimetres
    Mm,
    /// Centimetres
    Cm,
    /// Metres
    M,
}

/// The height axis of the positions in files.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum FileUp {
    /// Found from the bodies' longest axis
    #[default]
    Auto,
    /// x
    X,
    /// y
    Y,
    /// z
    Z,
}

/// Which files are frames of a sequence.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum FileSequences {
    /// Names with a running number are frames of one capture
    #[default]
    Auto,
    /// Every file with a number is a frame
    Always,
    /// Every file is a still pose
    Never,
}

/// How files are read.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct ImportSettings {
    /// Unit of the files
    pub unit: FileUnit,
    /// Height axis of the files
    pub up: FileUp,
    /// Frames a second of sequences without a times file
    #[schemars(extend("unit" = "Hz", "value" = "HZ", "exclusiveMinimum" = 0))]
    pub fps: Option<f64>,
    /// Which files are frames of a sequence
    pub sequences: FileSequences,
}

impl From<FileUnit> for Unit {
    fn from(unit: FileUnit) -> Self {
        match unit {
            FileUnit::Auto => Self::Auto,
            FileUnit::Mm => Self::Mm,
            FileUnit::Cm => Self::Cm,
            FileUnit::M => Self::M,
        }
    }
}

impl From<FileUp> for Up {
    fn from(up: FileUp) -> Self {
        match up {
            FileUp::Auto => Self::Auto,
            FileUp::X => Self::X,
            FileUp::Y => Self::Y,
            FileUp::Z => Self::Z,
        }
    }
}

impl From<FileSequences> for Sequences {
    fn from(sequences: FileSequences) -> Self {
        match sequences {
            FileSequences::Auto => Self::Auto,
            FileSequences::Always => Self::Always,
            FileSequences::Never => Self::Never,
        }
    }
}

impl ImportSettings {
    /// The parameters of an import; relative paths start from `folder`.
    #[must_use]
    pub fn params(&self, sources: &ImportSources, folder: &Path) -> ImportParams {
        let at = |path: &Option<PathBuf>| path.as_ref().map(|p| folder.join(p));
        ImportParams {
            unit: self.unit.into(),
            up: self.up.into(),
            fps: self.fps,
            times: at(&sources.times),
            template: at(&sources.template),
            participants: at(&sources.participants),
            sequences: self.sequences.into(),
            ..ImportParams::default()
        }
    }
}

impl ImportSources {
    /// The patterns, relative ones starting from `folder`.
    #[must_use]
    pub fn patterns(&self, folder: &Path) -> Vec<String> {
        self.meshes.iter().map(|m| folder.join(m).display().to_string()).collect()
    }
}
