//! Soft tissue against the body.

use formkin_motion::cycles::band::OverCycles;
use formkin_motion::soft::tissue::Tissue;
use formkin_report::charts::{Axis, Figure, Key, Layer, Plot};
use formkin_report::document::Body;
use formkin_report::document::table::{Cell, Table, cell, number, text};
use formkin_report::format::{about, count, fixed, signed, title_words, words};

use super::curves::span;
use crate::signals::Signals;

/// A lag is shown from this correlation on.
const ALIKE: f64 = 0.5;
/// Most points of a drawn line.
const POINTS: usize = 600;
const SERIES: [&str; 4] = ["s1", "s2", "s3", "s4"];

/// Adds soft tissue, where there is some.
pub(super) fn tissue(body: &mut Body, index: &str, id: &str, signals: &Signals, times_s: &[f64]) {
    if signals.tissue.is_empty() {
        return;
    }
    if let Some(figure) = tissue_chart(index, id, &signals.tissue, times_s) {
        body.figure(figure);
    }
    body.table(how_far(&signals.tissue));
    body.table(how_fast(&signals.tissue));
    body.note(&format!(
        "Soft tissue is seen from a frame fixed to {}. Ranges are largest less smallest place in a cycle, means over cycles (SD). A lag says how much later \
         the tissue goes up and down than the frame; none is given where the two hardly go alike (correlation under 0.5).",
        signals.frame.as_ref().map_or_else(|| "the body".to_owned(), |f| words(&f.region, None))
    ));
}

/// The vertical way of soft tissue against the body.
fn tissue_chart(index: &str, id: &str, found: &[Tissue], times_s: &[f64]) -> Option<Figure> {
    let mut plot = Plot::new(
        format!("tissue-{index}"),
        "Vertical displacement against the body, from the mean place",
        Axis { range: span(times_s), ..Axis::new("time, s") },
        Axis::new("up, mm"),
    );
    plot.aspect = 0.32;
    let mut most: Vec<&Tissue> = found.iter().filter(|t| t.summary.is_some()).collect();
    let range = |t: &Tissue| t.summary.as_ref().map_or(0.0, |s| s.vertical_mm.mean);
    most.sort_by(|a, b| range(b).total_cmp(&range(a)));
    for (class, t) in SERIES.into_iter().zip(&most) {
        let step = t.times_s.len().div_ceil(POINTS).max(1);
        // a line is broken where the record is
        let rate = t.times_s.windows(2).map(|w| w[1] - w[0]).fold(f64::INFINITY, f64::min);
        let mut points: Vec<(f64, f64)> = Vec::new();
        for (i, (time, d)) in t.times_s.iter().zip(&t.displacement_mm).enumerate() {
            if i > 0 && time - t.times_s[i - 1] > 1.5 * rate {
                points.push((f64::NAN, f64::NAN));
            }
            if i % step == 0 {
                points.push((*time, d[2]));
            }
        }
        plot.layers.push(Layer::Line { class, points, dots: false });
        plot.keys.push(Key::new(class, "line", words(&t.name, None)));
    }
    plot.layers.push(Layer::Cursor { id: id.to_owned() });
    let first = most.first()?;
    plot.reading = format!(
        "{} goes up and down by {} mm in a cycle.",
        title_words(&first.name, None),
        about(range(first), 1)
    );
    Some(plot.figure())
}

fn spread(o: OverCycles, digits: usize) -> Cell {
    let sd = o.sd.map_or_else(String::new, |sd| format!(" ({})", about(sd, digits)));
    cell(format!("{}{sd}", about(o.mean, digits)))
}

/// How far.
fn how_far(found: &[Tissue]) -> Table {
    let columns = vec![
        text("Region"),
        number("Cycles", ""),
        number("Vertical", "mm"),
        number("Lateral", "mm"),
        number("Fore-aft", "mm"),
        number("Resultant", "mm"),
        number("Along the normal", "mm"),
        number("Across it", "mm"),
        number("Noise floor", "mm"),
    ];
    let mut table = Table::new("Soft tissue against the body: how far", columns);
    for t in found {
        let Some(s) = &t.summary else { continue };
        let none = || cell("–").suppressed();
        table.row(vec![
            cell(title_words(&t.name, None)),
            cell(count(s.vertical_mm.cycles)),
            spread(s.vertical_mm, 1),
            spread(s.lateral_mm, 1),
            spread(s.fore_aft_mm, 1),
            spread(s.resultant_mm, 1),
            s.normal_mm.map_or_else(none, |o| spread(o, 1)),
            s.tangential_mm.map_or_else(none, |o| spread(o, 1)),
            t.noise_mm.map_or_else(none, |n| cell(about(n.into_iter().fold(0.0, f64::max), 2))),
        ]);
    }
    table
}

/// How fast and how late.
fn how_fast(found: &[Tissue]) -> Table {
    let columns = vec![
        text("Region"),
        number("Path", "mm"),
        number("Greatest speed", "m/s"),
        number("Greatest acceleration", "m/s²"),
        number("Lag", "degrees"),
        number("Lag", "ms"),
        number("Correlation", ""),
    ];
    let mut table = Table::new("Soft tissue against the body: how fast, and how late", columns);
    for t in found {
        let Some(s) = &t.summary else { continue };
        let none = || cell("–").suppressed();
        // what does not move alike has no lag
        let clear = t.lag.filter(|l| l.correlation >= ALIKE);
        let metres = |o: OverCycles| OverCycles { mean: o.mean / 1000.0, sd: o.sd.map(|s| s / 1000.0), ..o };
        table.row(vec![
            cell(title_words(&t.name, None)),
            spread(s.path_mm, 1),
            spread(metres(s.speed_mm_s), 2),
            spread(metres(s.acceleration_mm_s2), 1),
            clear.and_then(|l| l.degrees).map_or_else(none, |d| cell(signed(d, 0))),
            clear.map_or_else(none, |l| cell(signed(1000.0 * l.seconds, 0))),
            t.lag.map_or_else(none, |l| cell(fixed(l.correlation, 2))),
        ]);
    }
    table
}
