//! All movements together: the table of changes, dynamic allowance, components of curves, conditions compared, one motion space.

use std::sync::Arc;

use formkin_cohort::Cohort;
use formkin_geometry::{Point, Topology};
use formkin_motion::changes::{Allowance, CaptureCourses, DimensionChange, allowances, change_table};
use formkin_motion::cycles::pooled::{DimensionComponents, dimension_components};
use formkin_motion::shared::{CaptureFrames, SharedMotion};
use formkin_motion::soft::compare::CompareParams;
use serde::{Deserialize, Serialize};

use super::settings::{MovementsSettings, SharedSettings};
use crate::motion::{Motion, MotionOutcome, find_capture, times, without};
use crate::signals::conditions::{conditions, paired};
use crate::signals::{COMPONENTS, Compared, Conditions};
use crate::{Progress, Ran, TaskError};

/// The movements of a study.
pub struct MovementsInputs {
    /// The bodies.
    pub cohort: Arc<Cohort>,
    /// One run a capture.
    pub motions: Vec<Arc<Ran<Motion>>>,
    /// Sequences that are no movements, and why.
    pub left_out: Vec<String>,
}

impl std::fmt::Debug for MovementsInputs {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_list().entries(self.motions.iter().map(|m| &m.label)).finish()
    }
}

impl MovementsInputs {
    pub(super) fn outcomes(&self) -> impl Iterator<Item = &MotionOutcome> {
        self.motions.iter().map(|m| &m.outcome)
    }

    /// The surface that maps are drawn on: the mean of the first movement.
    pub(super) fn body(&self) -> Option<(&Topology, &[Point])> {
        let first = self.outcomes().next()?;
        Some((self.cohort.template().mesh.topology(), &first.motion.mean))
    }
}

/// What all movements say together.
#[derive(Debug, Clone, Default, Serialize, Deserialize)]
pub struct MovementsOutcome {
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

/// Gathers what movements say together.
///
/// # Errors
/// A pair that names a capture with nothing to compare, or of two people; shapes that cannot be read.
pub(super) fn run(
    settings: &MovementsSettings,
    inputs: &MovementsInputs,
    progress: Progress<'_>,
) -> Result<MovementsOutcome, TaskError> {
    let (cohort, movements) = (&inputs.cohort, inputs.outcomes().collect::<Vec<_>>());
    let captures: Vec<CaptureCourses> = movements.iter().map(|m| m.courses()).collect();
    let compared: Vec<Compared<'_>> = movements.iter().map(|m| m.compared()).collect();
    let conditions = if settings.compare.is_empty() {
        None
    } else {
        let params = CompareParams { seed: settings.seed, ..CompareParams::default() };
        Some(conditions(&paired(&compared, &settings.compare)?, &params)?)
    };
    let shared = match settings.shared {
        Some(shared) if movements.len() > 1 => Some(shared_space(cohort, &movements, shared, progress)?),
        _ => None,
    };
    Ok(MovementsOutcome {
        changes: change_table(&captures),
        allowances: allowances(&captures)?,
        components: dimension_components(&captures, COMPONENTS)?,
        conditions,
        shared,
    })
}

fn shared_space(
    cohort: &Cohort,
    movements: &[&MotionOutcome],
    settings: SharedSettings,
    progress: Progress<'_>,
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
    let params = formkin_motion::shared::SharedParams::from(settings);
    Ok(params.fit(&captures, cohort.template().mesh.topology(), progress)?)
}
