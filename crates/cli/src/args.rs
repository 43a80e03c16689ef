//! What a person types. These structures stay dumb: each command resolves them into a checked job.

use std::path::PathBuf;

use clap::{Args, Parser, Subcommand, ValueEnum};

use crate::args_shape::{CompareArgs, MlArgs, RegressArgs};

mod bodies;

pub(crate) use bodies::{CompleteArgs, PredictArgs};

/// From corresponded meshes of bodies to shape spaces, body dimensions, movements and size systems.
///
/// Every mesh must have the same triangles, so that vertex i is the same place on everyone. Millimetres inside;
/// nothing leaves this machine.
#[derive(Debug, Parser)]
#[command(name = "formkin", version, max_term_width = 110, after_help = EXAMPLES)]
pub(crate) struct Cli {
    /// Print one JSON object on standard output; messages for people go to standard error
    #[arg(long, global = true)]
    pub(crate) json: bool,

    /// Show no progress bars
    #[arg(long, global = true)]
    pub(crate) quiet: bool,

    /// How many threads to use; all cores where absent
    #[arg(long, global = true, value_name = "N")]
    pub(crate) threads: Option<usize>,

    #[command(subcommand)]
    pub(crate) command: Command,
}

const EXAMPLES: &str = "Examples:
  formkin demo --into demo                          make demo people, run a whole study, write a report
  formkin import 'scans/**/*.obj' --into crew.cohort --participants people.csv
  formkin check crew.cohort                         what is wrong with the data
  formkin space crew.cohort --into crew.safetensors
  formkin size people.csv --plan plan.toml      a size system from any table of dimensions

Exit codes: 0 done, 1 findings, 2 the request or the data is wrong, 3 an internal fault.";

#[derive(Debug, Subcommand)]
pub(crate) enum Command {
    /// Make the demo people, run the whole study on them, and say where the report is
    Demo(DemoArgs),
    /// Run a whole study from one file; only the stages whose inputs changed
    Study(StudyArgs),
    /// Mesh files into a cohort: one folder that every other command reads
    Import(ImportArgs),
    /// Say what is wrong with the data; nothing is repaired
    Check(CheckArgs),
    /// Align the bodies of a cohort and build their shape space
    Space(SpaceArgs),
    /// Say what is in a space or a cohort
    Inspect(InspectArgs),
    /// The coefficients of new shapes in a space
    Project(ProjectArgs),
    /// The body that goes with given dimensions
    Predict(PredictArgs),
    /// The body that goes with a part of a surface
    Complete(CompleteArgs),
    /// Compare groups of people: tests, and where on the body they differ
    Compare(CompareArgs),
    /// Regress shape on a number, such as stature or age
    Regress(RegressArgs),
    /// Take body dimensions
    Measure(MeasureArgs),
    /// Scan against hand, or repeats against each other: error, limits, reliability
    Agree(AgreeArgs),
    /// Joint centres, segment lengths, joint angles and segment masses
    Joints(JointsArgs),
    /// Percentiles, correlations and unusual values of a table of people
    Percentiles(PercentilesArgs),
    /// What a movement does to a body
    Motion(MotionArgs),
    /// A size system from a table of dimensions, and whom it fits
    Size(SizeArgs),
    /// Write spaces, meshes and coefficients in open formats
    #[command(subcommand)]
    Export(ExportCommand),
    /// Print the completions of a shell
    Completions {
        /// Which shell
        shell: clap_complete::Shell,
    },
}

#[derive(Debug, Args)]
#[command(after_help = "Example:\n  formkin demo --into demo --participants 300 --vertices 50000")]
pub(crate) struct DemoArgs {
    /// The folder to make
    #[arg(long, value_name = "DIR", default_value = "formkin-demo")]
    pub(crate) into: PathBuf,
    /// How many people
    #[arg(long, default_value_t = 200)]
    pub(crate) participants: usize,
    /// Vertices of the template, 3,000 to 100,000
    #[arg(long, default_value_t = 12_000)]
    pub(crate) vertices: usize,
    /// Seed of the people and of the study
    #[arg(long, default_value_t = 20)]
    pub(crate) seed: u64,
    /// Write over an earlier demo in the folder
    #[arg(long)]
    pub(crate) force: bool,
}

