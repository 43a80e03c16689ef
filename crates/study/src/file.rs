//! The study file: what a user writes. It is checked in [`preflight`](crate::preflight).

use std::path::PathBuf;

use formkin_motion::dmd::DynamicParams;
use formkin_motion::shared::SharedParams;
use serde::{Deserialize, Serialize};

use crate::job::conditions::Pair;
use crate::job::deep::{DeepSettings, PostureSettings, StrainSettings, TissueSettings};
use crate::job::describe::DescribeJob;
use crate::job::points::PointSettings;
use crate::job::questions::ShapeSection;
use crate::job::signals::{Cutoff, CycleSettings};

/// A whole study as its file says it; every default is a value here and is echoed in the outputs.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct StudyFile {
    /// What the report is headed with.
    pub title: String,
    /// A sentence or two for the report.
    #[serde(default)]
    pub description: String,
    /// Where the data are.
    pub input: Input,
    /// How bodies are brought into a common frame.
    #[serde(default)]
    pub align: Align,
    /// How the shape space is built.
    #[serde(default)]
    pub space: SpaceSection,
    /// Which body dimensions are taken; none where absent.
    pub dimensions: Option<DimensionsSection>,
    /// From what predictions are cross-validated; not at all where absent.
    pub predict: Option<DescribeJob>,
    /// What is asked of the shape space beyond its modes.
    #[serde(default)]
    pub shape: ShapeSection,
    /// What is done with sequences.
    #[serde(default)]
    pub motion: MotionSection,
    /// What is done with trajectories of points; nothing where absent.
    pub points: Option<PointsSection>,
    /// The size system; none where absent.
    pub sizing: Option<SizingSection>,
    /// What is handed over.
    #[serde(default)]
    pub export: ExportSection,
}

/// Where the data are. Paths are relative to the study file.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Input {
    /// Files, folders or patterns such as `scans/**/*.ply`.
    pub meshes: Vec<String>,
    /// The table of people.
    pub participants: Option<PathBuf>,
    /// `template.toml`, or a mesh.
    pub template: Option<PathBuf>,
    /// `auto`, `mm`, `cm` or `m`.
    #[serde(default = "auto")]
    pub unit: String,
    /// `auto`, `x`, `y` or `z`.
    #[serde(default = "auto")]
    pub up: String,
    /// Frames a second where no times file says it.
    pub fps: Option<f64>,
}

/// How bodies are brought into a common frame.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Align {
    /// `rigid`, `similarity` or `standing`.
    pub removes: String,
    /// `area`, `plain`, or the name of a region of the template.
    pub weights: String,
}

impl Default for Align {
    fn default() -> Self {
        Self { removes: "rigid".into(), weights: "area".into() }
    }
}

/// How the shape space is built.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct SpaceSection {
    /// Most modes to keep; all where absent.
    pub modes: Option<usize>,
    /// Folds of the cross-validation, grouped by participant.
    pub folds: usize,
    /// The held-out error, in mm, at which there are modes enough.
    pub target_mm: f64,
    /// Whether to cross-validate.
    pub cross_validate: bool,
    /// Seed of everything random.
    pub seed: u64,
    /// `stills` (still poses; all items where there are none) or `all`.
    pub items: String,
    /// Whether modes are counted by other criteria too, their stability found, and errors of vertices held out.
    pub criteria: bool,
    /// Nulls of the parallel analysis, 200 or more.
    pub nulls: usize,
    /// Draws of the bootstrap of the modes; 0 leaves it out.
    pub draws: usize,
    /// Whether compactness, generalisation and specificity are found; every person is left out in turn, which takes time.
    pub quality: bool,
    /// Whether the quality is found between surfaces too, which takes most of its time.
    pub surfaces: bool,
}

impl Default for SpaceSection {
    fn default() -> Self {
        Self {
            modes: Some(60),
            folds: 10,
            target_mm: 5.0,
            cross_validate: true,
            seed: 1,
            items: "stills".into(),
            criteria: true,
            nulls: 200,
            draws: 200,
            quality: false,
            surfaces: true,
        }
    }
}

