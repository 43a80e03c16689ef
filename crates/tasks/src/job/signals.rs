//! What meshes and points have in common: cutoffs, axes of a body frame, events that are given.

use std::path::{Path, PathBuf};

use formkin_motion::changes::DimensionCourse;
use formkin_motion::cycles::given::{GivenEvent, given_events};
use formkin_motion::signal::gaps::{LONGEST_GAP_S, Pieces};
use formkin_motion::signal::residual::residual_cutoff;
use formkin_motion::{Curve, Cycles, Event, MotionError};
use serde::{Deserialize, Serialize};

use crate::TaskError;

/// Where cycles come from.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct CycleSettings {
    /// `mode-1`, `mode-2`, ..; `frame` (the height of the body frame in the room); a followed dimension, or a signal of points.
    pub from: String,
    /// What begins a cycle.
    pub event: Event,
    /// The cycles' frequency in Hz; looked for where absent.
    pub hz: Option<f64>,
    /// A table of events in place of a signal: `time_s` or `frame`, and `capture` where it holds several.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub events: Option<PathBuf>,
    /// Events in s, in place of a table.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub at_s: Vec<f64>,
}

impl Default for CycleSettings {
    fn default() -> Self {
        Self { from: "mode-1".to_owned(), event: Event::Minimum, hz: None, events: None, at_s: Vec::new() }
    }
}

impl CycleSettings {
    /// With events as given, whatever signal is named.
    #[must_use]
    pub fn given(mut self, at_s: Vec<f64>) -> Self {
        self.events = None;
        self.at_s = at_s;
        self
    }
}

/// The ends of the axes of a body frame: names of landmarks, regions or points, several joined by `+` (their mean).
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct AxisSettings {
    /// From below to above: the longitudinal axis, kept exactly.
    pub vertical: [String; 2],
    /// From the right to the left of the body.
    pub lateral: [String; 2],
    /// From the front to the back; it only tests that the body is not mirrored.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub fore_aft: Option<[String; 2]>,
}

/// The names of an end of an axis.
#[must_use]
pub fn names_of(end: &str) -> Vec<String> {
    end.split('+').map(|n| n.trim().to_owned()).collect()
}

/// The cutoff of a low-pass: in Hz, or `residual` for that of a residual analysis of each signal.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(from = "WrittenCutoff", into = "WrittenCutoff")]
pub enum Cutoff {
    /// In Hz.
    Hz(f64),
    /// By residual analysis.
    Residual,
}

#[derive(Serialize, Deserialize)]
#[serde(untagged, expecting = "it must be a number of Hz, or \"residual\"")]
enum WrittenCutoff {
    Hz(f64),
    Word(CutoffWord),
}

#[derive(Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
enum CutoffWord {
    Residual,
}

impl From<WrittenCutoff> for Cutoff {
    fn from(written: WrittenCutoff) -> Self {
        match written {
            WrittenCutoff::Hz(hz) => Self::Hz(hz),
            WrittenCutoff::Word(CutoffWord::Residual) => Self::Residual,
        }
    }
}

impl From<Cutoff> for WrittenCutoff {
    fn from(cutoff: Cutoff) -> Self {
        match cutoff {
            Cutoff::Hz(hz) => Self::Hz(hz),
            Cutoff::Residual => Self::Word(CutoffWord::Residual),
        }
    }
}

impl Cutoff {
    /// A number of Hz, or `residual`.
    ///
    /// # Errors
    /// [`TaskError::Setting`] for anything else.
    pub fn parse(setting: &'static str, word: &str) -> Result<Self, TaskError> {
        if word == "residual" {
            return Ok(Self::Residual);
        }
        word.parse().ok().filter(|hz: &f64| *hz > 0.0 && hz.is_finite()).map(Self::Hz).ok_or_else(|| {
            TaskError::Setting {
                setting,
                value: word.to_owned(),
                known: "a number of Hz, residual".to_owned(),
            }
        })
    }
}

/// The cutoff that a residual analysis found for a signal.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ResidualCutoff {
    /// The signal.
    pub signal: String,
    /// The cutoff, in Hz.
    pub cutoff_hz: f64,
    /// The size of the noise (root mean square), in the signal's unit.
    pub noise: f64,
    /// How straight the line through the residuals is.
    pub r2: f64,
}

/// Curves, filtered and over the cycles, with what could not be done.
#[derive(Debug, Clone, Default)]
pub struct Courses {
    pub courses: Vec<DimensionCourse>,
    pub residuals: Vec<ResidualCutoff>,
    pub remarks: Vec<String>,
}

/// Filters curves and lays them over the cycles.
pub fn courses(
    curves: &[Curve],
    cycles: Option<&Cycles>,
    cutoff: Option<Cutoff>,
) -> Result<Courses, TaskError> {
    let mut made = Courses::default();
    for curve in curves {
        let hz = match cutoff {
            None => None,
            Some(Cutoff::Hz(hz)) => Some(hz),
            Some(Cutoff::Residual) => residual(curve, &mut made)?,
        };
        match DimensionCourse::of(curve, cycles, hz) {
            Ok(course) => made.courses.push(course),
            Err(why @ MotionError::SignalTooShort { .. }) => {
                made.remarks.push(format!("{}: {why}", curve.dimension));
            }
            Err(other) => return Err(other.into()),
        }
    }
    Ok(made)
}

/// The cutoff of a curve by residual analysis of its longest piece without a gap; the usual one, with a remark, where that is too short.
fn residual(curve: &Curve, made: &mut Courses) -> Result<Option<f64>, TaskError> {
    let pieces = match Pieces::of(&curve.times_s, &curve.values, LONGEST_GAP_S) {
        Ok(pieces) => pieces,
        // the curve itself says so
        Err(MotionError::SignalTooShort { .. }) => return Ok(None),
        Err(other) => return Err(other.into()),
    };
    let Some(longest) = pieces.longest() else { return Ok(None) };
    match residual_cutoff(&longest.values, 1.0 / pieces.step_s) {
        Ok(found) => {
            made.residuals.push(ResidualCutoff {
                signal: curve.dimension.clone(),
                cutoff_hz: found.cutoff_hz,
                noise: found.noise,
                r2: found.r2,
            });
            Ok(Some(found.cutoff_hz))
        }
        Err(why @ MotionError::SignalTooShort { .. }) => {
            made.remarks.push(format!("{}: no residual analysis, {why}", curve.dimension));
            Ok(None)
        }
        Err(other) => Err(other.into()),
    }
}

/// Reads a table of events.
///
/// # Errors
/// [`TaskError::Read`], or what is wrong with the table, with the file.
pub fn read_events(path: &Path) -> Result<Vec<GivenEvent>, TaskError> {
    let bytes = std::fs::read(path).map_err(|source| TaskError::Read { path: path.to_owned(), source })?;
    given_events(&String::from_utf8_lossy(&bytes))
        .map_err(|e| TaskError::In { path: path.to_owned(), source: Box::new(e.into()) })
}

/// A cell of CSV: in quotation marks where it needs them.
#[must_use]
pub fn csv_cell(text: &str) -> String {
    if text.contains([',', '"', '\n', '\r']) {
        format!("\"{}\"", text.replace('"', "\"\""))
    } else {
        text.to_owned()
    }
}
