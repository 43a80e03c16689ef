//! What a person types for the commands that are no tasks.

use std::path::PathBuf;

use clap::{Args, Parser, Subcommand};

/// From corresponded meshes of bodies to shape spaces, body dimensions, movements and size systems.
///
/// Every mesh must have the same triangles, so that vertex i is the same place on everyone. Millimetres inside;
/// nothing leaves this machine.
#[derive(Debug, Parser)]
#[command(name = "formkin", version, max_term_width = 110, after_help = EXAMPLES)]
pub(crate) struct Cli {
    /// Print one JSON object on standard output; messages for people go to standard error
    #[arg(long, global = true, help_heading = EVERYWHERE)]
    pub(crate) json: bool,

    /// Show no progress bars
    #[arg(long, global = true, help_heading = EVERYWHERE)]
    pub(crate) quiet: bool,

    /// How many threads to use; all cores where absent
    #[arg(long, global = true, value_name = "N", help_heading = EVERYWHERE)]
    pub(crate) threads: Option<usize>,

    #[command(subcommand)]
    pub(crate) command: Command,
}

/// What the options of every command are headed with.
const EVERYWHERE: &str = "Options of every command";

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
    /// Print the reference of commands, options and keys as Markdown
    #[command(hide = true)]
    Reference,
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
    after_help = "Example:\n  formkin study study.toml\n\nThe sections and keys of the study file are in docs/reference.md."
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

#[derive(Debug, Args)]
pub(crate) struct InspectArgs {
    /// A space (.safetensors) or a cohort
    pub(crate) path: PathBuf,
}
