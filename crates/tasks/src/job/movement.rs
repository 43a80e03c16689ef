//! A capture -> modes and curves.

use formkin_cohort::{Capture, Cohort};
use formkin_measure::Dimensions;
use formkin_measure::definition::Kind;
use formkin_motion::broken::broken;
use formkin_motion::frozen::changes_mm;
use formkin_motion::{
    Curve, CurveParams, Finding, FindingKind, Motion, MotionParams, Reference, Timing, curves,
};
use serde::{Deserialize, Serialize};

use crate::TaskError;
use crate::job::clock::cutoffs_fit;
use crate::job::deep::{Deep, DeepSettings, Taken, deepen};

/// What is asked for.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct MovementJob {
    /// Settings of the modes.
    pub params: MotionParams,
    /// The definitions of dimensions; no curves without.
    pub dimensions: Option<Dimensions>,
    /// Which of them to follow through time; all where empty.
    pub follow: Vec<String>,
    /// What is asked for beyond modes and curves.
    #[serde(default)]
    pub deep: DeepSettings,
}

/// What came out.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub struct MovementOutcome {
    /// The capture.
    pub capture: String,
    /// Who moves.
    pub participant: String,
    /// Modes and their course in time.
    pub motion: Motion,
    /// Dimensions through time.
    pub curves: Vec<Curve>,
    /// Cycles, soft tissue, strain and the like, as asked for.
    pub deep: Deep,
}

/// The capture of this name, or the only one where no name is given.
///
/// # Errors
/// [`TaskError::Nothing`] where there is none of that name, or several and no name, with the names that there are.
pub fn find_capture(cohort: &Cohort, id: Option<&str>) -> Result<Capture, TaskError> {
    let mut captures = cohort.captures();
    let names: Vec<String> = captures.iter().map(|c| c.id.clone()).collect();
    let nothing = |what: String| TaskError::Nothing {
        what,
        advice: if names.is_empty() {
            "a sequence needs files with running numbers or an NPY file of frames".into()
        } else {
            format!("name one of {}", names.join(", "))
        },
    };
    let found = match id {
        Some(id) => captures.iter().position(|c| c.id == id).ok_or_else(|| {
            nothing(format!("{} has no capture `{id}` of several frames", cohort.path().display()))
        })?,
        None if captures.len() == 1 => 0,
        None => return Err(nothing(format!("{} has {} captures", cohort.path().display(), captures.len()))),
    };
    Ok(captures.swap_remove(found))
}

/// The time of every frame.
///
/// # Errors
/// [`TaskError::Nothing`] where a frame has none.
pub fn times(cohort: &Cohort, capture: &Capture) -> Result<Vec<f64>, TaskError> {
    capture.items.iter().map(|&i| cohort.items()[i].time_s).collect::<Option<Vec<f64>>>().ok_or_else(|| {
        TaskError::Nothing {
            what: format!("the frames of `{}` have no times", capture.id),
            advice: "import again with --fps, or with a times file beside the frames".into(),
        }
    })
}

/// Why a capture is no movement; `None` where it is one.
#[must_use]
pub fn no_movement(capture: &Capture) -> Option<String> {
    let frames = capture.items.len();
    (frames < 2).then(|| {
        format!(
            "The sequence `{}` has {frames} good {} and is left out: a movement needs two or more. Record it again, or import its frame as a still pose.",
            capture.id,
            if frames == 1 { "frame" } else { "frames" }
        )
    })
}

/// Takes the rigid part out of every frame, finds the modes, and follows the dimensions.
///
/// # Errors
/// Frames without times, settings out of range, or shapes that cannot be read.
pub fn movement(
    cohort: &Cohort,
    capture: &Capture,
    job: &MovementJob,
    progress: &(dyn Fn(usize, usize) + Sync),
) -> Result<MovementOutcome, TaskError> {
    described(cohort, capture, job, progress).map_err(|e| e.of(&capture.id))
}