#[derive(Debug, Args)]
#[command(
    after_help = "Example:\n  formkin study study.toml\n\nThe study file is described in docs/formats.md."
)]
pub(crate) struct StudyArgs {
    /// The study file
    pub(crate) study: PathBuf,
    /// Write over files that an earlier study did not write
    #[arg(long)]
    pub(crate) force: bool,
    /// Run every stage, whatever is kept from earlier runs
    #[arg(long)]
    pub(crate) afresh: bool,
}

#[derive(Debug, Clone, Copy, ValueEnum)]
pub(crate) enum UnitArg {
    Auto,
    Mm,
    Cm,
    M,
}

#[derive(Debug, Clone, Copy, ValueEnum)]
pub(crate) enum UpArg {
    Auto,
    X,
    Y,
    Z,
}

#[derive(Debug, Clone, Copy, ValueEnum)]
pub(crate) enum SequencesArg {
    /// Names with a running number are frames of one capture
    Auto,
    /// Every file with a number is a frame
    Always,
    /// Every file is a still pose
    Never,
}

#[derive(Debug, Args)]
#[command(after_help = "Examples:
  formkin import 'scans/**/*.obj' --into crew.cohort --participants people.csv
  formkin import walk/ --into walk.cohort --fps 90 --unit m --up y
  formkin import 'scans/*.ply' --into crew.cohort --resume       after an import that was stopped")]
pub(crate) struct ImportArgs {
    /// Mesh files (OBJ, PLY, NPY), folders, or patterns in quotes
    #[arg(required = true, value_name = "FILES")]
    pub(crate) files: Vec<String>,
    /// The cohort folder to make
    #[arg(long, value_name = "C.cohort")]
    pub(crate) into: PathBuf,
    /// A CSV table of people; extra columns become groups
    #[arg(long, value_name = "CSV")]
    pub(crate) participants: Option<PathBuf>,
    /// template.toml or a mesh that sets the triangles; the first file where absent
    #[arg(long, value_name = "FILE")]
    pub(crate) template: Option<PathBuf>,
    /// Unit of the files
    #[arg(long, value_enum, default_value = "auto")]
    pub(crate) unit: UnitArg,
    /// Height axis of the files
    #[arg(long, value_enum, default_value = "auto")]
    pub(crate) up: UpArg,
    /// Frames a second of sequences without a times file
    #[arg(long, value_name = "HZ")]
    pub(crate) fps: Option<f64>,
    /// A CSV table of the frames' times: time_s, and capture where there are several
    #[arg(long, value_name = "CSV")]
    pub(crate) times: Option<PathBuf>,
    /// Which files are frames of a sequence
    #[arg(long, value_enum, default_value = "auto")]
    pub(crate) sequences: SequencesArg,
    /// Go on with an import that was stopped
    #[arg(long)]
    pub(crate) resume: bool,
    /// Replace a cohort of that name
    #[arg(long)]
    pub(crate) force: bool,
}

#[derive(Debug, Args)]
#[command(after_help = "Example:\n  formkin check crew.cohort\n\nExit code 1 where there are findings.")]
pub(crate) struct CheckArgs {
    /// The cohort
    pub(crate) cohort: PathBuf,
}

