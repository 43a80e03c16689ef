//! A capture -> cycles, smoothed dimensions, soft tissue, strain, dynamic modes, posture.

use formkin_cohort::{Capture, Cohort, CohortSubset};
use formkin_geometry::{ShapeSource, Template};
use formkin_motion::changes::DimensionCourse;
use formkin_motion::cycles::left_out::{CyclesLeftOut, leave_cycles_out};
use formkin_motion::dmd::{DynamicParams, Dynamics, dynamic_modes};
use formkin_motion::points::PointTracks;
use formkin_motion::posture::rig::{Blend, Rig};
use formkin_motion::posture::sequence::{Explained, Posture, PostureParams};
use formkin_motion::soft::displacement::{Target, paths};
use formkin_motion::soft::field::RangeField;
use formkin_motion::soft::tissue::{Tissue, tissue};
use formkin_motion::{
    Axes, BodyFrame, Curve, CycleParams, Cycles, Direction, FrameParams, Motion, MotionError, Reference,
    StrainMap, StrainParams, trajectories,
};
use serde::{Deserialize, Serialize};

use crate::job::clock::cutoffs_fit;
use crate::job::signals::{AxisSettings, Cutoff, CycleSettings, ResidualCutoff, courses, names_of};
use crate::{TaskError, choose};

/// Which soft tissue is followed, and against what.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct TissueSettings {
    /// The region that the body frame is fixed to.
    pub frame: String,
    /// The regions or landmarks that are followed.
    pub regions: Vec<String>,
    /// The cutoff of the filter, in Hz.
    pub cutoff_hz: Option<f64>,
    /// The axes of the body frame, of landmarks or regions; the laboratory's in the reference pose where absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub axes: Option<AxisSettings>,
}

/// How the skin's strain is mapped.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct StrainSettings {
    /// The smoothing length in mm.
    pub smoothing_mm: f64,
    /// Regions summarised through time; all of the template where empty.
    pub regions: Vec<String>,
}

impl Default for StrainSettings {
    fn default() -> Self {
        Self { smoothing_mm: StrainParams::default().smoothing_mm, regions: Vec::new() }
    }
}

/// How poses are estimated.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct PostureSettings {
    /// Regions left out: soft tissue.
    pub leave_out: Vec<String>,
    /// Whether the frames brought back to the stance of the template are handed over, for a shape space of unposed bodies.
    pub unposed: bool,
}

/// What is asked for beyond modes and curves; each part is left out where absent.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct DeepSettings {
    /// Cycles.
    pub cycles: Option<CycleSettings>,
    /// The cutoff of the filter of dimensions.
    pub cutoff: Option<Cutoff>,
    /// Whether the paths of all landmarks are given.
    pub landmarks: bool,
    /// Soft tissue.
    pub tissue: Option<TissueSettings>,
    /// Skin strain.
    pub strain: Option<StrainSettings>,
    /// Dynamic modes.
    pub dynamics: Option<DynamicParams>,
    /// Posture.
    pub posture: Option<PostureSettings>,
}

/// What came out of it.
#[derive(Debug, Clone, Default, Serialize, Deserialize)]
pub struct Deep {
    /// Cycles; `None` where none were asked for or found.
    pub cycles: Option<Cycles>,
    /// Dimensions smoothed and over the cycles.
    pub courses: Vec<DimensionCourse>,
    /// The body frame that soft tissue is seen from.
    pub frame: Option<FrameSummary>,
    /// Soft tissue, one a region.
    pub tissue: Vec<Tissue>,
    /// The vertical range of every vertex in the body frame, in mm.
    pub vertical_ranges_mm: Vec<f64>,
    /// Skin strain.
    pub strain: Option<StrainMap>,
    /// Dynamic modes.
    pub dynamics: Option<Dynamics>,
    /// Posture.
    pub posture: Option<PostureOutcome>,
    /// The cutoffs that residual analyses found.
    pub residuals: Vec<ResidualCutoff>,
    /// All landmarks through time in the laboratory; and seen from the body frame, where there is one.
    pub landmarks: Option<(PointTracks, Option<PointTracks>)>,
    /// Error of cycles left out, over the number of modes.
    #[serde(default)]
    pub cycles_left_out: Option<CyclesLeftOut>,
    /// What could not be done, and why.
    pub remarks: Vec<String>,
}

