//! What a check has to say about an item.

use serde::{Deserialize, Serialize};

/// How much a finding matters.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Severity {
    /// To know about.
    Note,
    /// To look at before results are used.
    Warning,
    /// Results that use this item are wrong.
    Error,
}

/// What kind of fault was found. In JSON and CSV the names are in kebab case.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
#[non_exhaustive]
pub enum FindingKind {
    /// The surface is open.
    NotWatertight,
    /// Edges on more than two triangles.
    NonManifold,
    /// Neighbouring triangles that disagree about the outside.
    InconsistentTriangles,
    /// Triangles that name a vertex twice.
    DegenerateTriangles,
    /// A surface of several parts.
    SeveralComponents,
    /// Vertices on no triangle.
    UnusedVertices,
    /// An item that was set aside at import.
    Quarantined,
    /// A position that is NaN or infinite.
    NotFinite,
    /// A height that no body has.
    Unit,
    /// The body does not stand along the height axis.
    HeightAxis,
    /// The body stands on its head.
    UpsideDown,
    /// A mirror image fits better.
    Mirrored,
    /// Triangles that look inward.
    InsideOut,
    /// Triangles turned over against their surroundings.
    FlippedTriangles,
    /// Triangles without area.
    CollapsedTriangles,
    /// Edges far longer or shorter than the template's.
    StretchedEdges,
    /// Vertices far off their neighbours.
    Spike,
    /// Area or volume jumps between two frames.
    AreaOrVolumeJump,
    /// Frames that do not move.
    FrozenFrames,
    /// Time stamps with a hole.
    DroppedFrames,
    /// Frame numbers with a hole.
    MissingFrames,
    /// The same positions twice.
    Duplicate,
    /// Two participants with almost the same shape.
    NearDuplicate,
    /// The floor moves.
    FloorDrift,
    /// A participant that the table does not list.
    ParticipantNotInTable,
    /// A row of the table without a scan.
    ParticipantWithoutScans,
}

impl FindingKind {
    /// The name used in JSON: `not-watertight`.
    #[must_use]
    pub fn name(self) -> String {
        let mut name = String::new();
        for (i, c) in format!("{self:?}").chars().enumerate() {
            if c.is_uppercase() && i > 0 {
                name.push('-');
            }
            name.push(c.to_ascii_lowercase());
        }
        name
    }
}

impl std::fmt::Display for FindingKind {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(&self.name())
    }
}

/// One thing that a check found. Nothing is ever repaired.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Finding {
    /// The item, capture or participant it is about; empty where it is about the cohort as a whole.
    pub item: String,
    /// What kind of fault.
    pub kind: FindingKind,
    /// How much it matters.
    pub severity: Severity,
    /// What was found, in words for a person.
    pub message: String,
    /// How far off, in `unit`.
    pub amount: Option<f64>,
    /// Unit of `amount`: "mm", "deg", "%", "s", "vertices".
    pub unit: Option<String>,
    /// What to do.
    pub advice: String,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_are_the_ones_of_the_json() {
        for kind in [FindingKind::NotWatertight, FindingKind::Spike, FindingKind::AreaOrVolumeJump] {
            assert_eq!(serde_json::to_value(kind).unwrap(), kind.name());
        }
    }
}
