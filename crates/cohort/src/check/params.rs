//! The limits of the checks.

use serde::{Deserialize, Serialize};

use crate::CohortError;

/// Limits of the checks.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct CheckParams {
    /// Least and greatest height of a body, in m. 0.4 to 2.3 m.
    pub height_m: [f64; 2],
    /// Greatest angle between a still pose and the height axis, in degrees. 15.
    pub tilt_deg: f64,
    /// Greatest 99th percentile of the ratio of an edge to its usual length. 3.
    pub edge_ratio: f64,
    /// Greatest change of area, or of the volume of closed surfaces, from one frame to the next, in per cent. 3.
    pub jump_percent: f64,
    /// Least movement from one frame to the next, root mean square over vertices, in mm. 0.01.
    pub frozen_mm: f64,
    /// Greatest time step as a multiple of the median step. 1.5.
    pub gap_factor: f64,
    /// Greatest change of the floor during a sequence, and greatest height of a still pose above the floor, in mm. 5.
    pub floor_drift_mm: f64,
    /// Least distance between still poses of two participants, root mean square after alignment, in mm. 2.
    pub near_duplicate_mm: f64,
}

impl Default for CheckParams {
    fn default() -> Self {
        Self {
            height_m: [0.4, 2.3],
            tilt_deg: 15.0,
            edge_ratio: 3.0,
            jump_percent: 3.0,
            frozen_mm: 0.01,
            gap_factor: 1.5,
            floor_drift_mm: 5.0,
            near_duplicate_mm: 2.0,
        }
    }
}

impl CheckParams {
    pub(super) fn validate(&self) -> Result<(), CohortError> {
        let positive = [
            ("height_m", self.height_m[0]),
            ("height_m", self.height_m[1] - self.height_m[0]),
            ("tilt_deg", self.tilt_deg),
            ("edge_ratio", self.edge_ratio - 1.0),
            ("jump_percent", self.jump_percent),
            ("frozen_mm", self.frozen_mm),
            ("gap_factor", self.gap_factor - 1.0),
            ("floor_drift_mm", self.floor_drift_mm),
            ("near_duplicate_mm", self.near_duplicate_mm),
        ];
        match positive.iter().find(|(_, x)| x.is_nan() || *x <= 0.0) {
            Some((setting, _)) => Err(CohortError::Setting {
                setting,
                reason: "limits must be positive, ratios above 1, and the heights in order".to_owned(),
            }),
            None => Ok(()),
        }
    }
}
