//! A capture to modes, curves, and what lies deeper in them.

use std::sync::Arc;

use formkin_cohort::{Capture, Cohort, CohortSubset};
use formkin_geometry::{Template, Topology};
use formkin_measure::Dimensions;
use formkin_measure::definition::Kind;
use formkin_motion::broken::broken;
use formkin_motion::changes::CaptureCourses;
use formkin_motion::cycles::given::{GivenEvent, events_of};
use formkin_motion::cycles::pooled::{DimensionComponents, dimension_components};
use formkin_motion::frozen::changes_mm;
use formkin_motion::soft::compare::CompareParams;
use formkin_motion::spectrum::{SpectrumPoint, spectrum};
use formkin_motion::{
    Curve, CurveParams, Finding, FindingKind, Motion, MotionParams, Reference, Timing, curves,
};
use serde::{Deserialize, Serialize};

use super::deep::Deep;
use super::settings::{MotionSettings, MotionSources};
use super::taken::Taken;
use crate::reading::read_dimensions;
use crate::signals::conditions::{conditions, paired};
use crate::signals::{COMPONENTS, Compared, Conditions, Pair, Signals, cutoffs_fit, read_events};
use crate::{Progress, TaskError, choices};

/// Modes whose spectrum is found.
const SPECTRA: usize = 3;

/// A capture of a cohort, and what is asked of it in files.
#[derive(Debug, Clone)]
pub struct MotionInputs {
    /// The bodies.
    pub cohort: Arc<Cohort>,
    /// The frames of one person.
    pub capture: Capture,
    /// A capture of the same person without the garment, to compare with.
    pub against: Option<Capture>,
    /// Definitions of the dimensions that are followed; no curves without.
    pub dimensions: Option<Dimensions>,
    /// Events that cycles run between, in place of a signal.
    pub events: Option<Vec<GivenEvent>>,
}

impl MotionInputs {
    pub(super) fn topology(&self) -> &Topology {
        self.cohort.template().mesh.topology()
    }

    pub(super) fn open(sources: &MotionSources) -> Result<Self, TaskError> {
        let cohort = Arc::new(Cohort::open(&sources.cohort)?);
        let capture = find_capture(&cohort, sources.capture.as_deref())?;
        let against = sources.against.as_deref().map(|id| find_capture(&cohort, Some(id))).transpose()?;
        Self { cohort, capture, against, dimensions: None, events: None }.with_files(sources)
    }

    /// With the definitions and the events that are named.
    pub(super) fn with_files(mut self, sources: &MotionSources) -> Result<Self, TaskError> {
        if let Some(path) = &sources.dimensions {
            self.dimensions = Some(read_dimensions(path)?);
        }
        if let Some(path) = &sources.events {
            self.events = Some(read_events(path)?);
        }
        Ok(self)
    }
}

/// What came out.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub struct MotionOutcome {
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
    /// The spectra of the first modes; none for a mode without, empty on an uneven clock.
    pub spectra: Vec<Option<Vec<SpectrumPoint>>>,
    /// Functional components of this capture's curves over the cycle.
    pub components: Vec<DimensionComponents>,
    /// This capture compared with the one that it is held against.
    pub conditions: Option<Conditions>,
}

impl MotionOutcome {
    /// What it brings to tables over captures.
    #[must_use]
    pub fn courses(&self) -> CaptureCourses {
        CaptureCourses {
            participant: self.participant.clone(),
            capture: self.capture.clone(),
            courses: self.deep.signals.courses.clone(),
        }
    }

    /// What it brings to a comparison of conditions.
    #[must_use]
    pub fn compared(&self) -> Compared<'_> {
        Compared {
            capture: &self.capture,
            participant: &self.participant,
            tissue: &self.deep.signals.tissue,
            courses: &self.deep.signals.courses,
            cycle_s: self.deep.signals.cycles.as_ref().and_then(|c| c.mean_s),
            vertical_ranges_mm: &self.deep.vertical_ranges_mm,
        }
    }
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

/// Takes the rigid part out of every frame, finds the modes, follows the dimensions, and compares with a capture without the garment.
///
/// # Errors
/// Frames without times, settings out of range, names that are not there, or shapes that cannot be read.
pub(super) fn run(
    settings: &MotionSettings,
    inputs: &MotionInputs,
    progress: Progress<'_>,
) -> Result<MotionOutcome, TaskError> {
    let mut made = movement(&inputs.capture, inputs, settings, progress)?;
    made.components = dimension_components(&[made.courses()], COMPONENTS)?;
    if let Some(against) = &inputs.against {
        // what is compared is soft tissue alone
        let settings = MotionSettings { strain: None, dynamics: None, posture: None, ..settings.clone() };
        let reference = movement(against, inputs, &settings, progress)?;
        let pair = Pair { reference: reference.capture.clone(), garment: made.capture.clone() };
        let params = CompareParams { seed: settings.seed, ..CompareParams::default() };
        let pairs = [reference.compared(), made.compared()];
        made.conditions = Some(conditions(&paired(&pairs, &[pair])?, &params)?);
    }
    Ok(made)
}

