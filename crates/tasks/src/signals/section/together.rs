//! What captures say together: dimensions or signals by their range, components of their curves.

use formkin_motion::changes::DimensionChange;
use formkin_motion::cycles::pooled::DimensionComponents;
use formkin_report::charts::{Axis, Figure, Key, Layer, Plot};
use formkin_report::document::Body;
use formkin_report::document::table::{Cell, Flag, Table, cell, number, text};
use formkin_report::format::{
    about, capital, count, counted, fixed, percent, signed, title_words, unit, words,
};

/// Most rows of the table of changes that are shown open.
const OPEN: usize = 20;
/// Most dimensions whose components are drawn.
const DRAWN: usize = 4;

/// A value, or a dash.
#[must_use]
pub fn some(v: Option<f64>, f: impl Fn(f64) -> String) -> Cell {
    v.map_or_else(|| cell("–").suppressed(), |v| cell(f(v)))
}

/// Adds dimensions or signals by how much they change; nothing where there are none.
pub fn changes(body: &mut Body, changes: &[DimensionChange]) {
    if changes.is_empty() {
        return;
    }
    body.heading("Dimensions by how much they change");
    let columns = || {
        vec![
            text("Dimension"),
            text("Unit"),
            number("Reference", ""),
            number("Range", ""),
            number("Range", "%"),
            number("Change at least", "%"),
            number("Change at most", "%"),
            number("Largest at", "%"),
            number("Noise floor", ""),
            number("Cycles", ""),
            number("People", ""),
        ]
    };
    let row = |c: &DimensionChange| {
        let share = c.reference.filter(|r| *r != 0.0).map(|r| 100.0 * c.range / r.abs());
        let spread = c.range_sd_cycles.map_or_else(String::new, |sd| format!("SD {}", about(sd, 1)));
        let range = cell(about(c.range, 1)).quiet(spread);
        vec![
            cell(title_words(&c.dimension, Some(&c.unit))),
            cell(unit(&c.unit)),
            some(c.reference, |v| about(v, 1)),
            if c.above_noise == Some(false) {
                range.flag(Flag::Warning).reason("not above the noise")
            } else {
                range
            },
            some(share, |v| about(v, 1)),
            some(c.change_min_percent, |v| signed(v, 1)),
            some(c.change_max_percent, |v| signed(v, 1)),
            some(c.phase_of_max_percent, |v| fixed(v, 0)),
            some(c.noise_floor, |v| about(v, 2)),
            cell(count(c.cycles)),
            cell(count(c.people)),
        ]
    };
    let mut table = Table::new("Dimensions through movement, the largest range first", columns());
    for c in changes.iter().take(OPEN) {
        table.row(row(c));
    }
    body.table(table);
    if changes.len() > OPEN {
        let mut rest = Table::unnamed("The other dimensions", columns());
        for c in &changes[OPEN..] {
            rest.row(row(c));
        }
        let mut inside = Body::default();
        inside.table(rest);
        body.folded(&format!("The other {}", count(changes.len() - OPEN)), inside);
    }
    let captures = changes.iter().map(|c| c.captures).max().unwrap_or(0);
    body.note(&format!(
        "Over {}. Curves are low-passed without lag. Units are those of the dimension; the place of the largest value is in per cent of the cycle. A range is the mean over the cycles, of the whole record where there are none, averaged over a person's captures and then \
         over people; its SD is that over cycles within a capture. Ranges under five noise floors are marked: noise alone gives as much. Cycles and frames are not people.",
        counted(captures, "capture", "captures")
    ));
}

/// Adds how curves over the cycle differ; nothing where none vary. `id` keeps charts of two parts of a page apart.
pub fn components(body: &mut Body, id: &str, found: &[DimensionComponents]) {
    let varied: Vec<&DimensionComponents> = found
        .iter()
        .filter(|d| d.components.total_variance > 0.0 && !d.components.functions.is_empty())
        .collect();
    if varied.is_empty() {
        return;
    }
    body.heading("How the curves over the cycle differ");
    let figures: Vec<Figure> =
        varied.iter().take(DRAWN).enumerate().map(|(i, d)| component_chart(id, i, d)).collect();
    body.figures(figures);
    let mut table = Table::new(
        "Functional principal components of the curves",
        vec![
            text("Dimension"),
            number("Curves", ""),
            number("People", ""),
            number("SD of a curve", ""),
            number("First", ""),
            number("Second", ""),
            number("Third", ""),
        ],
    );
    for d in &varied {
        let c = &d.components;
        let share = |k: usize| some(c.variances.get(k).map(|v| v / c.total_variance), percent);
        table.row(vec![
            cell(title_words(&d.dimension, Some(&d.unit))),
            cell(count(d.curves.len())),
            cell(count(d.people)),
            cell(format!("{} {}", about(c.total_variance.sqrt(), 2), unit(&d.unit))),
            share(0),
            share(1),
            share(2),
        ]);
    }
    let mut inside = Body::default();
    inside.table(table);
    body.folded("Shares of the components", inside);
    body.note(
        "One curve is one cycle that counts, as change from the reference pose of its capture where there is one. A component is a way in which the curves differ from their mean; the scores of every cycle are in component-scores.csv. \
         Components of one person's cycles say how that person repeats the movement, and nothing of other people.",
    );
}

fn component_chart(id: &str, index: usize, d: &DimensionComponents) -> Figure {
    let (name, of) = (words(&d.dimension, Some(&d.unit)), unit(&d.unit));
    let c = &d.components;
    let mut plot = Plot::new(
        format!("component-{id}-{index}"),
        format!(
            "{}{} over the cycle: mean, and two SD along the first component",
            if d.changes { "Change of " } else { "" },
            if d.changes { name.clone() } else { capital(&name) }
        ),
        Axis { range: Some((0.0, 100.0)), ..Axis::new("part of the cycle, %") },
        Axis::new(if of.is_empty() { name.clone() } else { format!("{name}, {of}") }),
    );
    plot.half = true;
    plot.aspect = 0.62;
    let last = (c.mean.len() - 1).max(1) as f64;
    let sd = c.variances[0].sqrt();
    for (class, by, text) in [("s2", 2.0, "mean + 2 SD"), ("s3", -2.0, "mean − 2 SD"), ("s1", 0.0, "mean")]
    {
        let points = c.mean.iter().zip(&c.functions[0]).enumerate();
        let points = points.map(|(p, (m, f))| (100.0 * p as f64 / last, m + by * sd * f)).collect();
        plot.layers.push(Layer::Line { class, points, dots: false });
        plot.keys.push(Key::new(class, "line", text));
    }
    plot.reading = format!(
        "The first component holds {} of how {} of {name} differ.",
        percent(c.variances[0] / c.total_variance),
        counted(d.curves.len(), "curve", "curves")
    );
    plot.figure()
}
