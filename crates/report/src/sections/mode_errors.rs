//! How far a movement rebuilt from its first modes is from the frames: in sample, with segments and with cycles left out, side by side; and the
//! same of one motion space with people left out.

use formkin_motion::Motion;
use formkin_motion::cycles::left_out::CyclesLeftOut;
use formkin_motion::shared::SharedMotion;

use super::files::sentence;
use crate::charts::{Axis, Figure, Key, Layer, Plot};
use crate::document::Body;
use crate::document::table::{Table, cell, number, text};
use crate::format::{about, capital, count, counted, fixed, percent};

/// An empty chart of errors over modes.
fn errors_plot(id: String, title: String) -> Plot {
    let mut plot = Plot::new(
        id,
        title,
        Axis { whole: true, ..Axis::new("modes") },
        Axis { from_zero: true, ..Axis::new("root mean square, mm") },
    );
    plot.half = true;
    plot.aspect = 0.62;
    plot
}

fn line(plot: &mut Plot, class: &'static str, points: Vec<(f64, f64)>, text: impl Into<String>) {
    plot.layers.push(Layer::Line { class, points, dots: true });
    plot.keys.push(Key::new(class, "line", text));
}

/// The chart of a movement; nothing without modes.
pub(crate) fn chart(index: usize, motion: &Motion, by_cycle: Option<&CyclesLeftOut>) -> Option<Figure> {
    let last = motion.errors.last().filter(|_| motion.errors.len() > 1)?;
    let mut plot = errors_plot(
        format!("rebuilt-{index}"),
        "The movement rebuilt from its first modes: distance from the frames".to_owned(),
    );
    let own = motion.errors.iter().map(|e| (e.modes as f64, e.rms_mm)).collect();
    line(&mut plot, "s1", own, "in sample");
    let held: Vec<(f64, f64)> =
        motion.errors.iter().filter_map(|e| Some((e.modes as f64, e.held_out_rms_mm?))).collect();
    let by_segment = held.last().copied();
    if !held.is_empty() {
        line(&mut plot, "s2", held, "segments left out");
    }
    if let Some(found) = by_cycle {
        let band = found.errors.iter().map(|e| (e.modes as f64, e.rms_mm - e.se_mm, e.rms_mm + e.se_mm));
        plot.layers.push(Layer::Band { class: "s3", points: band.collect() });
        let cycles = found.errors.iter().map(|e| (e.modes as f64, e.rms_mm)).collect();
        line(&mut plot, "s3", cycles, "cycles left out, ± one standard error");
    }
    let mut reading = format!(
        "{} the movement within {} mm",
        counted(last.modes, "mode rebuilds", "modes rebuild"),
        about(last.rms_mm, 1)
    );
    let segments = by_segment.map(|(_, rms)| ("segments", rms));
    let cycles = by_cycle.and_then(|c| c.errors.last()).map(|e| ("cycles", e.rms_mm));
    let held: Vec<String> = segments
        .into_iter()
        .chain(cycles)
        .map(|(what, rms)| format!("{what} left out {}", about(rms, 1)))
        .collect();
    if !held.is_empty() {
        reading.push_str(&format!(" ({})", held.join(", ")));
    }
    plot.reading = reading + ".";
    Some(plot.figure())
}

/// The modes in numbers, with what the errors are of.
pub(crate) fn numbers(motion: &Motion, by_cycle: Option<&CyclesLeftOut>) -> Body {
    let mut inside = Body::default();
    inside.table(table(motion, by_cycle));
    if let Some(segments) = &motion.segments {
        inside.note(&format!("Segments left out: {}", sentence(&segments.note)));
    } else if let Some(reason) = &motion.no_segments {
        inside.note(&format!("No error on segments left out: {reason}."));
    }
    if let Some(found) = by_cycle {
        let thinned =
            if found.thinned_by > 1 { format!(", every {}th", found.thinned_by) } else { String::new() };
        inside.note(&format!(
            "Cycles left out: {} with {}{thinned}, each cycle left out once. {}",
            counted(found.cycles, "cycle", "cycles"),
            counted(found.frames, "frame", "frames"),
            sentence(&found.note)
        ));
    }
    inside
}

