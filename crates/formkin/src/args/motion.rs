//! What a person types to look at a movement.

use std::path::PathBuf;

use clap::Args;

use super::{RemovesArg, some_modes};

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
    #[arg(long, value_name = "K", default_value_t = 8, value_parser = some_modes)]
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
    #[command(flatten)]
    pub(crate) cycles: CycleArgs,
    /// A region or landmark of soft tissue to follow in the body frame; may be given again. Needs --frame
    #[arg(long, value_name = "REGION", requires = "frame")]
    pub(crate) tissue: Vec<String>,
    /// The region that the body frame is fixed to
    #[arg(long, value_name = "REGION")]
    pub(crate) frame: Option<String>,
    #[command(flatten)]
    pub(crate) axes: AxisArgs,
    /// Write the paths of all landmarks, in the laboratory and, with --frame, in the body frame
    #[arg(long)]
    pub(crate) landmarks: bool,
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
    /// With the poses, hand over every frame brought back to the stance of the template (unposed.npy): import it for a shape space without posture
    #[arg(long, requires = "into")]
    pub(crate) unposed: bool,
    /// Seed of the intervals of a comparison
    #[arg(long, default_value_t = 1)]
    pub(crate) seed: u64,
    /// Write over existing files
    #[arg(long)]
    pub(crate) force: bool,
}

/// Where cycles come from.
#[derive(Debug, Args)]
pub(crate) struct CycleArgs {
    /// Find cycles in this signal: a followed dimension or signal, `frame` (the height of the body frame), `mode-1`, `mode-2`, .. of meshes
    #[arg(long, value_name = "SIGNAL", conflicts_with = "events")]
    pub(crate) cycles: Option<String>,
    /// What begins a cycle: `minimum`, `maximum` or `rising`
    #[arg(long, default_value = "minimum")]
    pub(crate) event: String,
    /// The frequency of the cycles; looked for where absent
    #[arg(long, value_name = "HZ")]
    pub(crate) cycle_hz: Option<f64>,
    /// A CSV table of given events that cycles run between: `time_s` or `frame`, and `capture` where it holds several
    #[arg(long, value_name = "CSV")]
    pub(crate) events: Option<PathBuf>,
    /// The cutoff of the filter of curves: a number of Hz, or `residual`
    #[arg(long, value_name = "HZ")]
    pub(crate) cutoff: Option<String>,
}

/// The axes of a body frame.
#[derive(Debug, Args)]
pub(crate) struct AxisArgs {
    /// The vertical axis of the body frame, from below to above: landmarks, regions or points, several joined by `+`
    #[arg(long, value_name = "FROM:TO", requires = "frame", requires = "lateral")]
    pub(crate) vertical: Option<String>,
    /// The lateral axis, from the right to the left
    #[arg(long, value_name = "FROM:TO", requires = "vertical")]
    pub(crate) lateral: Option<String>,
    /// The fore-aft axis, from the front to the back; it only tests that the body is not mirrored
    #[arg(long, value_name = "FROM:TO", requires = "vertical")]
    pub(crate) fore_aft: Option<String>,
}
