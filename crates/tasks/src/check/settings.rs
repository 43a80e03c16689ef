//! The limits beyond which something is a finding.

use std::path::PathBuf;

use formkin_cohort::CheckParams;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::Problems;

/// The files of the command.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct CheckSources {
    /// The cohort
    #[schemars(extend("position" = 1, "needed" = true))]
    pub cohort: PathBuf,
}

/// The limits.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct CheckSettings {
    /// Least and greatest height of a body, in m
    #[schemars(extend("rare" = true, "value" = "LEAST:GREATEST"))]
    pub height_m: [f64; 2],
    /// Greatest angle between a still pose and the height axis, in degrees
    #[schemars(extend("rare" = true, "unit" = "degrees", "value" = "DEG", "exclusiveMinimum" = 0))]
    pub tilt_deg: f64,
    /// Greatest 99th percentile of the ratio of an edge to its usual length
    #[schemars(extend("rare" = true, "exclusiveMinimum" = 1))]
    pub edge_ratio: f64,
    /// Greatest change of area, or of the volume of closed surfaces, from one frame to the next, in per cent
    #[schemars(extend("rare" = true, "unit" = "per cent", "value" = "PERCENT", "exclusiveMinimum" = 0))]
    pub jump_percent: f64,
    /// Least movement from one frame to the next, root mean square over vertices
    #[schemars(extend("rare" = true, "unit" = "mm", "exclusiveMinimum" = 0))]
    pub frozen_mm: f64,
    /// Greatest time step as a multiple of the median step
    #[schemars(extend("rare" = true, "exclusiveMinimum" = 1))]
    pub gap_factor: f64,
    /// Greatest change of the floor during a sequence, and greatest height of a still pose above the floor
    #[schemars(extend("rare" = true, "unit" = "mm", "exclusiveMinimum" = 0))]
    pub floor_drift_mm: f64,
    /// Least distance between still poses of two participants, root mean square after alignment
    #[schemars(extend("rare" = true, "unit" = "mm", "exclusiveMinimum" = 0))]
    pub near_duplicate_mm: f64,
}

impl Default for CheckSettings {
    fn default() -> Self {
        let CheckParams {
            height_m,
            tilt_deg,
            edge_ratio,
            jump_percent,
            frozen_mm,
            gap_factor,
            floor_drift_mm,
            near_duplicate_mm,
        } = CheckParams::default();
        Self {
            height_m,
            tilt_deg,
            edge_ratio,
            jump_percent,
            frozen_mm,
            gap_factor,
            floor_drift_mm,
            near_duplicate_mm,
        }
    }
}

impl CheckSettings {
    pub(super) fn check(&self, problems: &mut Problems) {
        let [least, greatest] = self.height_m;
        let given = format!("{least} to {greatest}");
        let fits = least > 0.0 && greatest > least;
        problems.within("height_m", fits, given, "two heights above 0 m, the lesser one first");
    }

    pub(super) fn params(&self) -> CheckParams {
        let Self {
            height_m,
            tilt_deg,
            edge_ratio,
            jump_percent,
            frozen_mm,
            gap_factor,
            floor_drift_mm,
            near_duplicate_mm,
        } = *self;
        CheckParams {
            height_m,
            tilt_deg,
            edge_ratio,
            jump_percent,
            frozen_mm,
            gap_factor,
            floor_drift_mm,
            near_duplicate_mm,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::problem::Given;

    #[test]
    fn heights_must_be_in_order() {
        let said = |height_m| {
            let mut problems = Problems::new(Given::Section("check".into()));
            CheckSettings { height_m, ..CheckSettings::default() }.check(&mut problems);
            problems.found.iter().map(ToString::to_string).collect::<Vec<_>>()
        };
        assert!(said([0.4, 2.3]).is_empty());
        assert_eq!(
            said([2.3, 0.4]),
            ["check.height_m: it is 2.3 to 0.4; it must be two heights above 0 m, the lesser one first"]
        );
    }
}
