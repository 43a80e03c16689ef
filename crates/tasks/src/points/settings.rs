//! What is asked for.

use std::path::PathBuf;

use formkin_motion::soft::compare::CompareParams;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::signals::{AxisSettings, Cutoff, CycleSettings, Pair};

/// The files.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct PointsSources {
    /// Files of trajectories, TRC or CSV; the person is the name up to the first `_`
    #[schemars(extend("position" = 1, "study" = true, "needed" = true))]
    pub files: Vec<PathBuf>,
    /// A file of the same person with the garment, one for each file, in their order; may be given again
    #[schemars(extend("value" = "FILE"))]
    pub against: Vec<PathBuf>,
    /// The person of each file, in their order, where the names do not say it; may be given again
    #[schemars(extend("value" = "PERSON"))]
    pub person: Vec<String>,
    /// A CSV table of given events that cycles run between: `time_s` or `frame`, and `capture` where it holds several
    #[schemars(extend("study" = true, "value" = "CSV"))]
    pub events: Option<PathBuf>,
}

/// What is asked for.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct PointsSettings {
    /// Which axis of the files points up
    pub up: Up,
    /// Take places that are exactly the origin as points that were not seen
    pub origin_is_missing: bool,
    /// A point that the body frame is fixed to; at least three
    #[schemars(extend("value" = "POINT"))]
    pub frame: Vec<String>,
    /// The axes of the body frame, of points; the laboratory's in the reference pose where absent
    pub axes: Option<AxisSettings>,
    /// A point to follow in the body frame; all others where absent. May be given again. Needs --frame
    #[schemars(extend("option" = "follow-point", "value" = "POINT"))]
    pub tissue: Vec<String>,
    /// A distance to follow between two points; may be given again
    #[schemars(extend("option" = "distance", "value" = "A:B"))]
    pub distances: Vec<[String; 2]>,
    /// An angle to follow at the second of three points; may be given again
    #[schemars(extend("option" = "angle", "value" = "A:B:C"))]
    pub angles: Vec<[String; 3]>,
    /// A signal to follow, such as `heel_z`, `soft_vertical`, `A_to_B`, `A_B_C`; may be given again. All where absent
    #[schemars(extend("value" = "SIGNAL"))]
    pub follow: Vec<String>,
    /// Where cycles come from
    pub cycles: Option<CycleSettings>,
    /// The cutoff of the filter of curves: a number of Hz, or `residual`
    #[schemars(extend("value" = "HZ"))]
    pub cutoff: Option<Cutoff>,
    /// The cutoff of the filter of points in the body frame
    #[schemars(extend("option" = "tissue-cutoff", "unit" = "Hz", "exclusiveMinimum" = 0))]
    pub tissue_cutoff_hz: Option<f64>,
    /// The frame, from 0, that changes are counted from
    #[schemars(extend("value" = "FRAME"))]
    pub reference: usize,
    /// Pairs of files of one person, without and with a garment, by their names without the ending: `{ reference = "..", garment = ".." }`
    #[schemars(extend("option" = "-"))]
    pub compare: Vec<Pair>,
    /// Seed of the intervals of a comparison
    pub seed: u64,
}

impl Default for PointsSettings {
    fn default() -> Self {
        Self {
            up: Up::default(),
            origin_is_missing: false,
            frame: Vec::new(),
            axes: None,
            tissue: Vec::new(),
            distances: Vec::new(),
            angles: Vec::new(),
            follow: Vec::new(),
            cycles: None,
            cutoff: None,
            tissue_cutoff_hz: None,
            reference: 0,
            compare: Vec::new(),
            seed: CompareParams::default().seed,
        }
    }
}

/// Which axis of a file points up.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Up {
    /// Found from how the points are spread
    #[default]
    Auto,
    /// The second axis, as is common in TRC files
    Y,
    /// The third axis
    Z,
}

/// The signal that is the height of the body frame.
pub(super) const FRAME: &str = "frame";

impl PointsSettings {
    /// Where cycles come from; the height of the body frame where nothing is said and there is one, or the events.
    pub(super) fn cycles_asked(&self, events: bool) -> Option<CycleSettings> {
        match &self.cycles {
            None if events || !self.frame.is_empty() => Some(CycleSettings::default()),
            asked => asked.clone(),
        }
    }
}
