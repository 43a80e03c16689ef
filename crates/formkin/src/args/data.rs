//! What a person types to make, import, check and inspect data.

use std::path::PathBuf;

use clap::{Args, ValueEnum};

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

#[derive(Debug, Args)]
pub(crate) struct InspectArgs {
    /// A space (.safetensors) or a cohort
    pub(crate) path: PathBuf,
}

/// How positions of files are to be read.
#[derive(Debug, Clone, Copy, Args)]
pub(crate) struct FrameArgs {
    /// Unit of the files
    #[arg(long, value_enum, default_value = "auto")]
    pub(crate) unit: UnitArg,
    /// Height axis of the files
    #[arg(long, value_enum, default_value = "auto")]
    pub(crate) up: UpArg,
}
