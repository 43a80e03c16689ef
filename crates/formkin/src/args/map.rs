//! What a person types for a map of people.

use std::path::PathBuf;

use clap::{Args, ValueEnum};

use super::some_modes;

#[derive(Debug, Clone, Copy, ValueEnum)]
pub(crate) enum MapArg {
    /// Where many short steps between like people lead
    Diffusion,
    /// The first two coefficients, in mm
    Coefficients,
}

#[derive(Debug, Args)]
#[command(after_help = "Example:
  formkin map crew.safetensors --coefficients crew.parquet --table people.csv --into map.csv

Two numbers a person, so that like people lie near each other; a distance on the map is no distance in mm.")]
pub(crate) struct MapArgs {
    /// The space
    pub(crate) space: PathBuf,
    /// Coefficients of a space, as written beside it
    #[arg(long, value_name = "FILE.parquet", required_unless_present = "cohort", conflicts_with = "cohort")]
    pub(crate) coefficients: Option<PathBuf>,
    /// A cohort whose items are projected into the space
    #[arg(long, value_name = "C.cohort")]
    pub(crate) cohort: Option<PathBuf>,
    /// A CSV table of people whose columns are written too; its first column names the participant
    #[arg(long, value_name = "CSV")]
    pub(crate) table: Option<PathBuf>,
    /// How people are laid out
    #[arg(long, value_enum, default_value = "diffusion")]
    pub(crate) method: MapArg,
    /// Coefficients that take part; all where absent
    #[arg(long, value_name = "K", value_parser = some_modes)]
    pub(crate) modes: Option<usize>,
    /// Bodies nearer than this to each other are neighbours; chosen from the people where absent
    #[arg(long, value_name = "MM")]
    pub(crate) bandwidth_mm: Option<f64>,
    /// Seed of which people a diffusion of more than 2,000 is worked out from
    #[arg(long, default_value_t = 1)]
    pub(crate) seed: u64,
    /// The CSV table to write
    #[arg(long, value_name = "CSV")]
    pub(crate) into: Option<PathBuf>,
    /// Write over an existing file
    #[arg(long)]
    pub(crate) force: bool,
}
