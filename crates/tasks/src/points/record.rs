//! One record of points: signals, cycles, displacement in a body frame.

use formkin_motion::cycles::given::{GivenEvent, events_of};
use formkin_motion::point_frame::{PointAxes, PointDirection, PointFrameParams, point_path};
use formkin_motion::points::{PointTracks, UpAxis};
use formkin_motion::soft::tissue::tissue;
use formkin_motion::{BodyFrame, Curve, CycleParams, Cycles, MotionError, Reference, Timing};
use serde::{Deserialize, Serialize};

use super::read::PointFile;
use super::settings::{FRAME, PointsSettings, Up};
use crate::TaskError;
use crate::signals::settings::names_of;
use crate::signals::{FrameSummary, Signals, courses, cutoffs_fit};

/// What is found in one record.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub struct PointsRecord {
    /// The capture: the name of the file.
    pub capture: String,
    /// Who moves.
    pub participant: String,
    /// Its clock.
    pub timing: Timing,
    /// Which axis of the file pointed up, and how that is known.
    pub up: String,
    /// Share of places that were not seen.
    pub missing_share: f64,
    /// The points in the laboratory, in mm, z up.
    pub tracks: PointTracks,
    /// The points seen from the body frame; `None` without one.
    pub body: Option<PointTracks>,
    /// Signals through time.
    pub curves: Vec<Curve>,
    /// Cycles, curves over them, displacement in the body frame.
    pub signals: Signals,
}

/// Describes a record. What it does not hold is a remark.
///
/// # Errors
/// Points that are not there, settings out of range, a body frame that cannot be fixed.
pub(super) fn describe(
    file: &PointFile,
    settings: &PointsSettings,
    events: Option<&[GivenEvent]>,
) -> Result<PointsRecord, TaskError> {
    let mut found = Signals::default();
    let tracks = match settings.origin_is_missing {
        true => file.tracks.clone().without_the_origin(),
        false => file.tracks.clone(),
    };
    let zeros = tracks.at_the_origin();
    if zeros > 0 {
        found.remarks.push(format!(
            "{zeros} places are exactly the origin, which often stands for a point that was not seen; say that the origin is missing if it does"
        ));
    }
    let (axis, up) = up_axis(&tracks, settings.up, file.trc);
    let tracks = tracks.turned_up(axis);
    let timing = Timing::of(&tracks.times_s, tracks.times_s.len())?;
    found.remarks.extend(cutoffs_fit(&timing, settings.cutoff, settings.tissue_cutoff_hz)?);
    found.remarks.extend(other_rate(file, &timing));
    let frames = tracks.times_s.len();
    if settings.reference >= frames {
        let last = frames.saturating_sub(1);
        return Err(MotionError::NoSuchFrame { frame: settings.reference, last }.into());
    }
    let missing_share = share_missing(&tracks);
    let frame = (!settings.frame.is_empty()).then(|| body_frame(&tracks, settings)).transpose()?;
    let body = frame.as_ref().map(|f| tracks.seen_from(f));
    let all = signals(&tracks, body.as_ref(), settings)?;
    let asked = Asked { file, tracks: &tracks, settings, events, frame: frame.as_ref() };
    found.cycles = cycles(&asked, &all, &mut found.remarks)?;
    let curves = curves(all, &tracks, &timing, settings, found.cycles.as_ref())?;
    let made = courses(&curves, found.cycles.as_ref(), settings.cutoff)?;
    found.courses = made.courses;
    found.residuals = made.residuals;
    found.remarks.extend(made.remarks);
    if let Some(frame) = &frame {
        soft(&tracks, settings, frame, &mut found)?;
    }
    Ok(PointsRecord {
        capture: file.capture.clone(),
        participant: file.participant.clone(),
        timing,
        up,
        missing_share,
        tracks,
        body,
        curves,
        signals: found,
    })
}

/// A remark where the file states another rate than its time stamps.
fn other_rate(file: &PointFile, timing: &Timing) -> Option<String> {
    let (said, found) = file.stated_hz.zip(timing.fps)?;
    ((said / found - 1.0).abs() > 0.01).then(|| {
        format!(
            "the file states {said} frames a second and its time stamps are {found:.2} a second apart: the time stamps are followed"
        )
    })
}

