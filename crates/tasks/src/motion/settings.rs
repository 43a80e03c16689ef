//! What is asked for.

use std::path::PathBuf;

use formkin_motion::dmd::DynamicParams;
use formkin_motion::{ModeWeighting, StrainParams};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::choices::Align;
use crate::signals::{AxisSettings, Cutoff, CycleSettings};

/// The files of the command, and which captures of the cohort it is about.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct MotionSources {
    /// The cohort
    #[schemars(extend("position" = 1, "needed" = true))]
    pub cohort: PathBuf,
    /// Which capture; needed where there are several
    #[schemars(extend("value" = "ID"))]
    pub capture: Option<String>,
    /// A capture of the same person without the garment, to compare this one with
    #[schemars(extend("value" = "ID"))]
    pub against: Option<String>,
    /// The file of definitions of dimensions
    #[schemars(extend("study" = true, "value" = "TOML"))]
    pub dimensions: Option<PathBuf>,
    /// A CSV table of given events that cycles run between: `time_s` or `frame`, and `capture` where it holds several
    #[schemars(extend("study" = true, "value" = "CSV"))]
    pub events: Option<PathBuf>,
}

/// What is asked for.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct MotionSettings {
    /// Which captures; all that are movements where absent
    #[schemars(extend("option" = "-"))]
    pub captures: Option<Vec<String>>,
    /// What is taken out of each frame
    pub align: Align,
    /// Take out the movement of this region in place of the whole body's
    pub region: Option<String>,
    /// Vertex weights in the modes and, without a region, in the alignment
    pub weights: Weights,
    /// Most modes to keep
    #[schemars(range(min = 1), extend("value" = "K"))]
    pub modes: usize,
    /// A dimension to follow through time; may be given again. All of the file of definitions where absent
    #[schemars(extend("value" = "NAME"))]
    pub follow: Vec<String>,
    /// The frame, from 0, that changes are counted from
    #[schemars(extend("value" = "FRAME"))]
    pub reference: usize,
    /// Where cycles come from
    pub cycles: Option<CycleSettings>,
    /// The cutoff of the filter of curves: a number of Hz, or `residual`
    #[schemars(extend("value" = "HZ"))]
    pub cutoff: Option<Cutoff>,
    /// Which soft tissue is followed, against which frame of the body
    pub tissue: Option<TissueSettings>,
    /// Write the paths of all landmarks, in the laboratory and, with a body frame, in that
    pub landmarks: bool,
    /// Map the apparent strain of the skin
    #[schemars(extend("switch" = true))]
    pub strain: Option<StrainSettings>,
    /// Find dynamic modes: frequencies and growth
    #[schemars(extend("switch" = true))]
    pub dynamics: Option<DynamicSettings>,
    /// Estimate the pose of every frame
    #[schemars(extend("switch" = true))]
    pub posture: Option<PostureSettings>,
    /// Seed of the intervals of a comparison, and of the search for modes of a long record
    pub seed: u64,
}

/// Most modes to keep of one movement.
const MODES: usize = 8;

impl Default for MotionSettings {
    fn default() -> Self {
        Self {
            captures: None,
            align: Align::default(),
            region: None,
            weights: Weights::default(),
            modes: MODES,
            follow: Vec::new(),
            reference: 0,
            cycles: None,
            cutoff: None,
            tissue: None,
            landmarks: false,
            strain: None,
            dynamics: None,
            posture: None,
            seed: formkin_motion::MotionParams::default().seed,
        }
    }
}

impl MotionSettings {
    /// Where cycles come from; the height of the body frame where nothing is said and there is one.
    #[must_use]
    pub fn cycles_asked(&self, events: bool) -> Option<CycleSettings> {
        match &self.cycles {
            None if self.tissue.is_some() || events => Some(CycleSettings::default()),
            asked => asked.clone(),
        }
    }

    /// The name of the signal that cycles are found in.
    #[must_use]
    pub fn cycle_signal<'a>(&self, cycles: &'a CycleSettings) -> &'a str {
        let usual = if self.tissue.is_some() { FRAME } else { "mode-1" };
        cycles.from.as_deref().unwrap_or(usual)
    }
}

/// The signal that is the height of the body frame.
pub(super) const FRAME: &str = "frame";

/// How the vertices count in the modes.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Weights {
    /// By the area around them
    #[default]
    Area,
    /// All alike
    Plain,
}

