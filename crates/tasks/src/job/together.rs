//! All movements together: the table of changes, dynamic allowance, conditions compared, a shared motion space.

use formkin_cohort::Cohort;
use formkin_motion::changes::{Allowance, CaptureCourses, DimensionChange, allowances, change_table};
use formkin_motion::cycles::pooled::{DimensionComponents, dimension_components};
use formkin_motion::shared::{CaptureFrames, SharedMotion, SharedParams};
use formkin_motion::soft::compare::CompareParams;
use serde::{Deserialize, Serialize};

use crate::TaskError;
use crate::job::conditions::{Compared, Conditions, Pair, conditions, paired};
use crate::job::movement::{MovementOutcome, find_capture, times, without};
use crate::job::point_files::COMPONENTS;

/// What all movements say together.
#[derive(Debug, Clone, Default, Serialize, Deserialize)]
pub struct Together {
    /// All dimensions, the largest range first.
    pub changes: Vec<DimensionChange>,
    /// What a garment must allow for.
    pub allowances: Vec<Allowance>,
    /// Functional components of the curves over the cycle, of all cycles of all captures.
    pub components: Vec<DimensionComponents>,
    /// Conditions compared.
    pub conditions: Option<Conditions>,
    /// One motion space over all captures.
    pub shared: Option<SharedMotion>,
}

/// Gathers what the movements say together.
///
/// # Errors
/// A pair that names a capture with nothing to compare, or of two people; shapes that cannot be read.
pub fn together(
    cohort: &Cohort,
    movements: &[MovementOutcome],
    pairs: &[Pair],
    shared: Option<&SharedParams>,
    seed: u64,
    progress: &(dyn Fn(usize, usize) + Sync),
) -> Result<Together, TaskError> {
    let captures: Vec<CaptureCourses> = movements
        .iter()
        .map(|m| CaptureCourses {
            participant: m.participant.clone(),
            capture: m.capture.clone(),
            courses: m.deep.courses.clone(),
        })
        .collect();
    let compared: Vec<Compared<'_>> = movements.iter().map(compared).collect();
    let conditions = if pairs.is_empty() {
        None
    } else {
        Some(conditions(&paired(&compared, pairs)?, &CompareParams { seed, ..CompareParams::default() })?)
    };
    let shared = match shared {
        Some(params) if movements.len() > 1 => Some(shared_space(cohort, movements, params, progress)?),
        _ => None,
    };
    Ok(Together {
        changes: change_table(&captures),
        allowances: allowances(&captures)?,
        components: dimension_components(&captures, COMPONENTS)?,
        conditions,
        shared,
    })
}

fn compared(movement: &MovementOutcome) -> Compared<'_> {
    Compared {
        capture: &movement.capture,
        participant: &movement.participant,
        tissue: &movement.deep.tissue,
        courses: &movement.deep.courses,
        cycle_s: movement.deep.cycles.as_ref().and_then(|c| c.mean_s),
        vertical_ranges_mm: &movement.deep.vertical_ranges_mm,
    }
}

fn shared_space(
    cohort: &Cohort,
    movements: &[MovementOutcome],
    params: &SharedParams,
    progress: &(dyn Fn(usize, usize) + Sync),
) -> Result<SharedMotion, TaskError> {
    let mut sources = Vec::new();
    for m in movements {
        let capture = without(&find_capture(cohort, Some(&m.capture))?, &m.motion.findings);
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
