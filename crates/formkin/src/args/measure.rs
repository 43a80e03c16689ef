//! What a person types to take dimensions and judge them.

use std::path::PathBuf;

use clap::Args;

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