#[derive(Debug, Clone, Copy, ValueEnum)]
pub(crate) enum RemovesArg {
    /// Translation and rotation; size stays
    Rigid,
    /// Translation, rotation and scale
    Similarity,
    /// Translation and heading only; the floor stays the floor
    Standing,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum ItemsArg {
    /// Still poses; all items where there are none
    Stills,
    /// Every item, frames too
    All,
}

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
    #[arg(long, value_name = "K", default_value_t = 60)]
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
pub(crate) struct InspectArgs {
    /// A space (.safetensors) or a cohort
    pub(crate) path: PathBuf,
}

#[derive(Debug, Args)]
#[command(after_help = "Example:\n  formkin project crew.safetensors new/*.ply --into new.csv")]
pub(crate) struct ProjectArgs {
    /// The space
    pub(crate) space: PathBuf,
    /// Mesh files on the triangles of the space
    #[arg(required = true)]
    pub(crate) meshes: Vec<PathBuf>,
    /// Unit of the files
    #[arg(long, value_enum, default_value = "auto")]
    pub(crate) unit: UnitArg,
    /// Height axis of the files
    #[arg(long, value_enum, default_value = "auto")]
    pub(crate) up: UpArg,
    /// How many modes
    #[arg(long, value_name = "K")]
    pub(crate) modes: Option<usize>,
    /// The CSV table to write
    #[arg(long, value_name = "CSV")]
    pub(crate) into: Option<PathBuf>,
    /// Write over an existing file
    #[arg(long)]
    pub(crate) force: bool,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum PerArg {
    /// Every item has a row
    Item,
    /// Every person has a row: that of the first still pose
    Person,
}

#[derive(Debug, Args)]
#[command(after_help = "Examples:
  formkin measure crew.cohort --dimensions dimensions.toml --per person --into people.csv
  formkin measure crew.cohort --dimensions dimensions.toml --explain waist_girth --into waist.svg
  formkin measure crew.cohort --json                  area, volume and centroid size of every item")]
pub(crate) struct MeasureArgs {
    /// The cohort
    pub(crate) cohort: PathBuf,
    /// The file of definitions
    #[arg(long, value_name = "TOML")]
    pub(crate) dimensions: Option<PathBuf>,
    /// Which items
    #[arg(long, value_enum, default_value = "all")]
    pub(crate) items: ItemsArg,
    /// One row an item, or one a person: the first still pose of each, as size systems need it
    #[arg(long, value_enum, default_value = "item")]
    pub(crate) per: PerArg,
    /// Show the definition of this dimension; with --into its picture on the template (SVG)
    #[arg(long, value_name = "NAME", requires = "dimensions")]
    pub(crate) explain: Option<String>,
    /// Summarise by this column of the table of people
    #[arg(long, value_name = "COLUMN")]
    pub(crate) by: Option<String>,
    /// The CSV table to write
    #[arg(long, value_name = "CSV")]
    pub(crate) into: Option<PathBuf>,
    /// Write over an existing file
    #[arg(long)]
    pub(crate) force: bool,
}

#[derive(Debug, Args)]
#[command(after_help = "Examples:
  formkin joints crew.cohort --into joints
  formkin joints crew.cohort --capture C001_climb --into climb        with a point-trajectory file (TRC)")]
pub(crate) struct JointsArgs {
    /// The cohort, on a template with joints
    pub(crate) cohort: PathBuf,
    /// The frames of this capture in place of the still poses
    #[arg(long, value_name = "ID")]
    pub(crate) capture: Option<String>,
    /// The folder to write joints.csv, segments.csv and joints.trc into
    #[arg(long, value_name = "DIR")]
    pub(crate) into: Option<PathBuf>,
    /// Write over existing files
    #[arg(long)]
    pub(crate) force: bool,
}

#[derive(Debug, Args)]
#[command(after_help = "Example:\n  formkin percentiles people.csv --by sex --into summary")]
pub(crate) struct PercentilesArgs {
    /// A CSV table, one row a person, units in the headers
    pub(crate) table: PathBuf,
    /// The column that groups people
    #[arg(long, value_name = "COLUMN")]
    pub(crate) by: Option<String>,
    /// The column that weighs people
    #[arg(long, value_name = "COLUMN")]
    pub(crate) weight: Option<String>,
    /// Resamples of people for the intervals; 0 for none
    #[arg(long, default_value_t = 1000)]
    pub(crate) resamples: usize,
    /// Seed of the resamples
    #[arg(long, default_value_t = 1)]
    pub(crate) seed: u64,
    /// The folder to write the three tables into
    #[arg(long, value_name = "DIR")]
    pub(crate) into: Option<PathBuf>,
    /// Write over existing files
    #[arg(long)]
    pub(crate) force: bool,
}

#[derive(Debug, Args)]
#[command(after_help = "Examples:
  formkin agree scan.csv hand.csv --dimensions dimensions.toml --into agreement
  formkin agree scan.csv hand.csv --type wrist_girth=small-girth
  formkin agree --repeats repeats.csv                rows are a participant in a session

Limits after ISO 20685-1; they test the mean error alone.")]
pub(crate) struct AgreeArgs {
    /// Dimensions from scans and the same by hand: CSV tables, one row a person, units in the headers
    #[arg(value_names = ["SCAN.csv", "HAND.csv"], num_args = 2, required_unless_present = "repeats")]
    pub(crate) tables: Vec<PathBuf>,
    /// One table with several rows a person, for the error of one way of measuring
    #[arg(long, value_name = "TABLE.csv", conflicts_with = "tables")]
    pub(crate) repeats: Option<PathBuf>,
    /// The column of the table of repeats that says whose row it is
    #[arg(long, value_name = "COLUMN", default_value = "participant")]
    pub(crate) participant: String,
    /// The column of the table of repeats that says which trial it is
    #[arg(long, value_name = "COLUMN", default_value = "session")]
    pub(crate) session: String,
    /// Definitions, which say the type of each dimension
    #[arg(long, value_name = "TOML")]
    pub(crate) dimensions: Option<PathBuf>,
    /// The type of a dimension, such as neck_girth=small-girth; may be given again
    #[arg(long = "type", value_name = "NAME=TYPE")]
    pub(crate) types: Vec<String>,
    /// Only this dimension; may be given again
    #[arg(long, value_name = "NAME")]
    pub(crate) only: Vec<String>,
    /// The folder to write the table and the charts into
    #[arg(long, value_name = "DIR")]
    pub(crate) into: Option<PathBuf>,
    /// Write over existing files
    #[arg(long)]
    pub(crate) force: bool,
}

#[derive(Debug, Args)]
#[command(after_help = "Example:
  formkin motion walk.cohort --capture Walk_Loop --into walk --dimensions dimensions.toml --follow chest_girth")]
pub(crate) struct MotionArgs {
    /// The cohort
    pub(crate) cohort: PathBuf,
    /// Which capture; needed where there are several
    #[arg(long, value_name = "ID")]
    pub(crate) capture: Option<String>,
    /// The folder to write curves, coefficients and animations into
    #[arg(long, value_name = "DIR")]
    pub(crate) into: Option<PathBuf>,
    /// What is taken out of each frame
    #[arg(long, value_enum, default_value = "rigid")]
    pub(crate) align: RemovesArg,
    /// Take out the movement of this region in place of the whole body's
    #[arg(long)]
    pub(crate) region: Option<String>,
    /// Vertex weights: `area` or `plain`
    #[arg(long, default_value = "area")]
    pub(crate) weights: String,
    /// Most modes to keep
    #[arg(long, value_name = "K", default_value_t = 8)]
    pub(crate) modes: usize,
    /// The file of definitions
    #[arg(long, value_name = "TOML")]
    pub(crate) dimensions: Option<PathBuf>,
    /// A dimension to follow through time; may be given again. All where absent
    #[arg(long, value_name = "NAME")]
    pub(crate) follow: Vec<String>,
    /// The frame, from 0, that changes are counted from
    #[arg(long, value_name = "FRAME", default_value_t = 0)]
    pub(crate) reference: usize,
    /// Find cycles in `mode-1`, `mode-2`, .., in `frame` (the height of the body frame) or in a followed dimension
    #[arg(long, value_name = "SIGNAL")]
    pub(crate) cycles: Option<String>,
    /// What begins a cycle: `minimum`, `maximum` or `rising`
    #[arg(long, default_value = "minimum")]
    pub(crate) event: String,
    /// The frequency of the cycles; looked for where absent
    #[arg(long, value_name = "HZ")]
    pub(crate) cycle_hz: Option<f64>,
    /// A region or landmark of soft tissue to follow in the body frame; may be given again. Needs --frame
    #[arg(long, value_name = "REGION", requires = "frame")]
    pub(crate) tissue: Vec<String>,
    /// The region that the body frame is fixed to
    #[arg(long, value_name = "REGION")]
    pub(crate) frame: Option<String>,
    /// A capture of the same person without the garment, to compare this one with
    #[arg(long, value_name = "ID", requires = "tissue")]
    pub(crate) against: Option<String>,
    /// Map the apparent strain of the skin
    #[arg(long)]
    pub(crate) strain: bool,
    /// Over how many millimetres strain is smoothed
    #[arg(long, value_name = "MM", default_value_t = 25.0)]
    pub(crate) smoothing: f64,
    /// Find dynamic modes: frequencies and growth
    #[arg(long)]
    pub(crate) dynamics: bool,
    /// Estimate the pose of every frame
    #[arg(long)]
    pub(crate) posture: bool,
    /// Write over existing files
    #[arg(long)]
    pub(crate) force: bool,
}

#[derive(Debug, Args)]
#[command(after_help = "Examples:
  formkin size people.csv --plan plan.toml --into sizes
  formkin size people.csv --plan plan.toml --allowances allowance.csv   coverage in movement too
  formkin size others.csv --chart sizes/size-chart.csv                  whom an existing chart fits
  formkin size --chart sizes/size-chart.csv --assign new.csv            the sizes of new people

The plan and the chart are described in docs/formats.md.")]
pub(crate) struct SizeArgs {
    /// A CSV table, one row a person, units in the headers; meshes are not needed
    #[arg(required_unless_present = "assign")]
    pub(crate) table: Option<PathBuf>,
    /// The plan
    #[arg(long, value_name = "TOML", required_unless_present = "chart")]
    pub(crate) plan: Option<PathBuf>,
    /// A size chart that exists: it is tried on the people, and nothing is derived
    #[arg(long, value_name = "CSV")]
    pub(crate) chart: Option<PathBuf>,
    /// A table of new people: their sizes, second choices, what is tight and what is loose
    #[arg(long, value_name = "CSV")]
    pub(crate) assign: Option<PathBuf>,
    /// How much dimensions grow and shrink in movement
    #[arg(long, value_name = "CSV", conflicts_with = "chart")]
    pub(crate) allowances: Option<PathBuf>,
    /// The folder to write chart, coverage and assignments into
    #[arg(long, value_name = "DIR")]
    pub(crate) into: Option<PathBuf>,
    /// Write over existing files
    #[arg(long)]
    pub(crate) force: bool,
}

#[derive(Debug, Clone, Copy, ValueEnum)]
pub(crate) enum MeshFormat {
    Ply,
    Obj,
}

#[derive(Debug, Subcommand)]
pub(crate) enum ExportCommand {
    /// Mean and first modes as glTF morph targets
    Glb {
        /// The space
        space: PathBuf,
        /// The file to write
        #[arg(long, value_name = "FILE.glb")]
        into: PathBuf,
        /// How many modes
        #[arg(long, default_value_t = 5)]
        modes: usize,
        /// Write over an existing file
        #[arg(long)]
        force: bool,
    },
    /// The items of a cohort as mesh files
    Meshes {
        /// The cohort
        cohort: PathBuf,
        /// The folder to write into
        #[arg(long, value_name = "DIR")]
        into: PathBuf,
        /// The kind of file
        #[arg(long, value_enum, default_value = "ply")]
        format: MeshFormat,
        /// Which items
        #[arg(long, value_enum, default_value = "stills")]
        items: ItemsArg,
        /// Write over existing files
        #[arg(long)]
        force: bool,
    },
    /// A data set for machine learning: parts by participant, scalers, a data sheet
    Ml(MlArgs),
    /// The coefficients of a cohort's items in a space, as Parquet
    Coefficients {
        /// The space
        space: PathBuf,
        /// The cohort
        cohort: PathBuf,
        /// The file to write
        #[arg(long, value_name = "FILE.parquet")]
        into: PathBuf,
        /// Which items
        #[arg(long, value_enum, default_value = "stills")]
        items: ItemsArg,
        /// Write over an existing file
        #[arg(long)]
        force: bool,
    },
}