impl From<Weights> for ModeWeighting {
    fn from(weights: Weights) -> Self {
        match weights {
            Weights::Area => Self::Area,
            Weights::Plain => Self::Plain,
        }
    }
}

/// Which soft tissue is followed, and against what.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(default, deny_unknown_fields)]
pub struct TissueSettings {
    /// The region that the body frame is fixed to
    #[schemars(extend("option" = "frame", "value" = "REGION"))]
    pub frame: String,
    /// A region or landmark of soft tissue to follow in the body frame; may be given again. Needs --frame
    #[schemars(extend("option" = "tissue", "value" = "REGION"))]
    pub regions: Vec<String>,
    /// The cutoff of the filter of soft tissue
    #[schemars(extend("option" = "tissue-cutoff", "unit" = "Hz", "exclusiveMinimum" = 0))]
    pub cutoff_hz: Option<f64>,
    /// The axes of the body frame, of landmarks or regions; the laboratory's in the reference pose where absent
    pub axes: Option<AxisSettings>,
}

/// How the skin's strain is mapped.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(default, deny_unknown_fields)]
pub struct StrainSettings {
    /// Over how many millimetres strain is smoothed
    #[schemars(range(min = 0), extend("option" = "smoothing", "unit" = "mm"))]
    pub smoothing_mm: f64,
    /// A region summarised through time; may be given again. All of the template where absent
    #[schemars(extend("value" = "REGION"))]
    pub regions: Vec<String>,
}

impl Default for StrainSettings {
    fn default() -> Self {
        Self { smoothing_mm: StrainParams::default().smoothing_mm, regions: Vec::new() }
    }
}

/// How dynamic modes are found.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(default, deny_unknown_fields)]
pub struct DynamicSettings {
    /// Delays that are stacked; a third of the record where absent. 1 is none
    #[schemars(range(min = 1))]
    pub delays: Option<usize>,
    /// The rank; found by a threshold where absent
    #[schemars(range(min = 1))]
    pub rank: Option<usize>,
    /// Most modes to report: pairs count as one
    #[schemars(range(min = 1))]
    pub most: usize,
}

impl Default for DynamicSettings {
    fn default() -> Self {
        let DynamicParams { delays, rank, most } = DynamicParams::default();
        Self { delays, rank, most }
    }
}

impl From<DynamicSettings> for DynamicParams {
    fn from(DynamicSettings { delays, rank, most }: DynamicSettings) -> Self {
        Self { delays, rank, most }
    }
}

/// How poses are estimated.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(default, deny_unknown_fields)]
pub struct PostureSettings {
    /// A region left out of the fit: soft tissue; may be given again. The regions of soft tissue that are followed where absent
    #[schemars(extend("value" = "REGION"))]
    pub leave_out: Option<Vec<String>>,
    /// With the poses, hand over every frame brought back to the stance of the template (unposed.npy): import it for a shape space without posture
    pub unposed: bool,
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fields::{Kind, fields};

    fn options(kind: &Kind) -> Vec<String> {
        match kind {
            Kind::Table(inner) => inner.iter().filter_map(|f| f.option.clone()).collect(),
            other => panic!("{other:?}"),
        }
    }

    #[test]
    fn options_of_inner_tables_have_their_names() {
        let all = fields::<MotionSettings>();
        let of = |name: &str| all.iter().find(|f| f.name == name).unwrap();
        assert_eq!(of("captures").option, None);
        assert_eq!(options(&of("tissue").kind), ["frame", "tissue", "tissue-cutoff", "axes"]);
        assert!(options(&of("strain").kind).contains(&"smoothing".to_owned()) && of("strain").switch);
        assert!(options(&of("posture").kind).contains(&"unposed".to_owned()) && of("posture").switch);
    }

    #[test]
    fn a_body_frame_has_a_height_to_find_cycles_in() {
        let framed = MotionSettings { tissue: Some(TissueSettings::default()), ..MotionSettings::default() };
        let asked = framed.cycles_asked(false).unwrap();
        assert_eq!(framed.cycle_signal(&asked), "frame");
        assert_eq!(MotionSettings::default().cycles_asked(false), None);
        assert_eq!(MotionSettings::default().cycle_signal(&CycleSettings::default()), "mode-1");
    }
}
