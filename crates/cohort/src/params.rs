//! What an import is told, and what it tells.

use std::path::PathBuf;

use serde::{Deserialize, Serialize};

use crate::finding::Finding;

/// The unit of the files.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Unit {
    /// Told from the height of the bodies: 0.4 to 2.3 m in exactly one unit.
    #[default]
    Auto,
    /// Millimetres.
    Mm,
    /// Centimetres.
    Cm,
    /// Metres.
    M,
}

impl Unit {
    /// Millimetres in one of it; `None` for [`Unit::Auto`].
    #[must_use]
    pub fn millimetres(self) -> Option<f64> {
        match self {
            Self::Auto => None,
            Self::Mm => Some(1.0),
            Self::Cm => Some(10.0),
            Self::M => Some(1000.0),
        }
    }

    /// "auto", "mm", "cm" or "m".
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Auto => "auto",
            Self::Mm => "mm",
            Self::Cm => "cm",
            Self::M => "m",
        }
    }
}

/// The axis of the files that points up.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Up {
    /// Told from the bodies: see [`crate::frame`].
    #[default]
    Auto,
    /// x points up.
    X,
    /// y points up.
    Y,
    /// z points up.
    Z,
}

impl Up {
    /// "auto", "x", "y" or "z".
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Auto => "auto",
            Self::X => "x",
            Self::Y => "y",
            Self::Z => "z",
        }
    }
}

/// When files with running numbers are the frames of a sequence.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Sequences {
    /// Where the names and the surfaces say so: see [`crate::naming`].
    #[default]
    Auto,
    /// Two or more files that differ only in a number at the end are a sequence.
    Always,
    /// Every mesh file is a still pose. NPY files stay sequences.
    Never,
}

/// What an import is told.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct ImportParams {
    /// The unit of the files.
    pub unit: Unit,
    /// The axis of the files that points up.
    pub up: Up,
    /// Frames a second of sequences without a file of times.
    pub fps: Option<f64>,
    /// A CSV file with the times of the frames, in a column `time_s`, and with a column `capture` where there are several
    /// sequences. Without it, `<sequence>.times.csv` beside the frames is used where it exists.
    pub times: Option<PathBuf>,
    /// A `template.toml` or a mesh file whose triangles every file must have. Without it the first file decides.
    pub template: Option<PathBuf>,
    /// The table of participants, CSV.
    pub participants: Option<PathBuf>,
    /// When numbered files are sequences.
    pub sequences: Sequences,
    /// Go on with an import that was interrupted.
    pub resume: bool,
    /// Replace a cohort that exists.
    pub force: bool,
}

/// An item that was set aside.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Quarantined {
    /// The item.
    pub item: String,
    /// The file it came from.
    pub source: String,
    /// Why, in words for a person.
    pub reason: String,
}

/// What an import tells.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ImportReport {
    /// The cohort that was written.
    pub path: PathBuf,
    /// What the cohort is.
    pub info: CohortInfo,
    /// Items set aside, each with its reason.
    pub quarantined: Vec<Quarantined>,
    /// Whether the first file set the topology because no template was given.
    pub template_from_first_file: bool,
    /// Files taken over from an interrupted import.
    pub resumed_files: usize,
}

/// What a cohort is: the content of `cohort.json`.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct CohortInfo {
    /// Version of the cohort format; this program writes and reads 1.
    pub format_version: u32,
    /// SHA-256 of the triangles, see [`formkin_geometry::Topology::hash`].
    pub template_hash: String,
    /// Vertices of every item.
    pub vertices: usize,
    /// Triangles of every item.
    pub triangles: usize,
    /// Participants among the accepted items.
    pub people: usize,
    /// Accepted items: still poses and frames.
    pub items: usize,
    /// Accepted still poses.
    pub stills: usize,
    /// Sequences with at least one accepted frame.
    pub sequences: usize,
    /// Accepted frames of sequences.
    pub frames: usize,
    /// Items set aside.
    pub quarantined: usize,
    /// The unit that the files were read in. Positions are stored in mm.
    pub source_unit: Unit,
    /// How it is known.
    pub source_unit_reason: String,
    /// The axis of the files that points up. Positions are stored with z up.
    pub source_up: Up,
    /// How it is known.
    pub source_up_reason: String,
    /// What was noticed while importing.
    pub findings: Vec<Finding>,
}