fn described(
    cohort: &Cohort,
    capture: &Capture,
    job: &MovementJob,
    progress: &(dyn Fn(usize, usize) + Sync),
) -> Result<MovementOutcome, TaskError> {
    let (capture, broken) = without_broken(cohort, capture)?;
    let capture = &capture;
    let params = MotionParams {
        reference_frame: among_the_rest(job.params.reference_frame, &broken)?,
        ..job.params.clone()
    };
    let times = times(cohort, capture)?;
    let tissue_hz = job.deep.tissue.as_ref().and_then(|t| t.cutoff_hz);
    cutoffs_fit(&Timing::of(&times, times.len())?, job.deep.cutoff, tissue_hz)?;
    let frames = cohort.select(capture.items.clone());
    let template = cohort.template();
    let mut motion = params.fit(&frames, template.mesh.topology(), &times, progress)?;
    motion.findings.extend(broken);
    let curves = match &job.dimensions {
        None => Vec::new(),
        Some(dimensions) => {
            let dimensions = needed(dimensions, &job.follow)?;
            dimensions.check(template)?;
            let cycle_hz = motion.frequencies.first().copied().flatten().map(|f| f.hz);
            let params = CurveParams { reference: params.reference_frame, cycle_hz };
            let mut found = curves(&dimensions, template, &frames, &times, &params, progress)?;
            found.retain(|c| job.follow.is_empty() || job.follow.contains(&c.dimension));
            found
        }
    };
    let taken = Taken {
        cohort,
        capture,
        frames: &frames,
        times_s: &times,
        motion: &motion,
        curves: &curves,
        reference: params.reference_frame,
    };
    let deep = deepen(&taken, &job.deep, progress)?;
    Ok(MovementOutcome {
        capture: capture.id.clone(),
        participant: capture.participant.clone(),
        motion,
        curves,
        deep,
    })
}

/// The capture without its broken frames, and those.
fn without_broken(cohort: &Cohort, capture: &Capture) -> Result<(Capture, Vec<Finding>), TaskError> {
    let found = broken(&changes_mm(&cohort.select(capture.items.clone()))?);
    Ok((without(capture, &found), found))
}

/// The capture without the frames that findings say are broken.
pub fn without(capture: &Capture, findings: &[Finding]) -> Capture {
    let lost = |k: usize| findings.iter().any(|f| f.kind == FindingKind::BrokenFrame && f.frame == Some(k));
    let items = capture.items.iter().enumerate().filter(|(k, _)| !lost(*k)).map(|(_, i)| *i).collect();
    Capture { items, ..capture.clone() }
}

/// A reference frame, counted among the frames that are not broken.
fn among_the_rest(reference: Reference, broken: &[Finding]) -> Result<Reference, TaskError> {
    let Reference::Frame(frame) = reference else { return Ok(reference) };
    if broken.iter().any(|f| f.frame == Some(frame)) {
        return Err(TaskError::Nothing {
            what: format!("the reference frame {frame} is broken"),
            advice: "name another, in which the body is whole".to_owned(),
        });
    }
    Ok(Reference::Frame(frame - broken.iter().filter(|f| f.frame.is_some_and(|b| b < frame)).count()))
}

/// The definitions of these names, and, where one of them is derived, of all: it may need any of them.
///
/// # Errors
/// [`TaskError::Setting`] for a name that is not defined.
fn needed(dimensions: &Dimensions, names: &[String]) -> Result<Dimensions, TaskError> {
    let mut wanted = Vec::new();
    for name in names {
        let definition = dimensions.get(name).ok_or_else(|| TaskError::Setting {
            setting: "a dimension to follow",
            value: name.clone(),
            known: dimensions.definitions.iter().map(|d| d.name.as_str()).collect::<Vec<_>>().join(", "),
        })?;
        wanted.push(definition.clone());
    }
    if wanted.is_empty() || wanted.iter().any(|d| matches!(d.kind, Kind::Derived { .. })) {
        return Ok(dimensions.clone());
    }
    Ok(Dimensions { frame: dimensions.frame.clone(), definitions: wanted })
}
