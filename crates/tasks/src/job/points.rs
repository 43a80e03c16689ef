//! Trajectories of points -> signals, cycles, curves, displacement in a body frame. What is done with dimensions of meshes is done with points.

use std::path::Path;

use formkin_motion::cycles::given::{GivenEvent, events_of};
use formkin_motion::point_frame::{PointAxes, PointDirection, PointFrameParams, point_path};
use formkin_motion::points::{PointTracks, UpAxis, stated_rate};
use formkin_motion::soft::tissue::tissue;
use formkin_motion::{BodyFrame, Curve, CycleParams, Cycles, MotionError, Reference, Timing};
use serde::{Deserialize, Serialize};

use crate::TaskError;
use crate::job::clock::cutoffs_fit;
use crate::job::deep::{Deep, FrameSummary};
use crate::job::signals::{AxisSettings, Cutoff, CycleSettings, courses, names_of};

/// What is done with trajectories of points.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct PointSettings {
    /// Which axis of the files points up: `auto`, `y` or `z`.
    pub up: String,
    /// Whether a place that is exactly the origin is one that was not seen.
    pub origin_is_missing: bool,
    /// Three or more points that the body frame is fixed to; none where empty.
    pub frame: Vec<String>,
    /// The axes of the body frame; the laboratory's where absent.
    pub axes: Option<AxisSettings>,
    /// Points followed against the body frame; all that the frame is not fixed to where empty.
    pub tissue: Vec<String>,
    /// Distances between two points that are followed.
    pub distances: Vec<[String; 2]>,
    /// Angles at the second of three points that are followed.
    pub angles: Vec<[String; 3]>,
    /// The signals whose curves are given; all where empty.
    pub follow: Vec<String>,
    /// Where cycles come from; the height of the body frame where absent and there is one.
    pub cycles: Option<CycleSettings>,
    /// The cutoff of the filter of signals.
    pub cutoff: Option<Cutoff>,
    /// The cutoff of the filter of points against the body frame, in Hz.
    pub tissue_cutoff_hz: Option<f64>,
    /// The frame, from 0, that changes are counted from.
    pub reference_frame: usize,
}

impl Default for PointSettings {
    fn default() -> Self {
        Self {
            up: "auto".to_owned(),
            origin_is_missing: false,
            frame: Vec::new(),
            axes: None,
            tissue: Vec::new(),
            distances: Vec::new(),
            angles: Vec::new(),
            follow: Vec::new(),
            cycles: None,
            cutoff: None,
            tissue_cutoff_hz: None,
            reference_frame: 0,
        }
    }
}

/// What came out.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub struct PointsOutcome {
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
    pub deep: Deep,
}

/// A file of trajectories as read.
#[derive(Debug, Clone)]
pub struct PointFile {
    /// The capture: the name of the file without its ending.
    pub capture: String,
    /// Who moves: the capture's name up to the first `_`.
    pub participant: String,
    /// The points as they are in the file, in mm.
    pub tracks: PointTracks,
    /// The rate that the file states.
    pub stated_hz: Option<f64>,
    /// Whether y is the vertical where nothing else tells, as is common in TRC files.
    pub trc: bool,
}

/// Reads a TRC or CSV file of trajectories, whichever it is by its content.
///
/// # Errors
/// [`TaskError::Read`], or what is wrong with it, with the file.
pub fn read_points(path: &Path) -> Result<PointFile, TaskError> {
    let bytes = std::fs::read(path).map_err(|source| TaskError::Read { path: path.to_owned(), source })?;
    let text = String::from_utf8_lossy(&bytes);
    let trc = text.trim_start_matches('\u{feff}').starts_with("PathFileType")
        || path.extension().is_some_and(|e| e.eq_ignore_ascii_case("trc"));
    let read = if trc { PointTracks::from_trc(&text) } else { PointTracks::from_csv(&text) };
    let tracks = read.map_err(|e| TaskError::In { path: path.to_owned(), source: Box::new(e.into()) })?;
    let capture = path.file_stem().map_or_else(|| "points".to_owned(), |s| s.to_string_lossy().into_owned());
    let participant = capture.split('_').next().filter(|p| !p.is_empty()).unwrap_or(&capture).to_owned();
    Ok(PointFile { stated_hz: stated_rate(&text).filter(|_| trc), capture, participant, tracks, trc })
}

/// Describes trajectories of points.
///
/// # Errors
/// Points that are not there, settings out of range, a body frame that cannot be fixed. What a record does not hold is a remark.
pub fn points(
    file: &PointFile,
    settings: &PointSettings,
    events: Option<&[GivenEvent]>,
) -> Result<PointsOutcome, TaskError> {
    described(file, settings, events).map_err(|e| e.of(&file.capture))
}

