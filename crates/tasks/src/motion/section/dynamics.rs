//! The time side of a movement: spectra of its modes, dynamic modes, joint angles.

use formkin_motion::dmd::Dynamics;
use formkin_motion::spectrum::SpectrumPoint;
use formkin_report::charts::{Axis, Figure, Key, Layer, Plot};
use formkin_report::document::Body;
use formkin_report::document::table::{Table, cell, number, text};
use formkin_report::format::{about, count, counted, fixed, percent, signed, title_words, words};

use crate::motion::PostureOutcome;
use crate::signals::section::curves::span;

const SERIES: [&str; 6] = ["s1", "s2", "s3", "s4", "s5", "s6"];
/// Most modes whose spectrum is drawn.
const SPECTRA: usize = 3;
/// A spectrum is drawn up to where it holds this part of the power.
const HELD: f64 = 0.995;
/// Most joints drawn.
const JOINTS: usize = 6;
/// Most points of a drawn curve.
const POINTS: usize = 600;

/// The chart of the first modes' spectra; nothing where there are none.
pub(super) fn spectra(index: usize, spectra: &[Option<Vec<SpectrumPoint>>]) -> Option<Figure> {
    let mut plot = Plot::new(
        format!("spectra-{index}"),
        "Spectra of the first modes: share of the power per Hz",
        Axis::new("frequency, Hz"),
        Axis { from_zero: true, ..Axis::new("share of the power per Hz") },
    );
    plot.half = true;
    plot.aspect = 0.62;
    let mut end: f64 = 0.0;
    let mut peak: Option<(usize, f64)> = None;
    for (k, (class, spectrum)) in SERIES.into_iter().zip(spectra.iter().take(SPECTRA)).enumerate() {
        let Some(s) = spectrum else { continue };
        let step = s.get(1).map_or(0.0, |p| p.hz);
        let mut held = 0.0;
        for p in s {
            held += p.share_per_hz * step;
            if held >= HELD {
                end = end.max(p.hz);
                break;
            }
        }
        let highest = s.iter().max_by(|a, b| a.share_per_hz.total_cmp(&b.share_per_hz));
        if peak.is_none() {
            peak = highest.map(|p| (k, p.hz));
        }
        let points = s.iter().map(|p| (p.hz, p.share_per_hz)).collect();
        plot.layers.push(Layer::Line { class, points, dots: false });
        plot.keys.push(Key::new(class, "line", format!("mode {}", k + 1)));
    }
    let (k, hz) = peak?;
    for layer in &mut plot.layers {
        if let Layer::Line { points, .. } = layer {
            points.retain(|p| p.0 <= end);
        }
    }
    plot.reading = format!("The spectrum of mode {} is highest at {} Hz.", k + 1, fixed(hz, 2));
    Some(plot.figure())
}

/// Adds the dynamic modes.
pub(super) fn dynamics(body: &mut Body, found: &Dynamics) {
    let mut table = Table::new(
        "Dynamic modes: what repeats, and whether it grows",
        vec![
            number("Mode", ""),
            number("Frequency", "Hz"),
            number("Growth", "1/s"),
            number("Damping ratio", ""),
            number("Size", "mm"),
        ],
    );
    for (k, m) in found.modes.iter().enumerate() {
        table.row(vec![
            cell(count(k + 1)),
            cell(fixed(m.hz, 2)),
            cell(signed(m.growth_per_s, 3)),
            // what does not swing has no damping
            cell(if m.hz.abs() < 0.005 { "\u{2013}".to_owned() } else { signed(m.damping_ratio, 3) }),
            cell(about(m.rms_mm, 2)),
        ]);
    }
    body.table(table);
    body.note(&format!(
        "Dynamic mode decomposition of the coefficients of the modes with {} (one delay is one frame), rank {}; what it does not say is {} mm (root mean square). The size is how far a mode moves the skin (root mean square); a growth above 0 swells, below 0 dies down, and the damping ratio is the share of critical damping. The growth \
         of a movement that is repeated evenly is near 0, and its sign is noise.",
        counted(found.delays, "delay", "delays"),
        count(found.rank),
        about(found.error_mm, 2)
    ));
}

/// Adds the joints through time and what posture explains.
pub(super) fn posture(body: &mut Body, index: &str, id: &str, found: &PostureOutcome, times_s: &[f64]) {
    let PostureOutcome { posture, explained, rest, .. } = found;
    let mut courses: Vec<(&str, Vec<f64>)> = Vec::new();
    for joint in &posture.joints {
        if let Some(turns) = posture.angles_deg(joint) {
            let size = |w: &[f64; 3]| (w[0] * w[0] + w[1] * w[1] + w[2] * w[2]).sqrt();
            courses.push((joint, turns.iter().map(size).collect()));
        }
    }
    let range = |v: &[f64]| {
        let (l, h) = v.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), &x| (l.min(x), h.max(x)));
        h - l
    };
    courses.sort_by(|a, b| range(&b.1).total_cmp(&range(&a.1)).then(a.0.cmp(b.0)));
    let mut plot = Plot::new(
        format!("joints-{index}"),
        format!("Turns of the joints that turn most, relative to {rest}"),
        Axis::new("time, s"),
        Axis { from_zero: true, ..Axis::new("turn, degrees") },
    );
    plot.aspect = 0.36;
    plot.x.range = span(times_s);
    let step = times_s.len().div_ceil(POINTS).max(1);
    for (class, (joint, values)) in SERIES.into_iter().zip(courses.iter().take(JOINTS)) {
        let points = times_s.iter().zip(values).step_by(step).map(|(t, v)| (*t, *v)).collect();
        plot.layers.push(Layer::Line { class, points, dots: false });
        plot.keys.push(Key::new(class, "line", words(joint, None)));
    }
    plot.layers.push(Layer::Cursor { id: id.to_owned() });
    if let Some((joint, values)) = courses.first() {
        plot.reading = format!("{} turns by {} degrees.", title_words(joint, None), about(range(values), 0));
    }
    body.figure(plot.figure());
    let mut table = Table::new(
        "What posture explains of each mode",
        vec![
            number("Mode", ""),
            number("SD before", "mm"),
            number("SD after posture is taken off", "mm"),
            number("Explained", ""),
        ],
    );
    for e in explained {
        table.row(vec![
            cell(count(e.mode + 1)),
            cell(about(e.before_mm2.max(0.0).sqrt(), 2)),
            cell(about(e.after_mm2.max(0.0).sqrt(), 2)),
            cell(percent(e.share)),
        ]);
    }
    body.table(table);
    let mut angles = Table::unnamed(
        "Turns of all joints",
        vec![
            text("Joint"),
            number("Least", "degrees"),
            number("Most", "degrees"),
            number("Range", "degrees"),
        ],
    );
    for (joint, v) in &courses {
        let (l, h) = v.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), &x| (l.min(x), h.max(x)));
        angles.row(vec![
            cell(title_words(joint, None)),
            cell(fixed(l, 1)),
            cell(fixed(h, 1)),
            cell(fixed(h - l, 1)),
        ]);
    }
    let mut inside = Body::default();
    inside.table(angles);
    body.folded("Turns of all joints", inside);
    body.note(&format!(
        "Poses are estimated from the skin of every frame: {} of {} frames settled, the posed body is {} mm (root mean square) from the frame. Brought back to rest, the bodies of the frames agree \
         within {} mm. A share explained below 0 means that posture makes the mode larger. These are turns of the skin's model, not of bones.",
        count(found.settled_frames),
        count(posture.frames.len()),
        about(found.fit_rms_mm, 1),
        about(posture.unposed_rms_mm, 1)
    ));
}