fn table(motion: &Motion, by_cycle: Option<&CyclesLeftOut>) -> Table {
    let held_out = motion.errors.iter().any(|e| e.held_out_rms_mm.is_some());
    let mut columns = vec![
        number("Mode", ""),
        number("SD", "mm"),
        number("Share", ""),
        number("Frequency", "Hz"),
        number("Error in sample", "mm"),
    ];
    if held_out {
        columns.push(number("Segments left out", "mm"));
    }
    if by_cycle.is_some() {
        columns.push(number("Cycles left out", "mm"));
    }
    columns.push(text("Remarks"));
    let mut table = Table::unnamed("Modes of the movement", columns);
    for (k, v) in motion.variances_mm2.iter().enumerate().take(motion.modes.len()) {
        let frequency = motion.frequencies.get(k).copied().flatten();
        let error = motion.errors.iter().find(|e| e.modes == k + 1);
        let mut row = vec![
            cell(count(k + 1)),
            cell(about(v.max(0.0).sqrt(), 2)),
            cell(percent(v / motion.total_variance_mm2)),
            frequency.map_or_else(|| cell("–").suppressed(), |f| cell(fixed(f.hz, 2))),
            cell(error.map_or_else(String::new, |e| fixed(e.rms_mm, 2))),
        ];
        if held_out {
            row.push(cell(error.and_then(|e| e.held_out_rms_mm).map_or_else(String::new, |e| fixed(e, 2))));
        }
        if let Some(found) = by_cycle {
            let error = found.errors.iter().find(|e| e.modes == k + 1);
            row.push(error.map_or_else(
                || cell(""),
                |e| {
                    let se = if e.se_mm < 0.005 { "<0.01".to_owned() } else { fixed(e.se_mm, 2) };
                    cell(fixed(e.rms_mm, 2)).quiet(format!("SE {se}"))
                },
            ));
        }
        let why = motion.no_frequency.get(k).and_then(Option::as_ref);
        row.push(match (frequency, why) {
            (Some(f), _) => cell(format!("{} of the power in the peak", percent(f.share))),
            (None, Some(why)) => cell(capital(&why.to_string())).prose(),
            (None, None) => cell(""),
        });
        table.row(row);
    }
    table
}

/// In sample, with so many modes of all captures.
fn shared_in_sample(shared: &SharedMotion, modes: usize) -> f64 {
    let held: f64 = shared.variances_mm2.iter().take(modes).sum();
    (shared.total_variance_mm2 - held).max(0.0).sqrt()
}

/// The chart of a motion space; nothing where nobody was left out.
pub(crate) fn shared_chart(id: &str, shared: &SharedMotion) -> Option<Figure> {
    let left = shared.left_out.as_ref()?;
    let mut plot = errors_plot(
        format!("shared-error-{id}"),
        format!("The motion space with a {} left out: distance from the frames", left.by),
    );
    let kept = shared.modes.len().min(left.rms_mm.len().saturating_sub(1));
    let own = (0..=kept).map(|k| (k as f64, shared_in_sample(shared, k))).collect();
    line(&mut plot, "s1", own, "in sample");
    let points: Vec<(f64, f64)> = left.rms_mm.iter().enumerate().map(|(k, e)| (k as f64, *e)).collect();
    let (first, last) = (points.first().copied()?, points.last().copied()?);
    plot.reading = format!(
        "{} of the others {} {} of {} mm.",
        counted(last.0 as usize, "mode", "modes"),
        if last.0 == 1.0 { "leaves" } else { "leave" },
        about(last.1, 1),
        about(first.1, 1)
    );
    line(&mut plot, "s2", points, format!("{} left out", left.by));
    Some(plot.figure())
}

/// The same in numbers.
pub(crate) fn shared_numbers(shared: &SharedMotion) -> Option<(String, Body)> {
    let Some(left) = &shared.left_out else { return None };
    let title = format!("Error with a {} left out in numbers", left.by);
    let mut table = Table::unnamed(
        "Error of the motion space over the number of modes",
        vec![
            number("Modes", ""),
            number("Error in sample", "mm"),
            number(format!("{} left out", capital(&left.by)), "mm"),
        ],
    );
    for (k, e) in left.rms_mm.iter().enumerate() {
        let own = if k <= shared.modes.len() {
            cell(fixed(shared_in_sample(shared, k), 2))
        } else {
            cell("–").suppressed()
        };
        table.row(vec![cell(count(k)), own, cell(fixed(*e, 2))]);
    }
    let mut inside = Body::default();
    inside.table(table);
    inside.note(&format!(
        "Left out in turn: {}. The frames of the one that is left out are rebuilt from modes of the others; each {} has the same weight.",
        match (left.by.as_str(), left.groups) {
            ("participant", n) => counted(n, "participant", "participants"),
            (_, n) => counted(n, "capture", "captures"),
        },
        left.by
    ));
    Some((title, inside))
}
