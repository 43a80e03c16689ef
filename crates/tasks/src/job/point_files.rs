//! Trajectories of points -> the content of files.

use formkin_motion::changes::{CaptureCourses, DimensionChange, change_table};
use formkin_motion::cycles::pooled::{DimensionComponents, dimension_components};
use formkin_motion::points::PointTracks;
use formkin_motion::soft::compare::CompareParams;
use serde::{Deserialize, Serialize};
use serde_json::{Value, json};

use crate::TaskError;
use crate::job::condition_files::{component_files, condition_files};
use crate::job::conditions::{Compared, Conditions, Pair, conditions, paired};
use crate::job::curve_files::{changes_csv, curve_files};
use crate::job::deep_files::deep_summary;
use crate::job::formats::Made;
use crate::job::points::PointsOutcome;
use crate::job::signals::csv_cell;

/// Components kept of each signal's curves.
pub const COMPONENTS: usize = 5;

/// What all captures of points say together.
#[derive(Debug, Clone, Default, Serialize, Deserialize)]
pub struct PointsTogether {
    /// All signals, the largest range first.
    pub changes: Vec<DimensionChange>,
    /// Functional components of their curves over the cycle.
    pub components: Vec<DimensionComponents>,
    /// Conditions compared.
    pub conditions: Option<Conditions>,
}

/// Gathers what captures of points say together.
///
/// # Errors
/// A pair that names a capture that is not there, has nothing to compare, or is of two people.
pub fn points_together(
    captures: &[PointsOutcome],
    pairs: &[Pair],
    params: &CompareParams,
) -> Result<PointsTogether, TaskError> {
    let courses: Vec<CaptureCourses> = captures
        .iter()
        .map(|c| CaptureCourses {
            participant: c.participant.clone(),
            capture: c.capture.clone(),
            courses: c.deep.courses.clone(),
        })
        .collect();
    let compared: Vec<Compared<'_>> = captures
        .iter()
        .map(|c| Compared {
            capture: &c.capture,
            participant: &c.participant,
            tissue: &c.deep.tissue,
            courses: &c.deep.courses,
            cycle_s: c.deep.cycles.as_ref().and_then(|c| c.mean_s),
            vertical_ranges_mm: &[],
        })
        .collect();
    let conditions =
        if pairs.is_empty() { None } else { Some(conditions(&paired(&compared, pairs)?, params)?) };
    Ok(PointsTogether {
        changes: change_table(&courses),
        components: dimension_components(&courses, COMPONENTS)?,
        conditions,
    })
}

/// Trajectories in the laboratory and, where there is one, in the body frame, as TRC and CSV.
pub fn track_files(what: &str, laboratory: &PointTracks, body: Option<&PointTracks>) -> Vec<Made> {
    let mut files = Vec::new();
    for (tracks, place) in [(Some(laboratory), "laboratory"), (body, "body")] {
        let Some(tracks) = tracks else { continue };
        let trc = format!("{what}-{place}.trc");
        let text = tracks.to_trc(&trc);
        let whole = "Trajectories, mm, z up, as TRC";
        files.push(Made { name: trc, what: whole, bytes: text.into_bytes() });
        let whole = "Trajectories, mm, z up, one row a frame";
        let name = format!("{what}-{place}.csv");
        files.push(Made { name, what: whole, bytes: tracks.to_csv().into_bytes() });
    }
    files
}

/// The files of a capture of points.
#[must_use]
pub fn points_outputs(points: &PointsOutcome) -> Vec<Made> {
    let mut files = track_files("points", &points.tracks, points.body.as_ref());
    let mut csv = String::from("time_s");
    for c in &points.curves {
        csv.push(',');
        csv.push_str(&csv_cell(&format!("{}_{}", c.dimension, c.unit)));
    }
    csv.push('\n');
    for (k, time) in points.tracks.times_s.iter().enumerate() {
        csv.push_str(&time.to_string());
        for c in &points.curves {
            csv.push_str(
                &c.values.get(k).copied().flatten().map_or_else(|| ",".into(), |v| format!(",{v:.4}")),
            );
        }
        csv.push('\n');
    }
    files.push(Made {
        name: "signals.csv".into(),
        what: "Signals through time, one row a frame, as measured",
        bytes: csv.into_bytes(),
    });
    files.extend(curve_files(&points.deep));
    files
}

/// The files of all captures together.
///
/// # Errors
/// As [`condition_files`].
pub fn points_together_outputs(together: &PointsTogether) -> Result<Vec<Made>, TaskError> {
    let mut files = vec![Made {
        name: "changes.csv".into(),
        what: "Signals over captures, cycles and people, the largest range first",
        bytes: changes_csv(&together.changes).into_bytes(),
    }];
    files.extend(component_files(&together.components));
    if let Some(conditions) = &together.conditions {
        files.extend(condition_files(conditions, None)?);
    }
    Ok(files)
}

/// The figures of a capture of points for programs.
#[must_use]
pub fn points_summary(points: &PointsOutcome) -> Value {
    let mut object = deep_summary(&points.deep);
    object["capture"] = json!(points.capture);
    object["participant"] = json!(points.participant);
    object["people"] = json!(1);
    object["points"] = json!(points.tracks.names);
    object["frames"] = json!(points.timing.frames);
    object["fps"] = json!(points.timing.fps);
    object["uniform"] = json!(points.timing.uniform);
    object["duration_s"] = json!(points.timing.duration_s);
    object["gaps"] = json!(points.timing.gaps);
    object["missing_share"] = json!(points.missing_share);
    object["up"] = json!(points.up);
    object
}

/// The figures of all captures together.
#[must_use]
pub fn points_together_summary(together: &PointsTogether) -> Value {
    json!({
        "changes": together.changes,
        "components": components_summary(&together.components),
        "comparisons": together.conditions.as_ref().map(|c| &c.comparisons),
    })
}

/// Components in figures: shares, no curves.
#[must_use]
pub fn components_summary(components: &[DimensionComponents]) -> Value {
    let one = |d: &DimensionComponents| {
        json!({
            "dimension": d.dimension, "unit": d.unit, "people": d.people, "captures": d.captures,
            "cycles": d.curves.len(), "variances": d.components.variances, "total_variance": d.components.total_variance,
            "explained": d.components.variances.iter().map(|v| v / d.components.total_variance).collect::<Vec<_>>(),
        })
    };
    components.iter().map(one).collect()
}