fn movement(
    capture: &Capture,
    inputs: &MotionInputs,
    settings: &MotionSettings,
    progress: Progress<'_>,
) -> Result<MotionOutcome, TaskError> {
    described(capture, inputs, settings, progress).map_err(|e| e.of(&capture.id))
}

fn described(
    capture: &Capture,
    inputs: &MotionInputs,
    settings: &MotionSettings,
    progress: Progress<'_>,
) -> Result<MotionOutcome, TaskError> {
    let cohort = &*inputs.cohort;
    let template = cohort.template();
    // events are counted in all frames, broken ones too
    let events_s = match (&inputs.events, &settings.cycles) {
        (Some(events), _) => events_of(&capture.id, events, &times(cohort, capture)?)?,
        (None, Some(cycles)) => cycles.at_s.clone(),
        (None, None) => Vec::new(),
    };
    let (capture, broken) = without_broken(cohort, capture)?;
    let params = MotionParams {
        reference_frame: among_the_rest(settings.reference, &broken)?,
        ..params(settings, template)?
    };
    let times = times(cohort, &capture)?;
    let tissue_hz = settings.tissue.as_ref().and_then(|t| t.cutoff_hz);
    let remarks = cutoffs_fit(&Timing::of(&times, times.len())?, settings.cutoff, tissue_hz)?;
    let frames = cohort.select(capture.items.clone());
    let mut motion = params.fit(&frames, template.mesh.topology(), &times, progress)?;
    motion.findings.extend(broken);
    let curves = followed(inputs, settings, &frames, &times, &params, &motion, progress)?;
    let taken = Taken {
        cohort,
        capture: &capture,
        frames: &frames,
        times_s: &times,
        events_s: &events_s,
        motion: &motion,
        curves: &curves,
        reference: params.reference_frame,
    };
    let mut deep = Deep { signals: Signals { remarks, ..Signals::default() }, ..Deep::default() };
    deep.fill(&taken, settings, inputs.events.is_some(), progress)?;
    Ok(MotionOutcome {
        capture: capture.id.clone(),
        participant: capture.participant.clone(),
        spectra: spectra(&motion),
        motion,
        curves,
        deep,
        components: Vec::new(),
        conditions: None,
    })
}

/// The settings of the modes.
fn params(settings: &MotionSettings, template: &Template) -> Result<MotionParams, TaskError> {
    let region = settings.region.as_ref().map(|r| choices::region("region", r, template)).transpose()?;
    Ok(MotionParams {
        removes: settings.align.into(),
        region,
        weighting: settings.weights.into(),
        modes: settings.modes,
        reference_frame: Reference::Frame(settings.reference),
        seed: settings.seed,
        ..MotionParams::default()
    })
}

/// Dimensions through time; none without definitions.
fn followed(
    inputs: &MotionInputs,
    settings: &MotionSettings,
    frames: &CohortSubset,
    times_s: &[f64],
    params: &MotionParams,
    motion: &Motion,
    progress: Progress<'_>,
) -> Result<Vec<Curve>, TaskError> {
    let Some(dimensions) = &inputs.dimensions else { return Ok(Vec::new()) };
    let template = inputs.cohort.template();
    let dimensions = needed(dimensions, &settings.follow)?;
    dimensions.check(template)?;
    let cycle_hz = motion.frequencies.first().copied().flatten().map(|f| f.hz);
    let params = CurveParams { reference: params.reference_frame, cycle_hz };
    let mut found = curves(&dimensions, template, frames, times_s, &params, progress)?;
    found.retain(|c| settings.follow.is_empty() || settings.follow.contains(&c.dimension));
    Ok(found)
}

fn spectra(motion: &Motion) -> Vec<Option<Vec<SpectrumPoint>>> {
    let Some(fps) = motion.timing.fps else { return Vec::new() };
    (0..motion.modes.len().min(SPECTRA))
        .map(|k| spectrum(&motion.coefficients.iter().map(|row| row[k]).collect::<Vec<_>>(), fps))
        .collect()
}

/// The capture without its broken frames, and those.
fn without_broken(cohort: &Cohort, capture: &Capture) -> Result<(Capture, Vec<Finding>), TaskError> {
    let found = broken(&changes_mm(&cohort.select(capture.items.clone()))?);
    Ok((without(capture, &found), found))
}

/// The capture without the frames that findings say are broken.
#[must_use]
pub fn without(capture: &Capture, findings: &[Finding]) -> Capture {
    let lost = |k: usize| findings.iter().any(|f| f.kind == FindingKind::BrokenFrame && f.frame == Some(k));
    let items = capture.items.iter().enumerate().filter(|(k, _)| !lost(*k)).map(|(_, i)| *i).collect();
    Capture { items, ..capture.clone() }
}

/// A reference frame, counted among the frames that are not broken.
fn among_the_rest(frame: usize, broken: &[Finding]) -> Result<Reference, TaskError> {
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
