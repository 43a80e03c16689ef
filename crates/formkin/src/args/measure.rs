//! What a person types to take dimensions and judge them.

use std::path::PathBuf;

use clap::{Args, ValueEnum};

use super::ItemsArg;

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
