//! What a person types to compare people, and to make a data set.

use std::path::PathBuf;

use clap::Args;

use super::some_modes;

/// Where the coefficients come from, and how they are tested.
#[derive(Debug, Args)]
pub(crate) struct PeopleArgs {
    /// The space
    pub(crate) space: PathBuf,
    /// Coefficients of a space, as written beside it
    #[arg(long, value_name = "FILE.parquet", required_unless_present = "cohort", conflicts_with = "cohort")]
    pub(crate) coefficients: Option<PathBuf>,
    /// A cohort whose items are projected into the space
    #[arg(long, value_name = "C.cohort")]
    pub(crate) cohort: Option<PathBuf>,
    /// A CSV table of people whose columns are used too; its first column names the participant
    #[arg(long, value_name = "CSV")]
    pub(crate) table: Option<PathBuf>,
    /// A column to hold fixed; may be given again
    #[arg(long, value_name = "COLUMN")]
    pub(crate) covariate: Vec<String>,
    /// Coefficients of T2 and of the discrimination; set it before looking at the data
    #[arg(long, value_name = "K", default_value_t = 10, value_parser = some_modes)]
    pub(crate) modes: usize,
    /// Permutations of people
    #[arg(long, default_value_t = 9999)]
    pub(crate) permutations: usize,
    /// Share of false findings allowed on the map
    #[arg(long, default_value_t = 0.05)]
    pub(crate) level: f64,
    /// Seed of permutations and folds
    #[arg(long, default_value_t = 1)]
    pub(crate) seed: u64,
    /// The folder to write the map and the morphing body into
    #[arg(long, value_name = "DIR")]
    pub(crate) into: Option<PathBuf>,
    /// Write over existing files
    #[arg(long)]
    pub(crate) force: bool,
}

#[derive(Debug, Args)]
#[command(after_help = "Examples:
  formkin compare crew.safetensors --by sex --coefficients crew.parquet --into compared
  formkin compare crew.safetensors --by station --cohort crew.cohort --covariate age_years")]
pub(crate) struct CompareArgs {
    /// The column that makes the groups
    #[arg(long, value_name = "COLUMN")]
    pub(crate) by: String,
    #[command(flatten)]
    pub(crate) people: PeopleArgs,
}

#[derive(Debug, Args)]
#[command(after_help = "Example:
  formkin regress crew.safetensors --on age_years --by sex --coefficients crew.parquet --into age")]
pub(crate) struct RegressArgs {
    /// The column of numbers that shape is regressed on
    #[arg(long, value_name = "COLUMN")]
    pub(crate) on: String,
    /// Groups: held fixed, and tested for equal slopes
    #[arg(long, value_name = "COLUMN")]
    pub(crate) by: Option<String>,
    #[command(flatten)]
    pub(crate) people: PeopleArgs,
}

#[derive(Debug, Args)]
#[command(after_help = "Examples:
  formkin sample crew.safetensors --count 50 --coefficients crew.parquet --into drawn
  formkin sample crew.safetensors --count 50 --cohort crew.cohort --by sex --into drawn
  formkin sample crew.safetensors --count 50 --cohort crew.cohort --components auto --into drawn
  formkin sample crew.safetensors --count 50 --cohort crew.cohort --target nation.toml --into drawn

Where the space carries definitions of dimensions, bodies whose dimensions are far outside those of the
people are drawn again, and so are bodies whose surfaces cross themselves more than on 99 % of people.")]
pub(crate) struct SampleArgs {
    /// The space
    pub(crate) space: PathBuf,
    /// How many bodies
    #[arg(long, default_value_t = 10)]
    pub(crate) count: usize,
    /// Coefficients of the people that bodies are to be like
    #[arg(long, value_name = "FILE.parquet", required_unless_present = "cohort", conflicts_with = "cohort")]
    pub(crate) coefficients: Option<PathBuf>,
    /// A cohort of them
    #[arg(long, value_name = "C.cohort")]
    pub(crate) cohort: Option<PathBuf>,
    /// A column: each of its groups has its own distribution and its share of bodies
    #[arg(long, value_name = "COLUMN")]
    pub(crate) by: Option<String>,
    /// With --by: only this group
    #[arg(long, value_name = "VALUE", requires = "by")]
    pub(crate) group: Option<String>,
    /// A mixture of so many normal distributions; `auto`: as many as people held out speak for
    #[arg(long, value_name = "auto|N", conflicts_with = "by")]
    pub(crate) components: Option<String>,
    /// Margins of a target population that bodies are weighed to: TOML or CSV
    #[arg(long, value_name = "FILE")]
    pub(crate) target: Option<PathBuf>,
    /// With --target: bodies of which those for the target are picked; 20 for each asked for, at least 2000, where absent
    #[arg(long, value_name = "N", requires = "target")]
    pub(crate) pool: Option<usize>,
    /// Limits of dimensions, TOML or CSV, in place of those from people
    #[arg(long, value_name = "FILE")]
    pub(crate) limits: Option<PathBuf>,
    /// Take no dimensions of bodies, and refuse none for them
    #[arg(long, conflicts_with = "limits")]
    pub(crate) no_dimensions: bool,
    /// Do not look where surfaces cross themselves
    #[arg(long)]
    pub(crate) no_crossings: bool,
    /// How many modes
    #[arg(long, value_name = "K", default_value_t = 20, value_parser = some_modes)]
    pub(crate) modes: usize,
    /// The share of people that the region of truncation holds
    #[arg(long, default_value_t = 0.99)]
    pub(crate) confidence: f64,
    /// The seed
    #[arg(long, default_value_t = 1)]
    pub(crate) seed: u64,
    /// The folder to write meshes, coefficients, dimensions and report into
    #[arg(long, value_name = "DIR")]
    pub(crate) into: PathBuf,
    /// Write over existing files
    #[arg(long)]
    pub(crate) force: bool,
}
