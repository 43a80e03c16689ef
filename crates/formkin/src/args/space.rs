//! What a person types to build a space and to project into it.

use std::path::PathBuf;

use clap::Args;

use super::{FrameArgs, ItemsArg, RemovesArg, some_modes};

#[derive(Debug, Args)]
#[command(after_help = "Examples:
  formkin space crew.cohort --into crew.safetensors --glb crew.glb
  formkin space crew.cohort --into trunk.safetensors --weights torso")]
pub(crate) struct SpaceArgs {
    /// The cohort
    pub(crate) cohort: PathBuf,
    /// The model file to write
    #[arg(long, value_name = "S.safetensors")]
    pub(crate) into: PathBuf,
    /// What alignment removes
    #[arg(long, value_enum, default_value = "rigid")]
    pub(crate) align: RemovesArg,
    /// Vertex weights: `area`, `plain`, or a region of the template
    #[arg(long, default_value = "area")]
    pub(crate) weights: String,
    /// Most modes to keep
    #[arg(long, value_name = "K", default_value_t = 60, value_parser = some_modes)]
    pub(crate) modes: usize,
    /// Folds of the cross-validation, grouped by participant
    #[arg(long, default_value_t = 10)]
    pub(crate) folds: usize,
    /// Held-out error at which there are modes enough
    #[arg(long, value_name = "MM", default_value_t = 5.0)]
    pub(crate) target_mm: f64,
    /// Leave the cross-validation out
    #[arg(long)]
    pub(crate) no_cross_validation: bool,
    /// Seed of the folds
    #[arg(long, default_value_t = 1)]
    pub(crate) seed: u64,
    /// Which items the space is built from
    #[arg(long, value_enum, default_value = "stills")]
    pub(crate) items: ItemsArg,
    /// Definitions of dimensions: they are taken, and the space can predict bodies from them
    #[arg(long, value_name = "TOML")]
    pub(crate) dimensions: Option<PathBuf>,
    /// A dimension or column from which predictions are cross-validated; may be given again
    #[arg(long = "predict-from", value_name = "NAME", requires = "dimensions")]
    pub(crate) predict_from: Vec<String>,
    /// Leave out the other criteria of how many modes, their stability, and errors of vertices
    #[arg(long)]
    pub(crate) no_criteria: bool,
    /// Also find compactness, generalisation and specificity: every person is left out in turn
    #[arg(long)]
    pub(crate) quality: bool,
    /// Also write mean and first modes as glTF
    #[arg(long, value_name = "FILE.glb")]
    pub(crate) glb: Option<PathBuf>,
    /// Also write the coefficients of the items
    #[arg(long, value_name = "FILE.parquet")]
    pub(crate) coefficients: Option<PathBuf>,
    /// Write over existing files
    #[arg(long)]
    pub(crate) force: bool,
}

#[derive(Debug, Args)]
#[command(after_help = "Example:\n  formkin project crew.safetensors new/*.ply --into new.csv")]
pub(crate) struct ProjectArgs {
    /// The space
    pub(crate) space: PathBuf,
    /// Mesh files on the triangles of the space
    #[arg(required = true)]
    pub(crate) meshes: Vec<PathBuf>,
    #[command(flatten)]
    pub(crate) frame: FrameArgs,
    /// How many modes
    #[arg(long, value_name = "K", value_parser = some_modes)]
    pub(crate) modes: Option<usize>,
    /// The CSV table to write
    #[arg(long, value_name = "CSV")]
    pub(crate) into: Option<PathBuf>,
    /// Write over an existing file
    #[arg(long)]
    pub(crate) force: bool,
}