/// Which axis points up. Looked for where it is not given: the points of a body are spread more along the vertical than across it.
fn up_axis(tracks: &PointTracks, up: Up, trc: bool) -> (UpAxis, String) {
    match up {
        Up::Y => return (UpAxis::Y, "y, as given".to_owned()),
        Up::Z => return (UpAxis::Z, "z, as given".to_owned()),
        Up::Auto => {}
    }
    // the spread over the points of a frame, the mean over the frames
    let spread = |axis: usize| {
        let of = |row: &Vec<Option<[f64; 3]>>| {
            let seen: Vec<f64> = row.iter().flatten().map(|p| p[axis]).collect();
            let (low, high) =
                seen.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), &v| (l.min(v), h.max(v)));
            (seen.len() > 1).then_some(high - low)
        };
        let all: Vec<f64> = tracks.positions_mm.iter().filter_map(of).collect();
        all.iter().sum::<f64>() / all.len().max(1) as f64
    };
    let (y, z) = (spread(1), spread(2));
    if z > 1.5 * y {
        return (UpAxis::Z, format!("z: the points spread over {z:.0} mm along it and {y:.0} mm along y"));
    }
    if y > 1.5 * z {
        return (UpAxis::Y, format!("y: the points spread over {y:.0} mm along it and {z:.0} mm along z"));
    }
    if trc {
        return (UpAxis::Y, "y, as is common in TRC files; the points themselves do not tell".to_owned());
    }
    (UpAxis::Z, "z; the points themselves do not tell".to_owned())
}

fn share_missing(tracks: &PointTracks) -> f64 {
    let all = tracks.times_s.len() * tracks.names.len();
    let missing = tracks.positions_mm.iter().flatten().filter(|p| p.is_none()).count();
    missing as f64 / all.max(1) as f64
}

fn body_frame(tracks: &PointTracks, settings: &PointsSettings) -> Result<BodyFrame, TaskError> {
    let end = |[from, to]: &[String; 2]| PointDirection { from: names_of(from), to: names_of(to) };
    let axes = match &settings.axes {
        Some(axes) => {
            let (vertical, lateral) = axes.both()?;
            Some(PointAxes {
                vertical: end(vertical),
                lateral: end(lateral),
                fore_aft: axes.fore_aft.as_ref().map(end),
            })
        }
        None => None,
    };
    let params =
        PointFrameParams { points: settings.frame.clone(), axes, reference_frame: settings.reference };
    Ok(params.fit(tracks)?)
}

/// A signal of points.
struct Signal {
    name: String,
    unit: &'static str,
    values: Vec<Option<f64>>,
    /// Whether it is a coordinate.
    place: bool,
}

fn signals(
    tracks: &PointTracks,
    body: Option<&PointTracks>,
    settings: &PointsSettings,
) -> Result<Vec<Signal>, TaskError> {
    let mut all = Vec::new();
    for [a, b] in &settings.distances {
        let (name, values) = (format!("{a}_to_{b}"), tracks.distance(a, b)?);
        all.push(Signal { name, unit: "mm", values, place: false });
    }
    for [a, b, c] in &settings.angles {
        let (name, values) = (format!("{a}_{b}_{c}"), tracks.angle([a, b, c])?);
        all.push(Signal { name, unit: "deg", values, place: false });
    }
    let mut coordinates = |from: &PointTracks, names: [&str; 3]| {
        for point in &from.names {
            for (axis, word) in names.into_iter().enumerate() {
                let values = from.coordinate(point, axis).unwrap_or_default();
                all.push(Signal { name: format!("{point}_{word}"), unit: "mm", values, place: true });
            }
        }
    };
    if let Some(body) = body {
        coordinates(body, ["lateral", "fore_aft", "vertical"]);
    }
    coordinates(tracks, ["x", "y", "z"]);
    Ok(all)
}

fn unknown_signal(setting: &'static str, value: &str, all: &[Signal]) -> TaskError {
    let known = all.iter().map(|s| s.name.as_str()).collect::<Vec<_>>().join(", ");
    TaskError::Setting { setting, value: value.to_owned(), known }
}