/// A body frame in figures.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct FrameSummary {
    /// The region it is fixed to.
    pub region: String,
    /// Its vertices.
    pub vertices: usize,
    /// Mean of the fit's root mean square over the frames, in mm.
    pub fit_rms_mm: f64,
    /// Largest of it.
    pub largest_fit_rms_mm: f64,
    /// Share of the region weighted down.
    pub weighted_down: f64,
    /// Where the axes come from.
    pub axes: String,
}

/// Posture with what it explains.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub struct PostureOutcome {
    /// Poses and fit.
    pub posture: Posture,
    /// What posture explains of each motion mode.
    pub explained: Vec<Explained>,
    /// Which body at rest was used.
    pub rest: String,
    /// Every frame brought back to the stance of the template, frame by frame, x, y, z in mm; empty unless asked for.
    #[serde(default)]
    pub unposed_mm: Vec<f32>,
}

/// Everything a capture brings along.
pub struct Taken<'a> {
    pub cohort: &'a Cohort,
    pub capture: &'a Capture,
    pub frames: &'a CohortSubset,
    pub times_s: &'a [f64],
    pub motion: &'a Motion,
    pub curves: &'a [Curve],
    pub reference: Reference,
}

impl Taken<'_> {
    fn template(&self) -> &Template {
        self.cohort.template()
    }

    fn reference_frame(&self) -> usize {
        match self.reference {
            Reference::Frame(f) => f,
            Reference::Mean => 0,
        }
    }
}

/// Does what is asked for.
///
/// # Errors
/// Names that the template has not, settings out of range, shapes that cannot be read. What a record does not hold (no cycles, an uneven
/// clock) is a remark, no error.
pub fn deepen(
    taken: &Taken<'_>,
    settings: &DeepSettings,
    progress: &(dyn Fn(usize, usize) + Sync),
) -> Result<Deep, TaskError> {
    let mut deep = Deep {
        remarks: cutoffs_fit(
            &taken.motion.timing,
            settings.cutoff,
            settings.tissue.as_ref().and_then(|t| t.cutoff_hz),
        )?,
        ..Deep::default()
    };
    let frame = settings.tissue.as_ref().map(|t| body_frame(taken, t)).transpose()?;
    if let Some(cycles) = &settings.cycles {
        let (name, signal) = if cycles.at_s.is_empty() {
            signal(taken, cycles, frame.as_ref())?
        } else {
            ("events as given".to_owned(), Vec::new())
        };
        let params = CycleParams { event: cycles.event, hz: cycles.hz, ..CycleParams::default() };
        let made = if cycles.at_s.is_empty() {
            Cycles::find(&name, taken.times_s, &signal, &params)
        } else {
            Cycles::given(&cycles.at_s, taken.times_s, params.reject_beyond)
        };
        match made {
            Ok(found) => deep.cycles = Some(found),
            Err(why @ MotionError::NoCycles { .. }) => deep.remarks.push(format!("in {name}: {why}")),
            Err(other) => return Err(other.into()),
        }
    }
    if let Some(cycles) = &deep.cycles {
        match leave_cycles_out(taken.motion, taken.frames, taken.times_s, cycles) {
            Ok(found) => deep.cycles_left_out = Some(found),
            Err(why @ MotionError::NoCycles { .. }) => {
                deep.remarks.push(format!("modes not cross-validated by cycle: {why}"));
            }
            Err(other) => return Err(other.into()),
        }
    }
    let made = courses(taken.curves, deep.cycles.as_ref(), settings.cutoff)?;
    deep.courses = made.courses;
    deep.residuals = made.residuals;
    deep.remarks.extend(made.remarks);
    if settings.landmarks {
        deep.landmarks = Some(landmarks(taken, frame.as_ref())?);
    }
    if let (Some(asked), Some(frame)) = (&settings.tissue, &frame) {
        soft(taken, asked, frame, &mut deep)?;
    }
    if let Some(asked) = &settings.strain {
        deep.strain = Some(strain(taken, asked, progress)?);
    }
    if let Some(params) = &settings.dynamics {
        match dynamic_modes(&taken.motion.coefficients, taken.times_s, params) {
            Ok(found) => deep.dynamics = Some(found),
            Err(why @ (MotionError::NotUniformTimes | MotionError::SignalTooShort { .. })) => {
                deep.remarks.push(format!("no dynamic modes: {why}"));
            }
            Err(other) => return Err(other.into()),
        }
    }
    if let Some(asked) = &settings.posture {
        deep.posture = Some(posture(taken, asked, progress)?);
    }
    Ok(deep)
}

