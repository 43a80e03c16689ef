//! What a person types to look at a movement.

use std::path::PathBuf;

use clap::Args;

use super::RemovesArg;

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
    #[arg(long, value_name = "K", default_value_t = 8)]
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
    /// Find cycles in `mode-1`, `mode-2`, .., in `frame` (the height of the body frame) or in a followed dimension
    #[arg(long, value_name = "SIGNAL")]
    pub(crate) cycles: Option<String>,
    /// What begins a cycle: `minimum`, `maximum` or `rising`
    #[arg(long, default_value = "minimum")]
    pub(crate) event: String,
    /// The frequency of the cycles; looked for where absent
    #[arg(long, value_name = "HZ")]
    pub(crate) cycle_hz: Option<f64>,
    /// A region or landmark of soft tissue to follow in the body frame; may be given again. Needs --frame
    #[arg(long, value_name = "REGION", requires = "frame")]
    pub(crate) tissue: Vec<String>,
    /// The region that the body frame is fixed to
    #[arg(long, value_name = "REGION")]
    pub(crate) frame: Option<String>,
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
    /// Write over existing files
    #[arg(long)]
    pub(crate) force: bool,
}
