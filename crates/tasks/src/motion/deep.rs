//! Cycles, dimensions over them, soft tissue, landmarks, strain, dynamic modes.

use formkin_geometry::{ShapeSource, Template};
use formkin_motion::cycles::left_out::{CyclesLeftOut, leave_cycles_out};
use formkin_motion::dmd::{Dynamics, dynamic_modes};
use formkin_motion::points::PointTracks;
use formkin_motion::skin_lines::{SkinLines, skin_lines};
use formkin_motion::soft::displacement::{Target, paths};
use formkin_motion::soft::field::RangeField;
use formkin_motion::soft::tissue::tissue;
use formkin_motion::{
    Axes, BodyFrame, Cycles, Direction, FrameParams, MotionError, Reference, StrainMap, StrainParams,
    trajectories,
};
use serde::{Deserialize, Serialize};

use super::posture::{PostureOutcome, posture};
use super::settings::{FRAME, MotionSettings, StrainSettings, TissueSettings};
use super::taken::Taken;
use crate::signals::settings::names_of;
use crate::signals::{AxisSettings, CycleSettings, FrameSummary, Signals, courses};
use crate::{Progress, TaskError, choices};

/// Two places with lines of non-extension are so far apart, in mm.
const APART_MM: f64 = 28.0;

/// What lies deeper in a movement than modes and curves, as asked for.
#[derive(Debug, Clone, Default, Serialize, Deserialize)]
#[serde(default)]
pub struct Deep {
    /// Cycles, dimensions over them, soft tissue.
    pub signals: Signals,
    /// Error of cycles left out, over the number of modes.
    pub cycles_left_out: Option<CyclesLeftOut>,
    /// The vertical range of every vertex in the body frame, in mm; empty without cycles or a body frame.
    pub vertical_ranges_mm: Vec<f64>,
    /// Skin strain.
    pub strain: Option<StrainMap>,
    /// Lines of non-extension on the skin, where strain is mapped.
    pub skin_lines: Vec<SkinLines>,
    /// Dynamic modes.
    pub dynamics: Option<Dynamics>,
    /// Posture.
    pub posture: Option<PostureOutcome>,
    /// All landmarks through time in the laboratory; and seen from the body frame, where there is one.
    pub landmarks: Option<(PointTracks, Option<PointTracks>)>,
}

impl Deep {
    /// Does what is asked for. `events` says whether a table of events was given.
    ///
    /// # Errors
    /// Names that the template has not, settings out of range, shapes that cannot be read. What a record does not hold (no cycles, an uneven
    /// clock) is a remark, no error.
    pub(super) fn fill(
        &mut self,
        taken: &Taken<'_>,
        settings: &MotionSettings,
        events: bool,
        progress: Progress<'_>,
    ) -> Result<(), TaskError> {
        let frame = settings.tissue.as_ref().map(|t| body_frame(taken, t)).transpose()?;
        if let Some(asked) = settings.cycles_asked(events) {
            let given = events || !asked.at_s.is_empty();
            self.signals.cycles =
                cycles(taken, settings, &asked, given, frame.as_ref(), &mut self.signals.remarks)?;
        }
        if let Some(cycles) = &self.signals.cycles {
            match leave_cycles_out(taken.motion, taken.frames, taken.times_s, cycles) {
                Ok(found) => self.cycles_left_out = Some(found),
                Err(why @ MotionError::NoCycles { .. }) => {
                    self.signals.remarks.push(format!("modes not cross-validated by cycle: {why}"));
                }
                Err(other) => return Err(other.into()),
            }
        }
        let found = courses(taken.curves, self.signals.cycles.as_ref(), settings.cutoff)?;
        self.signals.courses = found.courses;
        self.signals.residuals = found.residuals;
        self.signals.remarks.extend(found.remarks);
        if settings.landmarks {
            self.landmarks = Some(landmarks(taken, frame.as_ref())?);
        }
        if let (Some(asked), Some(frame)) = (&settings.tissue, &frame) {
            soft(taken, asked, frame, self)?;
        }
        if let Some(asked) = &settings.strain {
            let map = strain(taken, asked, progress)?;
            self.skin_lines = lines(taken, &map)?;
            self.strain = Some(map);
        }
        if let Some(asked) = settings.dynamics {
            match dynamic_modes(&taken.motion.coefficients, taken.times_s, &asked.into()) {
                Ok(found) => self.dynamics = Some(found),
                Err(why @ (MotionError::NotUniformTimes | MotionError::SignalTooShort { .. })) => {
                    self.signals.remarks.push(format!("no dynamic modes: {why}"));
                }
                Err(other) => return Err(other.into()),
            }
        }
        if let Some(asked) = &settings.posture {
            self.posture = Some(posture(taken, asked, settings.tissue.as_ref(), progress)?);
        }
        Ok(())
    }
}