/// The frame of a tissue's settings, without the tissue.
pub fn body_frame(taken: &Taken<'_>, asked: &TissueSettings) -> Result<BodyFrame, TaskError> {
    let region = choose::region("the region of the body frame", &asked.frame, taken.template())?;
    let leave_out = targets("soft tissue", taken.template(), &asked.regions)?
        .into_iter()
        .flat_map(|t| t.vertices)
        .collect();
    let axes = asked.axes.as_ref().map(|a| axes(taken.template(), a)).transpose()?;
    let params =
        FrameParams { leave_out, axes, reference_frame: taken.reference_frame(), ..FrameParams::on(region) };
    Ok(params.fit(taken.frames, taken.template().mesh.topology())?)
}

/// The axes of a body frame from names of landmarks and regions.
fn axes(template: &Template, asked: &AxisSettings) -> Result<Axes, TaskError> {
    let end = |names: &str| -> Result<Vec<u32>, TaskError> {
        let found = targets("an end of --vertical, --lateral or --fore-aft", template, &names_of(names))?;
        Ok(found.into_iter().flat_map(|t| t.vertices).collect())
    };
    let direction = |[from, to]: &[String; 2]| -> Result<Direction, TaskError> {
        Ok(Direction { from: end(from)?, to: end(to)? })
    };
    Ok(Axes {
        up: direction(&asked.vertical)?,
        left: direction(&asked.lateral)?,
        back: asked.fore_aft.as_ref().map(direction).transpose()?,
    })
}

/// All landmarks in the laboratory and seen from the body frame.
fn landmarks(
    taken: &Taken<'_>,
    frame: Option<&BodyFrame>,
) -> Result<(PointTracks, Option<PointTracks>), TaskError> {
    let template = taken.template();
    if template.landmarks.is_empty() {
        return Err(TaskError::Nothing {
            what: "the template has no landmarks to follow".into(),
            advice: "name them in template.toml (docs/formats.md, Template)".into(),
        });
    }
    let paths = trajectories(&template.landmarks, taken.frames, taken.times_s, None)?;
    let tracks = PointTracks {
        names: paths.iter().map(|p| p.landmark.clone()).collect(),
        times_s: taken.times_s.to_vec(),
        positions_mm: (0..taken.times_s.len())
            .map(|k| paths.iter().map(|p| p.lab.get(k).copied()).collect())
            .collect(),
    };
    let body = frame.map(|f| tracks.seen_from(f));
    Ok((tracks, body))
}

/// Landmarks and regions by name; `setting` says what they are for.
fn targets(setting: &'static str, template: &Template, names: &[String]) -> Result<Vec<Target>, TaskError> {
    names
        .iter()
        .map(|name| {
            let vertices = choose::place(setting, name, template)?;
            Ok(Target { name: name.clone(), vertices })
        })
        .collect()
}

fn signal(
    taken: &Taken<'_>,
    asked: &CycleSettings,
    frame: Option<&BodyFrame>,
) -> Result<(String, Vec<Option<f64>>), TaskError> {
    if let Some(k) = asked.from.strip_prefix("mode-").and_then(|k| k.parse::<usize>().ok())
        && k > 0
        && k <= taken.motion.modes.len()
    {
        let course = taken.motion.coefficients.iter().map(|row| Some(row[k - 1])).collect();
        return Ok((format!("the course of motion mode {k}"), course));
    }
    if let (true, Some(frame)) = (asked.from == "frame", frame) {
        let heights = frame.origins_mm.iter().map(|o| Some(o[2])).collect();
        return Ok(("the height of the body frame".to_owned(), heights));
    }
    if let Some(curve) = taken.curves.iter().find(|c| c.dimension == asked.from) {
        return Ok((curve.dimension.clone(), curve.values.clone()));
    }
    let mut known: Vec<String> = (1..=taken.motion.modes.len()).map(|k| format!("mode-{k}")).collect();
    if frame.is_some() {
        known.push("frame".to_owned());
    }
    known.extend(taken.curves.iter().map(|c| c.dimension.clone()));
    Err(TaskError::Setting {
        setting: "the signal that cycles are found in",
        value: asked.from.clone(),
        known: known.join(", "),
    })
}

