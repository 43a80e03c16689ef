//! Records of points, and what they say together.

use formkin_motion::changes::{CaptureCourses, DimensionChange, change_table};
use formkin_motion::cycles::pooled::{DimensionComponents, dimension_components};
use formkin_motion::soft::compare::CompareParams;
use serde::{Deserialize, Serialize};

use super::read::PointsInputs;
use super::record::{PointsRecord, describe};
use super::settings::PointsSettings;
use crate::signals::conditions::{conditions, paired};
use crate::signals::{COMPONENTS, Compared, Conditions};
use crate::{Progress, TaskError};

/// What is found in all records.
#[derive(Debug, Clone, Default, Serialize, Deserialize)]
pub struct PointsOutcome {
    /// One a file, in their order.
    pub records: Vec<PointsRecord>,
    /// All signals, the largest range first.
    pub changes: Vec<DimensionChange>,
    /// Functional components of their curves over the cycle.
    pub components: Vec<DimensionComponents>,
    /// Conditions compared.
    pub conditions: Option<Conditions>,
}

impl PointsOutcome {
    /// How many people moved.
    #[must_use]
    pub fn people(&self) -> usize {
        let people: std::collections::BTreeSet<&str> =
            self.records.iter().map(|r| r.participant.as_str()).collect();
        people.len()
    }
}

/// Describes every record, then all together.
///
/// # Errors
/// Those of a record, with its name; records in none of which anything can be measured; a pair that names a record that is not there, has
/// nothing to compare, or is of two people.
pub(super) fn run(
    settings: &PointsSettings,
    inputs: &PointsInputs,
    progress: Progress<'_>,
) -> Result<PointsOutcome, TaskError> {
    let mut records = Vec::new();
    for (i, file) in inputs.files.iter().enumerate() {
        let made = describe(file, settings, inputs.events.as_deref());
        records.push(made.map_err(|e| e.of(&file.capture))?);
        progress(i + 1, inputs.files.len());
    }
    measurable(&records)?;
    let courses: Vec<CaptureCourses> = records
        .iter()
        .map(|r| CaptureCourses {
            participant: r.participant.clone(),
            capture: r.capture.clone(),
            courses: r.signals.courses.clone(),
        })
        .collect();
    let compared: Vec<Compared<'_>> = records.iter().map(compared).collect();
    let pairs = if inputs.pairs.is_empty() { &settings.compare } else { &inputs.pairs };
    let conditions = if pairs.is_empty() {
        None
    } else {
        let params = CompareParams { seed: settings.seed, ..CompareParams::default() };
        Some(conditions(&paired(&compared, pairs)?, &params)?)
    };
    Ok(PointsOutcome {
        changes: change_table(&courses),
        components: dimension_components(&courses, COMPONENTS)?,
        conditions,
        records,
    })
}

/// What a record brings to a comparison.
fn compared(record: &PointsRecord) -> Compared<'_> {
    Compared {
        capture: &record.capture,
        participant: &record.participant,
        tissue: &record.signals.tissue,
        courses: &record.signals.courses,
        cycle_s: record.signals.cycles.as_ref().and_then(|c| c.mean_s),
        vertical_ranges_mm: &[],
    }
}

/// Refuses records in none of which anything could be measured; the reasons are those of the signals.
fn measurable(records: &[PointsRecord]) -> Result<(), TaskError> {
    if records.is_empty()
        || records.iter().any(|m| !m.signals.courses.is_empty() || !m.signals.tissue.is_empty())
    {
        return Ok(());
    }
    let mut why: Vec<String> = Vec::new();
    for m in records {
        let mut own: Vec<&str> = Vec::new();
        for remark in &m.signals.remarks {
            // many signals have one reason
            let signal = |s: &str| m.curves.iter().any(|c| c.dimension == s);
            let reason = remark.split_once(": ").filter(|(s, _)| signal(s)).map_or(remark.as_str(), |r| r.1);
            if !own.contains(&reason) {
                own.push(reason);
            }
        }
        let frames = m.timing.frames;
        why.push(format!(
            "`{}`, with {frames} {} and {} points, {:.1} % of places not seen ({})",
            m.capture,
            if frames == 1 { "frame" } else { "frames" },
            m.tracks.names.len(),
            100.0 * m.missing_share,
            if own.is_empty() { "no signal".to_owned() } else { own.join("; ") },
        ));
    }
    Err(TaskError::Nothing {
        what: format!("nothing can be measured in {}", why.join(", nor in ")),
        advice: "give records of several frames in which the points are seen".to_owned(),
    })
}
