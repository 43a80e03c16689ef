//! What a person types for size systems.

use std::path::PathBuf;

use clap::Args;

#[derive(Debug, Args)]
#[command(after_help = "Examples:
  formkin size people.csv --plan plan.toml --into sizes
  formkin size people.csv --plan plan.toml --allowances allowance.csv   coverage in movement too
  formkin size others.csv --chart sizes/size-chart.csv                  whom an existing chart fits
  formkin size --chart sizes/size-chart.csv --assign new.csv            the sizes of new people
  formkin size people.csv --plan plan.toml --space crew.safetensors --into out   with a mannequin of every size

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
    /// The column of the new people that says their group, where the chart has several and no other column tells
    #[arg(long, value_name = "COLUMN", requires = "assign")]
    pub(crate) by: Option<String>,
    /// How much dimensions grow and shrink in movement
    #[arg(long, value_name = "CSV", conflicts_with = "chart")]
    pub(crate) allowances: Option<PathBuf>,
    /// A shape space that knows the control dimensions: a mannequin of every size is made and measured, into DIR/sizes
    #[arg(long, value_name = "SAFETENSORS", requires = "table")]
    pub(crate) space: Option<PathBuf>,
    /// Shape coefficients of the people in that space: what `shape = ["mode_001_sd", ...]` in the plan means
    #[arg(long, value_name = "PARQUET", requires = "space")]
    pub(crate) coefficients: Option<PathBuf>,
    /// The folder to write chart, coverage and assignments into
    #[arg(long, value_name = "DIR")]
    pub(crate) into: Option<PathBuf>,
    /// Write over existing files
    #[arg(long)]
    pub(crate) force: bool,
}
