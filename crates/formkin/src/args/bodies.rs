//! What a person types for bodies that are predicted and completed.

use std::path::PathBuf;

use clap::Args;

use super::{FrameArgs, some_modes};

#[derive(Debug, Args)]
#[command(after_help = "Examples:
  formkin predict crew.safetensors --dimension stature=1850 --dimension chest_girth=1060 --into tall.ply
  formkin predict crew.safetensors --dimension stature=1650 --level sex=female --error stature=5

Values are in the units of the space: mm for lengths. A space knows dimensions when it was built with
`formkin space --dimensions FILE`, or by a study with [dimensions].
Exit code 1 where the values lie further out than 99 % of people.")]
pub(crate) struct PredictArgs {
    /// The space
    pub(crate) space: PathBuf,
    /// A dimension or another number of a person, in the unit of the space; may be given again
    #[arg(long = "dimension", value_name = "NAME=VALUE")]
    pub(crate) dimensions: Vec<String>,
    /// A level of a column of words; may be given again
    #[arg(long = "level", value_name = "COLUMN=LEVEL")]
    pub(crate) levels: Vec<String>,
    /// Technical error of measurement of a given value, as an SD; exact where absent
    #[arg(long = "error", value_name = "NAME=SD")]
    pub(crate) errors: Vec<String>,
    /// Partial least squares with so many components, in place of the conditional normal distribution
    #[arg(long, value_name = "COMPONENTS")]
    pub(crate) pls: Option<usize>,
    /// The mesh to write: .ply or .obj
    #[arg(long, value_name = "FILE")]
    pub(crate) into: Option<PathBuf>,
    /// The table of 95 % intervals of vertices to write
    #[arg(long, value_name = "CSV")]
    pub(crate) intervals: Option<PathBuf>,
    /// Write over existing files
    #[arg(long)]
    pub(crate) force: bool,
}

#[derive(Debug, Args)]
#[command(after_help = "Examples:
  formkin complete crew.safetensors scan.ply --missing hand_left --missing hand_right --into whole.ply
  formkin complete crew.safetensors scan.ply --missing-vertices holes.txt --into whole.ply --keep-seen
  formkin complete crew.safetensors --landmarks landmarks.csv --error-mm 3 --into body.ply
  formkin complete crew.safetensors --cohort crew.cohort --holes holes.csv --into whole.cohort

With --cohort, every item that --holes names and every item that was set aside for positions that are
not finite is filled; seen vertices keep their places, and filled.csv in the new cohort says what was done.

Exit code 1 where the completed body lies further out than 99 % of people.")]
pub(crate) struct CompleteArgs {
    /// The space
    pub(crate) space: PathBuf,
    /// A mesh on the triangles of the space, of which a part is wrong or missing
    pub(crate) mesh: Option<PathBuf>,
    /// A region whose vertices are not to be trusted; may be given again
    #[arg(long, value_name = "REGION", conflicts_with = "only")]
    pub(crate) missing: Vec<String>,
    /// A file of numbers of vertices, from 0, that are not to be trusted
    #[arg(long, value_name = "FILE", conflicts_with = "only")]
    pub(crate) missing_vertices: Option<PathBuf>,
    /// A region whose vertices alone are to be trusted; may be given again
    #[arg(long, value_name = "REGION")]
    pub(crate) only: Vec<String>,
    /// A CSV table of landmarks in place of a mesh: name or number of the vertex, x_mm, y_mm, z_mm
    #[arg(long, value_name = "CSV", conflicts_with_all = ["mesh", "missing", "missing_vertices", "only"])]
    pub(crate) landmarks: Option<PathBuf>,
    /// A cohort whose holes are to be filled, in place of a mesh
    #[arg(long, value_name = "C.cohort", conflicts_with_all = ["mesh", "missing", "missing_vertices", "only", "landmarks"])]
    pub(crate) cohort: Option<PathBuf>,
    /// With --cohort: a CSV table with item, regions and vertices (between semicolons) that are missing
    #[arg(long, value_name = "CSV", requires = "cohort")]
    pub(crate) holes: Option<PathBuf>,
    /// The cohort that the space was built from: the same vertices are hidden on its people, held out, and intervals brought to 95 %
    #[arg(long, value_name = "C.cohort", conflicts_with = "cohort")]
    pub(crate) calibrate: Option<PathBuf>,
    #[command(flatten)]
    pub(crate) frame: FrameArgs,
    /// How many modes; those that describe people held out best where absent
    #[arg(long, value_name = "K", value_parser = some_modes)]
    pub(crate) modes: Option<usize>,
    /// SD of a coordinate of a vertex beyond the modes; from people held out where absent
    #[arg(long, value_name = "MM")]
    pub(crate) noise_mm: Option<f64>,
    /// SD of the error with which a coordinate of a seen point was measured, as of landmarks that were
    /// felt or clicked; exact where absent
    #[arg(long, value_name = "MM")]
    pub(crate) error_mm: Option<f64>,
    /// Seen vertices keep their places in the mesh; with --cohort they always do
    #[arg(long)]
    pub(crate) keep_seen: bool,
    /// The mesh to write: .ply or .obj; with --cohort the cohort
    #[arg(long, value_name = "FILE")]
    pub(crate) into: Option<PathBuf>,
    /// The table of 95 % intervals of vertices to write
    #[arg(long, value_name = "CSV")]
    pub(crate) intervals: Option<PathBuf>,
    /// Write over existing files
    #[arg(long)]
    pub(crate) force: bool,
}