/// Cycles between given events, or in a signal; none, with a remark, where there are none.
fn cycles(
    taken: &Taken<'_>,
    settings: &MotionSettings,
    asked: &CycleSettings,
    given: bool,
    frame: Option<&BodyFrame>,
    remarks: &mut Vec<String>,
) -> Result<Option<Cycles>, TaskError> {
    let params = asked.params();
    let (name, made) = if given {
        let found = Cycles::given(taken.events_s, taken.times_s, params.reject_beyond);
        ("events as given".to_owned(), found)
    } else {
        let (name, values) = signal(taken, settings.cycle_signal(asked), frame)?;
        let found = Cycles::find(&name, taken.times_s, &values, &params);
        (name, found)
    };
    match made {
        Ok(found) => Ok(Some(found)),
        Err(why @ MotionError::NoCycles { .. }) => {
            remarks.push(format!("in {name}: {why}"));
            Ok(None)
        }
        Err(other) => Err(other.into()),
    }
}

fn signal(
    taken: &Taken<'_>,
    from: &str,
    frame: Option<&BodyFrame>,
) -> Result<(String, Vec<Option<f64>>), TaskError> {
    if let Some(k) = from.strip_prefix("mode-").and_then(|k| k.parse::<usize>().ok())
        && k > 0
        && k <= taken.motion.modes.len()
    {
        let course = taken.motion.coefficients.iter().map(|row| Some(row[k - 1])).collect();
        return Ok((format!("the course of motion mode {k}"), course));
    }
    if let (true, Some(frame)) = (from == FRAME, frame) {
        let heights = frame.origins_mm.iter().map(|o| Some(o[2])).collect();
        return Ok(("the height of the body frame".to_owned(), heights));
    }
    if let Some(curve) = taken.curves.iter().find(|c| c.dimension == from) {
        return Ok((curve.dimension.clone(), curve.values.clone()));
    }
    if from == FRAME {
        return Err(TaskError::Nothing {
            what: "cycles are to be found in the height of the body frame, and there is no body frame"
                .to_owned(),
            advice: "fix one to a region with --frame, or find cycles in mode-1 or in a dimension".to_owned(),
        });
    }
    let mut known: Vec<String> = (1..=taken.motion.modes.len()).map(|k| format!("mode-{k}")).collect();
    known.extend(frame.map(|_| FRAME.to_owned()));
    known.extend(taken.curves.iter().map(|c| c.dimension.clone()));
    Err(TaskError::Setting {
        setting: "the signal that cycles are found in",
        value: from.to_owned(),
        known: known.join(", "),
    })
}

/// The frame of a tissue's settings, without the tissue.
fn body_frame(taken: &Taken<'_>, asked: &TissueSettings) -> Result<BodyFrame, TaskError> {
    let region = choices::region("the region of the body frame", &asked.frame, taken.template())?;
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
    let (vertical, lateral) = asked.both()?;
    Ok(Axes {
        up: direction(vertical)?,
        left: direction(lateral)?,
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
            let vertices = choices::place(setting, name, template)?;
            Ok(Target { name: name.clone(), vertices })
        })
        .collect()
}

fn soft(
    taken: &Taken<'_>,
    asked: &TissueSettings,
    frame: &BodyFrame,
    made: &mut Deep,
) -> Result<(), TaskError> {
    let topology = taken.template().mesh.topology();
    let signals = &mut made.signals;
    signals.frame = Some(FrameSummary::of(asked.frame.clone(), frame));
    let Some(cycles) = &signals.cycles else {
        signals.remarks.push("soft tissue is described by its cycles, and there are none".to_owned());
        return Ok(());
    };
    let targets = targets("soft tissue", taken.template(), &asked.regions)?;
    for path in paths(&targets, topology, taken.frames, frame, taken.reference_frame())? {
        match tissue(&path, frame, taken.times_s, cycles, asked.cutoff_hz) {
            Ok(found) => signals.tissue.push(found),
            Err(why @ MotionError::NoCycles { .. }) => signals.remarks.push(why.to_string()),
            Err(other) => return Err(other.into()),
        }
    }
    match RangeField::of(taken.frames, taken.times_s, frame, Some(cycles)) {
        Ok(field) => made.vertical_ranges_mm = field.ranges_mm.iter().map(|r| r[2]).collect(),
        Err(why @ MotionError::NoCycles { .. }) => signals.remarks.push(why.to_string()),
        Err(other) => return Err(other.into()),
    }
    Ok(())
}

fn strain(taken: &Taken<'_>, asked: &StrainSettings, progress: Progress<'_>) -> Result<StrainMap, TaskError> {
    let template = taken.template();
    let names: Vec<String> = if asked.regions.is_empty() {
        template.regions.keys().cloned().collect()
    } else {
        asked.regions.clone()
    };
    let regions = names
        .into_iter()
        .map(|name| Ok((name.clone(), choices::region("a region of the strain map", &name, template)?)))
        .collect::<Result<Vec<_>, TaskError>>()?;
    let params = StrainParams {
        reference: taken.reference,
        smoothing_mm: asked.smoothing_mm,
        ..StrainParams::default()
    };
    Ok(params.map(taken.frames, template.mesh.topology(), &regions, progress)?)
}

/// The lines of non-extension on the reference pose of a map.
fn lines(taken: &Taken<'_>, map: &StrainMap) -> Result<Vec<SkinLines>, TaskError> {
    let pose = match map.params.reference {
        Reference::Mean => taken.motion.mean.clone(),
        Reference::Frame(frame) => taken.frames.read_shape(frame).map_err(MotionError::from)?,
    };
    Ok(skin_lines(map, taken.template().mesh.topology(), &pose, APART_MM))
}
