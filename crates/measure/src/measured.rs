//! One dimension taken on one body.

use formkin_geometry::Point;
use serde::{Deserialize, Serialize};

/// One dimension taken on one body.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct Measured {
    /// The value in the unit of its definition; `None` where it could not be taken.
    pub value: Option<f64>,
    /// The contour beside a taut tape, in the same unit: the length of the section itself, which follows hollows. For
    /// bridged paths the length along the skin.
    pub contour: Option<f64>,
    /// Height of the plane above the floor, or its place along the limb from the first end of its axis, in mm.
    pub level_mm: Option<f64>,
    /// What a reader must know of this value.
    pub flags: Vec<String>,
    /// Polylines in mm that show where it was taken; for pictures.
    pub trace: Vec<Vec<Point>>,
    /// Why there is no value.
    pub reason_missing: Option<String>,
}

impl Measured {
    /// No value, and why.
    #[must_use]
    pub fn missing(reason: impl Into<String>) -> Self {
        Self { reason_missing: Some(reason.into()), ..Self::default() }
    }
}
