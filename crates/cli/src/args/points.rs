//! What a person types to look at trajectories of points.

use std::path::PathBuf;

use clap::Args;

use super::motion::{AxisArgs, CycleArgs};

#[derive(Debug, Args)]
#[command(after_help = "Examples:
  formkin points walk.trc --cycles heel_left_z --into walk
  formkin points A01_bare.trc A02_bare.trc --against A01_suit.trc --against A02_suit.trc \\
      --frame sternum --frame clavicle_left --frame clavicle_right --follow-point soft_left --events events.csv --into compared")]
pub(crate) struct PointsArgs {
    /// Files of trajectories, TRC or CSV; the person is the name up to the first `_`
    #[arg(required = true)]
    pub(crate) files: Vec<PathBuf>,
    /// A file of the same person with the garment, one for each file, in their order; may be given again
    #[arg(long, value_name = "FILE")]
    pub(crate) against: Vec<PathBuf>,
    /// The person of each file, in their order, where the names do not say it; may be given again
    #[arg(long, value_name = "PERSON")]
    pub(crate) person: Vec<String>,
    /// The folder to write signals, cycles, components and trajectories into
    #[arg(long, value_name = "DIR")]
    pub(crate) into: Option<PathBuf>,
    /// A page with charts and a moving picture of the points
    #[arg(long, value_name = "HTML")]
    pub(crate) report: Option<PathBuf>,
    /// Which axis of the files points up: `auto`, `y` or `z`
    #[arg(long, default_value = "auto")]
    pub(crate) up: String,
    /// Take places that are exactly the origin as points that were not seen
    #[arg(long)]
    pub(crate) origin_is_missing: bool,
    /// A point that the body frame is fixed to; at least three
    #[arg(long, value_name = "POINT")]
    pub(crate) frame: Vec<String>,
    #[command(flatten)]
    pub(crate) axes: AxisArgs,
    /// A point to follow in the body frame; all others where absent. May be given again
    #[arg(long, value_name = "POINT", requires = "frame")]
    pub(crate) follow_point: Vec<String>,
    /// A distance to follow between two points
    #[arg(long, value_name = "A:B")]
    pub(crate) distance: Vec<String>,
    /// An angle to follow at the second of three points
    #[arg(long, value_name = "A:B:C")]
    pub(crate) angle: Vec<String>,
    /// A signal to follow, such as `heel_z`, `soft_vertical`, `A_to_B`, `A_B_C`; may be given again. All where absent
    #[arg(long, value_name = "SIGNAL")]
    pub(crate) follow: Vec<String>,
    #[command(flatten)]
    pub(crate) cycles: CycleArgs,
    /// The frame, from 0, that changes are counted from
    #[arg(long, value_name = "FRAME", default_value_t = 0)]
    pub(crate) reference: usize,
    /// Seed of the intervals of a comparison
    #[arg(long, default_value_t = 1)]
    pub(crate) seed: u64,
    /// Write over existing files
    #[arg(long)]
    pub(crate) force: bool,
}