/// Refuses records in none of which anything could be measured; the reasons are those of the signals.
///
/// # Errors
/// [`TaskError::Nothing`] with the captures and the reasons.
pub fn measurable(made: &[PointsOutcome]) -> Result<(), TaskError> {
    if made.is_empty() || made.iter().any(|m| !m.deep.courses.is_empty() || !m.deep.tissue.is_empty()) {
        return Ok(());
    }
    let mut why: Vec<String> = Vec::new();
    for m in made {
        let mut own: Vec<&str> = Vec::new();
        for remark in &m.deep.remarks {
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

fn described(
    file: &PointFile,
    settings: &PointSettings,
    events: Option<&[GivenEvent]>,
) -> Result<PointsOutcome, TaskError> {
    let mut deep = Deep::default();
    let tracks = if settings.origin_is_missing {
        file.tracks.clone().without_the_origin()
    } else {
        file.tracks.clone()
    };
    let zeros = tracks.at_the_origin();
    if zeros > 0 {
        deep.remarks.push(format!(
            "{zeros} places are exactly the origin, which often stands for a point that was not seen; say that the origin is missing if it does"
        ));
    }
    let (axis, up) = up_axis(&tracks, &settings.up, file.trc)?;
    let tracks = tracks.turned_up(axis);
    let timing = Timing::of(&tracks.times_s, tracks.times_s.len())?;
    deep.remarks.extend(cutoffs_fit(&timing, settings.cutoff, settings.tissue_cutoff_hz)?);
    if let (Some(said), Some(found)) = (file.stated_hz, timing.fps)
        && (said / found - 1.0).abs() > 0.01
    {
        deep.remarks.push(format!(
            "the file states {said} frames a second and its time stamps are {found:.2} a second apart: the time stamps are followed"
        ));
    }
    let frames = tracks.times_s.len();
    if settings.reference_frame >= frames {
        let last = frames.saturating_sub(1);
        return Err(MotionError::NoSuchFrame { frame: settings.reference_frame, last }.into());
    }
    let missing_share = share_missing(&tracks);
    let frame = (!settings.frame.is_empty()).then(|| frame(&tracks, settings)).transpose()?;
    let body = frame.as_ref().map(|f| tracks.seen_from(f));
    let all = signals(&tracks, body.as_ref(), settings)?;
    deep.cycles = cycles(file, &tracks, settings, events, &all, frame.as_ref(), &mut deep.remarks)?;
    let mut curves = Vec::new();
    let cycle_hz = deep.cycles.as_ref().map(|c| c.hz).filter(|hz| *hz > 0.0);
    if let Some(unknown) = settings.follow.iter().find(|f| !all.iter().any(|s| &&s.name == f)) {
        return Err(unknown_signal("a signal to follow", unknown, &all));
    }
    for s in all.into_iter().filter(|s| settings.follow.is_empty() || settings.follow.contains(&s.name)) {
        let reference = Reference::Frame(settings.reference_frame);
        let mut curve = Curve::of(&s.name, s.unit, (&tracks.times_s, &timing), s.values, reference, cycle_hz);
        if s.place {
            // a share of a place in space says nothing
            (curve.reference, curve.change_min_percent, curve.change_max_percent) = (None, None, None);
        }
        curves.push(curve);
    }
    let made = courses(&curves, deep.cycles.as_ref(), settings.cutoff)?;
    deep.courses = made.courses;
    deep.residuals = made.residuals;
    deep.remarks.extend(made.remarks);
    if let Some(frame) = &frame {
        soft(&tracks, settings, frame, &mut deep)?;
    }
    Ok(PointsOutcome {
        capture: file.capture.clone(),
        participant: file.participant.clone(),
        timing,
        up,
        missing_share,
        tracks,
        body,
        curves,
        deep,
    })
}

/// Which axis points up. Looked for where it is `auto`: the points of a body are spread more along the vertical than across it.
fn up_axis(tracks: &PointTracks, word: &str, trc: bool) -> Result<(UpAxis, String), TaskError> {
    match word {
        "y" => return Ok((UpAxis::Y, "y, as given".to_owned())),
        "z" => return Ok((UpAxis::Z, "z, as given".to_owned())),
        "auto" => {}
        _ => {
            return Err(TaskError::Setting {
                setting: "the axis that points up",
                value: word.to_owned(),
                known: "auto, y, z".to_owned(),
            });
        }
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
        return Ok((
            UpAxis::Z,
            format!("z: the points spread over {z:.0} mm along it and {y:.0} mm along y"),
        ));
    }
    if y > 1.5 * z {
        return Ok((
            UpAxis::Y,
            format!("y: the points spread over {y:.0} mm along it and {z:.0} mm along z"),
        ));
    }
    if trc {
        return Ok((UpAxis::Y, "y, as is common in TRC files; the points themselves do not tell".to_owned()));
    }
    Ok((UpAxis::Z, "z; the points themselves do not tell".to_owned()))
}

fn share_missing(tracks: &PointTracks) -> f64 {
    let all = tracks.times_s.len() * tracks.names.len();
    let missing = tracks.positions_mm.iter().flatten().filter(|p| p.is_none()).count();
    missing as f64 / all.max(1) as f64
}

fn frame(tracks: &PointTracks, settings: &PointSettings) -> Result<BodyFrame, TaskError> {
    let end = |[from, to]: &[String; 2]| PointDirection { from: names_of(from), to: names_of(to) };
    let axes = settings.axes.as_ref().map(|a| PointAxes {
        vertical: end(&a.vertical),
        lateral: end(&a.lateral),
        fore_aft: a.fore_aft.as_ref().map(end),
    });
    let params =
        PointFrameParams { points: settings.frame.clone(), axes, reference_frame: settings.reference_frame };
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
    settings: &PointSettings,
) -> Result<Vec<Signal>, TaskError> {
    let mut all = Vec::new();
    for [a, b] in &settings.distances {
        all.push(Signal {
            name: format!("{a}_to_{b}"),
            unit: "mm",
            values: tracks.distance(a, b)?,
            place: false,
        });
    }
    for [a, b, c] in &settings.angles {
        all.push(Signal {
            name: format!("{a}_{b}_{c}"),
            unit: "deg",
            values: tracks.angle([a, b, c])?,
            place: false,
        });
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

fn cycles(
    file: &PointFile,
    tracks: &PointTracks,
    settings: &PointSettings,
    events: Option<&[GivenEvent]>,
    all: &[Signal],
    frame: Option<&BodyFrame>,
    remarks: &mut Vec<String>,
) -> Result<Option<Cycles>, TaskError> {
    let asked = match &settings.cycles {
        Some(asked) => asked.clone(),
        None if events.is_some() || frame.is_some() => {
            CycleSettings { from: "frame".to_owned(), ..CycleSettings::default() }
        }
        None => return Ok(None),
    };
    let given = match events {
        Some(events) => events_of(&file.capture, events, &tracks.times_s)?,
        None => asked.at_s.clone(),
    };
    let params = CycleParams { event: asked.event, hz: asked.hz, ..CycleParams::default() };
    let made = if events.is_some() || !given.is_empty() {
        Cycles::given(&given, &tracks.times_s, params.reject_beyond)
    } else if let (true, Some(frame)) = (asked.from == "frame", frame) {
        let heights: Vec<Option<f64>> =
            frame.origins_mm.iter().map(|o| o[2].is_finite().then_some(o[2])).collect();
        Cycles::find("the height of the body frame", &tracks.times_s, &heights, &params)
    } else {
        let Some(signal) = all.iter().find(|s| s.name == asked.from) else {
            return Err(unknown_signal("the signal that cycles are found in", &asked.from, all));
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

fn soft(
    tracks: &PointTracks,
    settings: &PointSettings,
    frame: &BodyFrame,
    deep: &mut Deep,
) -> Result<(), TaskError> {
    let n = frame.fit_rms_mm.len().max(1) as f64;
    deep.frame = Some(FrameSummary {
        region: settings.frame.join(", "),
        vertices: frame.region.len(),
        fit_rms_mm: frame.fit_rms_mm.iter().sum::<f64>() / n,
        largest_fit_rms_mm: frame.fit_rms_mm.iter().copied().fold(0.0, f64::max),
        weighted_down: frame.weighted_down,
        axes: frame.axes.clone(),
    });
    let lost = tracks.times_s.len() - frame.fit_rms_mm.len();
    if lost > 0 {
        deep.remarks.push(format!(
            "the body frame is lost in {lost} of {} frames, in which fewer than three of its points are seen",
            tracks.times_s.len()
        ));
    }
    let Some(cycles) = &deep.cycles else {
        deep.remarks
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
            Ok(found) => deep.tissue.push(found),
            Err(why @ (MotionError::NoCycles { .. } | MotionError::SignalTooShort { .. })) => {
                deep.remarks.push(format!("{name}: {why}"));
            }
            Err(other) => return Err(other.into()),
        }
    }
    Ok(())
}
