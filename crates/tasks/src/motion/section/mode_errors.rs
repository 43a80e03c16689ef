//! How far a movement rebuilt from its first modes is from the frames: in sample, with segments and with cycles left out, side by side.

use formkin_motion::Motion;
use formkin_motion::cycles::left_out::CyclesLeftOut;
use formkin_report::charts::{Axis, Figure, Key, Layer, Plot};
use formkin_report::document::Body;
use formkin_report::document::table::{Table, cell, number, text};
use formkin_report::format::{about, capital, count, counted, fixed, percent};

use crate::sentence::sentence;

/// An empty chart of errors over modes.
pub(crate) fn errors_plot(id: String, title: String) -> Plot {
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

/// Adds a line to it.
pub(crate) fn line(plot: &mut Plot, class: &'static str, points: Vec<(f64, f64)>, text: impl Into<String>) {
    plot.layers.push(Layer::Line { class, points, dots: true });
    plot.keys.push(Key::new(class, "line", text));
}

/// The chart of a movement; nothing without modes.
pub(super) fn chart(index: usize, motion: &Motion, by_cycle: Option<&CyclesLeftOut>) -> Option<Figure> {
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
pub(super) fn numbers(motion: &Motion, by_cycle: Option<&CyclesLeftOut>) -> Body {
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