/// The signals that are followed, against the reference frame.
fn curves(
    all: Vec<Signal>,
    tracks: &PointTracks,
    timing: &Timing,
    settings: &PointsSettings,
    cycles: Option<&Cycles>,
) -> Result<Vec<Curve>, TaskError> {
    if let Some(unknown) = settings.follow.iter().find(|f| !all.iter().any(|s| &&s.name == f)) {
        return Err(unknown_signal("a signal to follow", unknown, &all));
    }
    let cycle_hz = cycles.map(|c| c.hz).filter(|hz| *hz > 0.0);
    let followed = |s: &Signal| settings.follow.is_empty() || settings.follow.contains(&s.name);
    let mut curves = Vec::new();
    for s in all.into_iter().filter(followed) {
        let reference = Reference::Frame(settings.reference);
        let mut curve = Curve::of(&s.name, s.unit, (&tracks.times_s, timing), s.values, reference, cycle_hz);
        if s.place {
            // a share of a place in space says nothing
            (curve.reference, curve.change_min_percent, curve.change_max_percent) = (None, None, None);
        }
        curves.push(curve);
    }
    Ok(curves)
}

/// What cycles are looked for in.
struct Asked<'a> {
    file: &'a PointFile,
    tracks: &'a PointTracks,
    settings: &'a PointsSettings,
    events: Option<&'a [GivenEvent]>,
    frame: Option<&'a BodyFrame>,
}

fn cycles(asked: &Asked<'_>, all: &[Signal], remarks: &mut Vec<String>) -> Result<Option<Cycles>, TaskError> {
    let Asked { file, tracks, settings, events, frame } = *asked;
    let Some(wanted) = settings.cycles_asked(events.is_some()) else { return Ok(None) };
    let given = match events {
        Some(events) => events_of(&file.capture, events, &tracks.times_s)?,
        None => wanted.at_s.clone(),
    };
    let params: CycleParams = wanted.params();
    let from = wanted.from.as_deref().unwrap_or(FRAME);
    let made = if events.is_some() || !given.is_empty() {
        Cycles::given(&given, &tracks.times_s, params.reject_beyond)
    } else if let (FRAME, Some(frame)) = (from, frame) {
        let heights: Vec<Option<f64>> =
            frame.origins_mm.iter().map(|o| o[2].is_finite().then_some(o[2])).collect();
        Cycles::find("the height of the body frame", &tracks.times_s, &heights, &params)
    } else {
        let Some(signal) = all.iter().find(|s| s.name == from) else {
            return Err(unknown_signal("the signal that cycles are found in", from, all));
        };
        Cycles::find(&signal.name, &tracks.times_s, &signal.values, &params)
    };
    match made {
        Ok(found) => Ok(Some(found)),
        Err(why @ (MotionError::NoCycles { .. } | MotionError::SignalTooShort { .. })) => {
            remarks.push(format!("no cycles in {}: {why}", file.capture));
            Ok(None)
        }
        Err(other) => Err(other.into()),
    }
}

/// Points in the body frame.
fn soft(
    tracks: &PointTracks,
    settings: &PointsSettings,
    frame: &BodyFrame,
    found: &mut Signals,
) -> Result<(), TaskError> {
    found.frame = Some(FrameSummary::of(settings.frame.join(", "), frame));
    let lost = tracks.times_s.len() - frame.fit_rms_mm.len();
    if lost > 0 {
        found.remarks.push(format!(
            "the body frame is lost in {lost} of {} frames, in which fewer than three of its points are seen",
            tracks.times_s.len()
        ));
    }
    let Some(cycles) = &found.cycles else {
        found
            .remarks
            .push("points in the body frame are described by their cycles, and there are none".to_owned());
        return Ok(());
    };
    let names: Vec<String> = if settings.tissue.is_empty() {
        tracks.names.iter().filter(|n| !settings.frame.contains(n)).cloned().collect()
    } else {
        settings.tissue.clone()
    };
    for name in names {
        let (path, own) = point_path(tracks, &name, frame)?;
        match tissue(&path, &own, &tracks.times_s, cycles, settings.tissue_cutoff_hz) {
            Ok(made) => found.tissue.push(made),
            Err(why @ (MotionError::NoCycles { .. } | MotionError::SignalTooShort { .. })) => {
                found.remarks.push(format!("{name}: {why}"));
            }
            Err(other) => return Err(other.into()),
        }
    }
    Ok(())
}
