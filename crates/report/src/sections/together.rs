//! What movements say together: dimensions by their range, allowance, components of curves, conditions, one motion space.

use formkin_motion::changes::{Allowance, DimensionChange};
use formkin_motion::cycles::pooled::DimensionComponents;
use formkin_motion::shared::SharedMotion;

use crate::MovementsTogether;
use crate::charts::{Axis, Figure, Key, Layer, Plot};
use crate::document::Body;
use crate::document::table::{Cell, Flag, Table, cell, number, text};
use crate::document::view::Triangles;
use crate::format::{about, capital, count, counted, fixed, percent, signed, title_words, unit, words};

const SERIES: [&str; 6] = ["s1", "s2", "s3", "s4", "s5", "s6"];
/// Most rows of the table of changes that are shown open.
const OPEN: usize = 20;
/// Most dimensions whose components are drawn.
const DRAWN: usize = 4;
/// Most points of a course.
const POINTS: usize = 300;

/// Adds what there is; `id` keeps charts of two parts of the page apart.
pub(crate) fn section(body: &mut Body, id: &str, part: &MovementsTogether<'_>, triangles: &Triangles) {
    changes(body, part.changes);
    components(body, id, part.components);
    super::compared::conditions(body, id, part, triangles);
    allowance(body, part.allowances);
    if let Some(shared) = part.shared {
        space(body, id, shared);
    }
}

pub(super) fn some(v: Option<f64>, f: impl Fn(f64) -> String) -> Cell {
    v.map_or_else(|| cell("–").suppressed(), |v| cell(f(v)))
}

fn changes(body: &mut Body, changes: &[DimensionChange]) {
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

fn components(body: &mut Body, id: &str, found: &[DimensionComponents]) {
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

fn allowance(body: &mut Body, allowances: &[Allowance]) {
    let moving: Vec<&Allowance> =
        allowances.iter().filter(|a| a.increase.max > 0.0 || a.decrease.max > 0.0).collect();
    if moving.is_empty() {
        return;
    }
    body.heading("What a garment must allow for");
    let mut table = Table::new(
        "Dynamic allowance: the greatest change from the reference pose, over people",
        vec![
            text("Dimension"),
            text("Unit"),
            number("People", ""),
            number("Increase, mean", ""),
            number("Median", ""),
            number("95th percentile", ""),
            number("Most", ""),
            number("Decrease, mean", ""),
            number("Most", ""),
        ],
    );
    for a in &moving {
        let spread = a.increase.sd.map_or_else(String::new, |sd| format!("SD {}", about(sd, 1)));
        table.row(vec![
            cell(title_words(&a.dimension, Some(&a.unit))),
            cell(unit(&a.unit)),
            cell(count(a.people)),
            cell(about(a.increase.mean, 1)).quiet(spread),
            cell(about(a.increase.p50, 1)),
            some(a.increase.p95, |v| about(v, 1)),
            cell(about(a.increase.max, 1)),
            cell(about(a.decrease.mean, 1)),
            cell(about(a.decrease.max, 1)),
        ]);
    }
    body.table(table);
    let few = moving.iter().map(|a| a.people).max().unwrap_or(0);
    body.note(&format!(
        "A garment must fit the moving body: this is what each dimension grows and shrinks by at most in the study's movements. The values of every person are in dynamic-people.csv, which a size \
         plan reads. {}",
        if few < 60 { "A 95th percentile is given from 60 people on." } else { "" }
    ));
}

fn space(body: &mut Body, id: &str, shared: &SharedMotion) {
    body.heading("All movements in one motion space");
    let of = |k: usize| shared.variances_mm2.get(k).map_or(0.0, |v| v / shared.total_variance_mm2);
    body.paragraph(&format!(
        "{} of {}, each relative to its own {}, {} in all{}. The first mode holds {} of the movement, the first two {}.",
        counted(shared.captures, "capture", "captures"),
        counted(shared.people, "person", "people"),
        match shared.params.origin {
            formkin_motion::shared::Origin::Mean => "mean",
            formkin_motion::shared::Origin::FirstFrame => "first frame",
        },
        counted(shared.frames, "frame", "frames"),
        if shared.thinned_by > 1 { format!(" (every {}th)", shared.thinned_by) } else { String::new() },
        percent(of(0)),
        percent(of(0) + of(1))
    ));
    let mut figures = Vec::new();
    if shared.modes.len() > 1 {
        figures.push(paths(id, shared));
    }
    figures.extend(super::mode_errors::shared_chart(id, shared));
    body.figures(figures);
    let mut table = Table::new(
        "The captures in the motion space",
        vec![
            text("Capture"),
            text("Person"),
            number("Frames", ""),
            number("Movement", "mm"),
            number("In the modes", ""),
        ],
    );
    for c in &shared.courses {
        table.row(vec![
            cell(title_words(&c.capture, None)),
            cell(c.participant.clone()),
            cell(count(c.frames.len())),
            cell(about(c.rms_mm, 1)),
            cell(percent(c.explained)),
        ]);
    }
    body.table(table);
    if let Some((title, inside)) = super::mode_errors::shared_numbers(shared) {
        body.folded(&title, inside);
    }
    body.note("Movement is the root mean square distance of a point of the skin from the capture's own pose. The courses are in motion-space.csv and .parquet, the modes in motion/motion-space.npy, the errors in motion-space-errors.csv.");
}

fn paths(id: &str, shared: &SharedMotion) -> Figure {
    let mut plot = Plot::new(
        format!("shared-{id}"),
        "The captures as curves in the plane of the first two modes",
        Axis::new("mode 1, mm"),
        Axis::new("mode 2, mm"),
    );
    plot.half = true;
    plot.aspect = 0.62;
    let shown = shared.courses.len().min(SERIES.len());
    for (class, course) in SERIES.into_iter().zip(&shared.courses) {
        let step = course.coefficients.len().div_ceil(POINTS).max(1);
        let points = course.coefficients.iter().step_by(step).filter_map(|r| Some((*r.first()?, *r.get(1)?)));
        plot.layers.push(Layer::Line { class, points: points.collect(), dots: false });
        plot.keys.push(Key::new(class, "line", title_words(&course.capture, None)));
    }
    plot.reading = if shown < shared.courses.len() {
        format!("The first {} of {} captures are drawn.", count(shown), count(shared.courses.len()))
    } else {
        "Movements that are alike run along the same curve.".to_owned()
    };
    plot.figure()
}
