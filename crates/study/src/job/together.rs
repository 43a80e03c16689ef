//! All movements together: the table of changes, dynamic allowance, conditions compared, a shared motion space.

use formkin_cohort::Cohort;
use formkin_motion::changes::{Allowance, CaptureCourses, DimensionChange, allowances, change_table};
use formkin_motion::shared::{CaptureFrames, SharedMotion, SharedParams};
use formkin_motion::soft::compare::{CompareParams, Comparison, PersonCycles, compare};
use formkin_motion::soft::tissue::{Tissue, TissueCycle};
use serde::{Deserialize, Serialize};

use crate::StudyError;
use crate::job::movement::{MovementOutcome, find_capture, times};

/// Two captures of one person: without and with the garment.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Pair {
    /// The capture in the reference condition.
    pub reference: String,
    /// The capture with the garment.
    pub garment: String,
}

/// Conditions compared.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub struct Conditions {
    /// One comparison a region and measure.
    pub comparisons: Vec<Comparison>,
    /// How much less every vertex moves vertically with the garment, the mean over the pairs, in mm.
    pub reduction_mm: Vec<f64>,
}

/// What all movements say together.
#[derive(Debug, Clone, Default, Serialize, Deserialize)]
pub struct Together {
    /// All dimensions, the largest range first.
    pub changes: Vec<DimensionChange>,
    /// What a garment must allow for.
    pub allowances: Vec<Allowance>,
    /// Conditions compared.
    pub conditions: Option<Conditions>,
    /// One motion space over all captures.
    pub shared: Option<SharedMotion>,
}

/// Gathers what the movements say together.
///
/// # Errors
/// A pair that names a capture without soft tissue, or of two people; shapes that cannot be read.
pub fn together(
    cohort: &Cohort,
    movements: &[MovementOutcome],
    pairs: &[Pair],
    shared: Option<&SharedParams>,
    progress: &(dyn Fn(usize, usize) + Sync),
) -> Result<Together, StudyError> {
    let captures: Vec<CaptureCourses> = movements
        .iter()
        .map(|m| CaptureCourses {
            participant: m.participant.clone(),
            capture: m.capture.clone(),
            courses: m.deep.courses.clone(),
        })
        .collect();
    let conditions = if pairs.is_empty() { None } else { Some(conditions(movements, pairs)?) };
    let shared = match shared {
        Some(params) if movements.len() > 1 => Some(shared_space(cohort, movements, params, progress)?),
        _ => None,
    };
    Ok(Together { changes: change_table(&captures), allowances: allowances(&captures)?, conditions, shared })
}

fn shared_space(
    cohort: &Cohort,
    movements: &[MovementOutcome],
    params: &SharedParams,
    progress: &(dyn Fn(usize, usize) + Sync),
) -> Result<SharedMotion, StudyError> {
    let mut sources = Vec::new();
    for m in movements {
        let capture = find_capture(cohort, Some(&m.capture))?;
        let times_s = times(cohort, &capture)?;
        sources.push((m, cohort.select(capture.items), times_s));
    }
    let captures: Vec<CaptureFrames<'_>> = sources
        .iter()
        .map(|(m, source, times_s)| CaptureFrames {
            capture: m.capture.clone(),
            participant: m.participant.clone(),
            source,
            times_s: times_s.clone(),
        })
        .collect();
    Ok(params.fit(&captures, cohort.template().mesh.topology(), progress)?)
}

/// What is compared: its name with the unit, and its value in a cycle.
type Measure = (&'static str, fn(&TissueCycle) -> f64);

const MEASURES: [Measure; 2] =
    [("vertical range, mm", |c| c.vertical_mm), ("resultant range, mm", |c| c.resultant_mm)];

fn conditions(movements: &[MovementOutcome], pairs: &[Pair]) -> Result<Conditions, StudyError> {
    let of = |name: &str| {
        movements.iter().find(|m| m.capture == name).ok_or_else(|| StudyError::Setting {
            setting: "a capture to compare",
            value: name.to_owned(),
            known: movements.iter().map(|m| m.capture.as_str()).collect::<Vec<_>>().join(", "),
        })
    };
    let mut found = Vec::new();
    for pair in pairs {
        let (a, b) = (of(&pair.reference)?, of(&pair.garment)?);
        if a.participant != b.participant {
            return Err(StudyError::Setting {
                setting: "a pair of captures to compare",
                value: format!("{} and {}", pair.reference, pair.garment),
                known: "both of one person".to_owned(),
            });
        }
        if let Some(without) = [a, b].into_iter().find(|m| m.deep.tissue.is_empty()) {
            return Err(StudyError::Nothing {
                what: format!("`{}` has no soft tissue to compare", without.capture),
                advice: "name the frame and the regions of soft tissue, and a signal with cycles".to_owned(),
            });
        }
        found.push((a, b));
    }
    let mut regions: Vec<&str> = Vec::new();
    for t in found.iter().flat_map(|(a, _)| &a.deep.tissue) {
        if !regions.contains(&t.name.as_str()) {
            regions.push(&t.name);
        }
    }
    let mut comparisons = Vec::new();
    for region in regions {
        for (what, value) in MEASURES {
            let mut people: Vec<PersonCycles> = Vec::new();
            for (a, b) in &found {
                let named = |m: &MovementOutcome| m.deep.tissue.iter().find(|t| t.name == region).cloned();
                let (Some(ta), Some(tb)) = (named(a), named(b)) else { continue };
                let values = |t: &Tissue| t.cycles.iter().map(value).collect::<Vec<f64>>();
                let seconds = |m: &MovementOutcome| m.deep.cycles.as_ref().and_then(|c| c.mean_s);
                match people.iter_mut().find(|p| p.participant == a.participant) {
                    Some(person) => {
                        person.reference.extend(values(&ta));
                        person.garment.extend(values(&tb));
                    }
                    None => people.push(PersonCycles {
                        participant: a.participant.clone(),
                        reference: values(&ta),
                        garment: values(&tb),
                        cycle_s: seconds(a).zip(seconds(b)),
                    }),
                }
            }
            if !people.is_empty() {
                comparisons.push(compare(&format!("{region}: {what}"), &people, &CompareParams::default())?);
            }
        }
    }
    let vertices = found.first().map_or(0, |(a, _)| a.deep.vertical_ranges_mm.len());
    let mut reduction_mm = vec![0.0; vertices];
    for (a, b) in &found {
        for ((sum, x), y) in
            reduction_mm.iter_mut().zip(&a.deep.vertical_ranges_mm).zip(&b.deep.vertical_ranges_mm)
        {
            *sum += (x - y) / found.len() as f64;
        }
    }
    Ok(Conditions { comparisons, reduction_mm })
}