/// Which body dimensions are taken.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct DimensionsSection {
    /// The file of definitions.
    pub definitions: PathBuf,
    /// The column of the table of people by which they are summarised.
    pub by: Option<String>,
}

/// What is done with sequences.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct MotionSection {
    /// Which captures; all where absent.
    pub captures: Option<Vec<String>>,
    /// `rigid`, `similarity` or `standing`.
    pub removes: String,
    /// A region whose movement is taken out, in place of the whole body's.
    pub region: Option<String>,
    /// Most modes to keep.
    pub modes: usize,
    /// Dimensions to follow through time; needs `[dimensions]`.
    pub dimensions: Vec<String>,
    /// The frame, from 0, that changes are counted from.
    pub reference_frame: usize,
    /// In which signal cycles are found, or the events as given; none are looked for where absent.
    pub cycles: Option<CycleSettings>,
    /// The cutoff of the filter of dimensions: in Hz, or `residual`.
    pub cutoff: Option<Cutoff>,
    /// Whether the paths of all landmarks are written.
    pub landmarks: bool,
    /// Which soft tissue is followed, against which frame of the body.
    pub tissue: Option<TissueSettings>,
    /// A map of the skin's strain.
    pub strain: Option<StrainSettings>,
    /// Dynamic modes.
    pub dynamics: Option<DynamicParams>,
    /// Pose estimation.
    pub posture: Option<PostureSettings>,
    /// One motion space over all captures.
    pub shared: Option<SharedParams>,
    /// Captures of one person without and with a garment.
    pub compare: Vec<Pair>,
}

impl Default for MotionSection {
    fn default() -> Self {
        Self {
            captures: None,
            removes: "rigid".into(),
            region: None,
            modes: 8,
            dimensions: Vec::new(),
            reference_frame: 0,
            cycles: None,
            cutoff: None,
            landmarks: false,
            tissue: None,
            strain: None,
            dynamics: None,
            posture: None,
            shared: None,
            compare: Vec::new(),
        }
    }
}

impl MotionSection {
    /// What is asked for beyond modes and curves.
    #[must_use]
    pub fn deep(&self) -> DeepSettings {
        DeepSettings {
            cycles: self.cycles.clone(),
            cutoff: self.cutoff,
            landmarks: self.landmarks,
            tissue: self.tissue.clone(),
            strain: self.strain.clone(),
            dynamics: self.dynamics,
            posture: self.posture.clone(),
        }
    }
}

/// What is done with trajectories of points.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PointsSection {
    /// Files of trajectories: TRC or CSV. The person is the file's name up to the first `_`.
    pub files: Vec<PathBuf>,
    /// What is done with each.
    #[serde(default)]
    pub settings: PointSettings,
    /// Files of one person without and with a garment, by their names without the ending.
    #[serde(default)]
    pub compare: Vec<Pair>,
}

/// The size system.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct SizingSection {
    /// The plan file; none where a chart is only tried.
    pub plan: Option<PathBuf>,
    /// A table of people and dimensions in place of the measured one.
    pub table: Option<PathBuf>,
    /// A size chart that exists: tried on the people, beside the plan's sizes or in their place.
    pub chart: Option<PathBuf>,
    /// How much dimensions change in movement: a table, or `movements` for those of this study.
    pub allowances: Option<PathBuf>,
    /// A table of new people who are given sizes.
    pub assign: Option<PathBuf>,
}

impl SizingSection {
    /// What `allowances` says where the study's own movements are meant.
    pub const MOVEMENTS: &'static str = "movements";
}

/// What is handed over.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct ExportSection {
    /// The folder of the results, relative to the study file.
    pub folder: PathBuf,
    /// How many modes `space.glb` carries as morph targets.
    pub glb_modes: usize,
}

impl Default for ExportSection {
    fn default() -> Self {
        Self { folder: PathBuf::from("."), glb_modes: 5 }
    }
}

fn auto() -> String {
    "auto".into()
}
