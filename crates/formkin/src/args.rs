//! What a person types. These structures stay dumb: each command resolves them into a checked job.

use std::num::IntErrorKind;

use clap::{Parser, Subcommand, ValueEnum};

mod bodies;
mod data;
mod export;
mod map;
mod measure;
mod motion;
mod people;
mod size;

pub(crate) use bodies::{CompleteArgs, PredictArgs};
pub(crate) use data::{DemoArgs, FrameArgs, InspectArgs, StudyArgs, UnitArg, UpArg};
pub(crate) use export::{ExportCommand, MeshFormat};
pub(crate) use map::{MapArg, MapArgs};
pub(crate) use measure::{AgreeArgs, PercentilesArgs};
pub(crate) use motion::{AxisArgs, CycleArgs, MotionArgs};
pub(crate) use people::{CompareArgs, PeopleArgs, RegressArgs, SampleArgs};
pub(crate) use size::SizeArgs;

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
    /// Say what is in a space or a cohort
    Inspect(InspectArgs),
    /// The body that goes with given dimensions
    Predict(PredictArgs),
    /// The body that goes with a part of a surface
    Complete(CompleteArgs),
    /// Compare groups of people: tests, and where on the body they differ
    Compare(CompareArgs),
    /// New bodies like given people, and how they compare with them
    Sample(SampleArgs),
    /// Regress shape on a number, such as stature or age
    Regress(RegressArgs),
    /// Two numbers a person, so that like people lie near each other
    Map(MapArgs),
    /// Scan against hand, or repeats against each other: error, limits, reliability
    Agree(AgreeArgs),
    /// Percentiles, correlations and unusual values of a table of people
    Percentiles(PercentilesArgs),
    /// What a movement does to a body
    Motion(MotionArgs),
    /// A size system from a table of dimensions, and whom it fits
    Size(SizeArgs),
    /// Write spaces, meshes and coefficients in open formats
    #[command(subcommand)]
    Export(ExportCommand),
    /// Print the reference of commands, options and keys as Markdown
    #[command(hide = true)]
    Reference,
    /// Print the completions of a shell
    Completions {
        /// Which shell
        shell: clap_complete::Shell,
    },
}

/// A number of modes: none is no space.
fn some_modes(text: &str) -> Result<usize, String> {
    match text.parse::<usize>() {
        Ok(0) => Err("it must be a whole number, 1 or more".to_owned()),
        Ok(count) => Ok(count),
        Err(e) if *e.kind() == IntErrorKind::PosOverflow => Err("the number is too large".to_owned()),
        Err(_) => Err("it must be a whole number, 1 or more".to_owned()),
    }
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
