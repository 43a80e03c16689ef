//! Open, non-manifold or composite surfaces.

use formkin_geometry::TopologySummary;

use crate::finding::{Finding, FindingKind, Severity};

/// Findings about the shared triangles. An open surface is no failure: it only has no volume.
pub(crate) fn findings(s: &TopologySummary) -> Vec<Finding> {
    use FindingKind::{
        DegenerateTriangles, InconsistentTriangles, NonManifold, NotWatertight, SeveralComponents,
        UnusedVertices,
    };
    let all = [
        (
            s.boundary_edges,
            NotWatertight,
            Severity::Note,
            format!("the surface is not watertight: {} edges are on one triangle only", s.boundary_edges),
            "edges",
            "volumes are not taken; close the template where volumes are wanted",
        ),
        (
            s.non_manifold_edges,
            NonManifold,
            Severity::Warning,
            format!("{} edges are on more than two triangles", s.non_manifold_edges),
            "edges",
            "sections and paths may go wrong there; mend the template",
        ),
        (
            s.inconsistent_edges,
            InconsistentTriangles,
            Severity::Warning,
            format!("at {} edges two triangles disagree about the outside", s.inconsistent_edges),
            "edges",
            "turn the triangles of the template so that all look outward",
        ),
        (
            s.degenerate_triangles,
            DegenerateTriangles,
            Severity::Warning,
            format!("{} triangles name a vertex twice", s.degenerate_triangles),
            "triangles",
            "remove them from the template",
        ),
        (
            if s.components > 1 { s.components } else { 0 },
            SeveralComponents,
            Severity::Note,
            format!("the surface consists of {} separate parts", s.components),
            "parts",
            "weld the template where it should be one surface",
        ),
        (
            s.unused_vertices,
            UnusedVertices,
            Severity::Note,
            format!("{} vertices are on no triangle", s.unused_vertices),
            "vertices",
            "they have no weight; remove them from the template where they mean nothing",
        ),
    ];
    all.into_iter()
        .filter(|(count, ..)| *count > 0)
        .map(|(count, kind, severity, message, unit, advice)| Finding {
            item: String::new(),
            kind,
            severity,
            message,
            amount: Some(count as f64),
            unit: Some(unit.to_owned()),
            advice: advice.to_owned(),
        })
        .collect()
}
