//! One motion space over all captures, as a reader is shown it.

use formkin_motion::shared::{Origin, SharedMotion};
use formkin_report::charts::{Axis, Figure, Key, Layer, Plot};
use formkin_report::document::Body;
use formkin_report::document::table::{Table, cell, number, text};
use formkin_report::format::{about, capital, count, counted, fixed, percent, title_words};

use crate::motion::{errors_plot, line};

const SERIES: [&str; 6] = ["s1", "s2", "s3", "s4", "s5", "s6"];
/// Most points of a course.
const POINTS: usize = 300;

/// Adds the motion space; `id` keeps charts of two parts of a page apart.
pub(super) fn space(body: &mut Body, id: &str, shared: &SharedMotion) {
    body.heading("All movements in one motion space");
    let of = |k: usize| shared.variances_mm2.get(k).map_or(0.0, |v| v / shared.total_variance_mm2);
    body.paragraph(&format!(
        "{} of {}, each relative to its own {}, {} in all{}. The first mode holds {} of the movement, the first two {}.",
        counted(shared.captures, "capture", "captures"),
        counted(shared.people, "person", "people"),
        match shared.params.origin {
            Origin::Mean => "mean",
            Origin::FirstFrame => "first frame",
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
    figures.extend(shared_chart(id, shared));
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
    if let Some((title, inside)) = shared_numbers(shared) {
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

/// The chart of a motion space; nothing where nobody was left out.
fn shared_chart(id: &str, shared: &SharedMotion) -> Option<Figure> {
    let left = shared.left_out.as_ref()?;
    let mut plot = errors_plot(
        format!("shared-error-{id}"),
        format!("The motion space with a {} left out: distance from the frames", left.by),
    );
    let kept = shared.modes.len().min(left.rms_mm.len().saturating_sub(1));
    let own = (0..=kept).map(|k| (k as f64, shared.error_in_sample_mm(k))).collect();
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
fn shared_numbers(shared: &SharedMotion) -> Option<(String, Body)> {
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
            cell(fixed(shared.error_in_sample_mm(k), 2))
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