fn soft(
    taken: &Taken<'_>,
    asked: &TissueSettings,
    frame: &BodyFrame,
    deep: &mut Deep,
) -> Result<(), TaskError> {
    let topology = taken.template().mesh.topology();
    let n = frame.fit_rms_mm.len() as f64;
    deep.frame = Some(FrameSummary {
        region: asked.frame.clone(),
        vertices: frame.region.len(),
        fit_rms_mm: frame.fit_rms_mm.iter().sum::<f64>() / n,
        largest_fit_rms_mm: frame.fit_rms_mm.iter().copied().fold(0.0, f64::max),
        weighted_down: frame.weighted_down,
        axes: frame.axes.clone(),
    });
    let Some(cycles) = &deep.cycles else {
        deep.remarks.push("soft tissue is described by its cycles, and there are none".to_owned());
        return Ok(());
    };
    let targets = targets("soft tissue", taken.template(), &asked.regions)?;
    for path in paths(&targets, topology, taken.frames, frame, taken.reference_frame())? {
        match tissue(&path, frame, taken.times_s, cycles, asked.cutoff_hz) {
            Ok(found) => deep.tissue.push(found),
            Err(why @ MotionError::NoCycles { .. }) => deep.remarks.push(why.to_string()),
            Err(other) => return Err(other.into()),
        }
    }
    match RangeField::of(taken.frames, taken.times_s, frame, Some(cycles)) {
        Ok(field) => deep.vertical_ranges_mm = field.ranges_mm.iter().map(|r| r[2]).collect(),
        Err(why @ MotionError::NoCycles { .. }) => deep.remarks.push(why.to_string()),
        Err(other) => return Err(other.into()),
    }
    Ok(())
}

fn strain(
    taken: &Taken<'_>,
    asked: &StrainSettings,
    progress: &(dyn Fn(usize, usize) + Sync),
) -> Result<StrainMap, TaskError> {
    let template = taken.template();
    let names: Vec<String> = if asked.regions.is_empty() {
        template.regions.keys().cloned().collect()
    } else {
        asked.regions.clone()
    };
    let regions = names
        .into_iter()
        .map(|name| Ok((name.clone(), choose::region("a region of the strain map", &name, template)?)))
        .collect::<Result<Vec<_>, TaskError>>()?;
    let params = StrainParams {
        reference: taken.reference,
        smoothing_mm: asked.smoothing_mm,
        ..StrainParams::default()
    };
    Ok(params.map(taken.frames, template.mesh.topology(), &regions, progress)?)
}

fn posture(
    taken: &Taken<'_>,
    asked: &PostureSettings,
    progress: &(dyn Fn(usize, usize) + Sync),
) -> Result<PostureOutcome, TaskError> {
    let template = taken.template();
    let mut leave_out = Vec::new();
    for name in &asked.leave_out {
        leave_out.extend(choose::region("a region left out of the posture", name, template)?);
    }
    // the person's own still body where there is one
    let items = taken.cohort.items();
    let still =
        taken.cohort.stills().into_iter().find(|&i| items[i].participant == taken.capture.participant);
    let (rest, words, rest_rounds) = match still {
        Some(i) => {
            let body = taken.cohort.select(vec![i]).read_shape(0).map_err(MotionError::from)?;
            (body, format!("the still body `{}` of the same person", items[i].item), 0)
        }
        None => {
            let words = "the template's, made the person's from unposed frames in four rounds".to_owned();
            (template.mesh.positions().to_vec(), words, 4)
        }
    };
    let mut rig = Rig::new(template, &rest, Blend::DualQuaternion)?;
    let params = PostureParams { leave_out, rest_rounds };
    let posture = params.fit(&mut rig, taken.frames, progress)?;
    let explained = posture.explains(&rig, taken.frames, taken.motion)?;
    let mut unposed_mm = Vec::new();
    if asked.unposed {
        let bodies = posture.unposed(&rig, taken.frames)?;
        for k in 0..posture.frames.len() {
            let body = bodies.read_shape(k).map_err(MotionError::from)?;
            unposed_mm.extend(body.iter().flatten().map(|x| *x as f32));
        }
    }
    Ok(PostureOutcome { posture, explained, rest: words, unposed_mm })
}
