//! What movement does: modes that play, their course in time, and dimensions through time.

use formkin_align::Removes;
use formkin_motion::{Curve, Motion, PhaseOf};

use super::files::sentence;
use crate::charts::{Axis, Figure, Key, Layer, Plot, rounded_out};
use crate::document::Body;
use crate::document::table::{Table, cell, number, text};
use crate::document::view::{Course, Deforming, MODES, SkinLine, Triangles, View};
use crate::format::{about, capital, count, counted, fixed, percent, signed, title_words, unit, words};
use crate::{Movement, MovementsTogether};

/// Series of a chart, in the order they are given out.
const SERIES: [&str; 3] = ["s1", "s2", "s3"];
/// Most curves of dimensions drawn for one movement; the table has all.
const CURVES: usize = 6;
/// Most points of a drawn curve.
const POINTS: usize = 600;

/// The section; nothing where there are no movements.
pub(crate) fn section(
    movements: &[Movement<'_>],
    together: &MovementsTogether<'_>,
    triangles: &Triangles,
) -> Option<Body> {
    if movements.is_empty() {
        return None;
    }
    let mut body = Body::default();
    let mut people: Vec<&str> = movements.iter().map(|m| m.participant.as_str()).collect();
    people.sort_unstable();
    people.dedup();
    let whom = if people.len() == 1 { "this person and no other" } else { "these people and no others" };
    body.paragraph(&format!(
        "{} of {}. What follows is about {whom}: frames of one person say nothing about how people differ.",
        counted(movements.len(), "movement", "movements"),
        counted(people.len(), "person", "people")
    ));
    super::together::section(&mut body, "movements", together, triangles);
    for (i, movement) in movements.iter().enumerate() {
        one(&mut body, i, movement, triangles);
    }
    Some(body)
}

fn one(body: &mut Body, index: usize, movement: &Movement<'_>, triangles: &Triangles) {
    let motion = movement.motion;
    body.heading(&heading(movement));
    let rate = motion.timing.fps.map_or_else(String::new, |f| format!(" at {} frames a second", about(f, 1)));
    let removed = match (motion.params.removes, &motion.params.region) {
        (_, Some(region)) => {
            format!("seen from a region of the body ({})", counted(region.len(), "vertex", "vertices"))
        }
        (Removes::Standing, None) => "with the place on the floor taken out of every frame".to_owned(),
        (Removes::Similarity, None) => "with place, turn and size taken out of every frame".to_owned(),
        (Removes::Rigid, None) => "with place and turn taken out of every frame".to_owned(),
    };
    body.paragraph(&format!(
        "{} over {} s{rate}, {removed}. A point of the skin is {} mm (root mean square) from its mean place.",
        counted(motion.frames, "frame", "frames"),
        fixed(motion.timing.duration_s, 2),
        about(motion.total_variance_mm2.max(0.0).sqrt(), 1)
    ));
    let findings: Vec<String> =
        motion.findings.iter().map(|f| format!("{} {}", sentence(&f.message), sentence(&f.advice))).collect();
    body.cautions(&findings);
    let id = format!("formkin-movement-{}", index + 1);
    body.view(View::Deforming(view(&id, movement, triangles)));
    if let Some(figure) = course_chart(index, &id, motion) {
        body.figure(figure);
    }
    let spectra = movement.deep.as_ref().and_then(|d| super::dynamics::spectra(index, &d.spectra));
    let by_cycle = movement.deep.as_ref().and_then(|d| d.cycles_left_out);
    let errors = super::mode_errors::chart(index, motion, by_cycle);
    body.figures(spectra.into_iter().chain(errors).collect::<Vec<_>>());
    body.folded("Modes of this movement in numbers", super::mode_errors::numbers(motion, by_cycle));
    dimensions(body, &index.to_string(), &id, movement.curves);
    if let Some(deep) = &movement.deep {
        super::deep::section(body, &index.to_string(), &id, deep, &motion.times_s);
    }
}

/// The movement and the person; sequences are often named after both.
fn heading(movement: &Movement<'_>) -> String {
    let bare = movement.name.strip_prefix(movement.participant.as_str());
    let bare = bare.map(|n| n.trim_start_matches(['_', '-', ' ', '/'])).filter(|n| !n.is_empty());
    format!("{}, person {}", title_words(bare.unwrap_or(&movement.name), None), movement.participant)
}

/// The body that plays the movement.
fn view(id: &str, movement: &Movement<'_>, triangles: &Triangles) -> Deforming {
    let motion = movement.motion;
    let explained = motion.explained();
    let hint = |shown: usize| {
        let held = explained.get(shown - 1).map_or_else(String::new, |&e| percent(e));
        let kept_error = motion.errors.iter().find(|e| e.modes == shown).map_or_else(String::new, |e| {
            format!(" and are off by {} mm (root mean square)", about(e.rms_mm, 1))
        });
        format!(
            "The body is drawn from {}, which hold {held} of the movement{kept_error}. The line in the charts below runs along.",
            counted(shown, "mode", "modes")
        )
    };
    let shown = motion.modes.len().min(MODES);
    let deep = movement.deep.as_ref();
    let lines = deep.map_or(&[][..], |d| d.skin_lines.as_slice());
    Deforming {
        id: id.to_owned(),
        label: format!("The body through the movement {}.", words(&movement.name, None)),
        triangles: triangles.clone(),
        mean: motion.mean.clone(),
        modes: motion.modes.iter().take(shown).cloned().collect(),
        variances_mm2: motion.variances_mm2.clone(),
        total_variance_mm2: motion.total_variance_mm2,
        marks: Vec::new(),
        hints: (1..=shown).map(hint).collect(),
        course: Some(Course {
            times_s: motion.times_s.clone(),
            coefficients_mm: motion.coefficients.clone(),
            span: format!("{} frames", count(motion.frames)),
            lines: lines
                .iter()
                .map(|l| SkinLine { triangle: l.triangle, directions: l.directions })
                .collect(),
            strain: deep.map_or_else(Vec::new, |d| d.strain_frames.clone()),
        }),
    }
}

/// Indices of at most `POINTS` of `n` values, the last among them.
fn thinned(n: usize) -> Vec<usize> {
    let step = n.div_ceil(POINTS).max(1);
    let mut kept: Vec<usize> = (0..n).step_by(step).collect();
    if n > 0 && kept.last() != Some(&(n - 1)) {
        kept.push(n - 1);
    }
    kept
}

pub(super) fn span(times_s: &[f64]) -> Option<(f64, f64)> {
    match (times_s.first(), times_s.last()) {
        (Some(&first), Some(&last)) if last > first => Some((first, last)),
        _ => None,
    }
}

fn course_chart(index: usize, id: &str, motion: &Motion) -> Option<Figure> {
    let shown = motion.modes.len().min(SERIES.len());
    if shown == 0 || motion.frames < 2 {
        return None;
    }
    let mut plot = Plot::new(
        format!("course-{index}"),
        "Course of the first modes in time",
        Axis { range: span(&motion.times_s), ..Axis::new("time, s") },
        Axis::new("coefficient, mm"),
    );
    plot.aspect = 0.32;
    let kept = thinned(motion.frames);
    for (k, class) in SERIES.into_iter().enumerate().take(shown) {
        let points = kept.iter().filter_map(|&f| {
            let c = motion.coefficients.get(f)?.get(k)?;
            Some((*motion.times_s.get(f)?, *c))
        });
        plot.layers.push(Layer::Line { class, points: points.collect(), dots: false });
        plot.keys.push(Key::new(class, "line", format!("mode {}", k + 1)));
    }
    plot.layers.push(Layer::Cursor { id: id.to_owned() });
    let share = motion.explained().first().copied().unwrap_or(0.0);
    plot.reading = match motion.frequencies.first().copied().flatten() {
        Some(f) => format!(
            "The first mode holds {} of the movement and repeats every {} s ({} Hz, {} cycles in the record).",
            percent(share),
            fixed(1.0 / f.hz, 2),
            fixed(f.hz, 2),
            about(f.cycles, 1)
        ),
        None => format!(
            "The first mode holds {} of the movement{}.",
            percent(share),
            motion
                .no_frequency
                .first()
                .and_then(Option::as_ref)
                .map_or_else(String::new, |why| format!("; it has no frequency: {why}"))
        ),
    };
    Some(plot.figure())
}

pub(super) fn dimensions(body: &mut Body, index: &str, id: &str, curves: &[Curve]) {
    if curves.is_empty() {
        return;
    }
    let swing = |c: &Curve| {
        let change = |p: Option<f64>| p.map_or(0.0, f64::abs);
        let percent = change(c.change_min_percent).max(change(c.change_max_percent));
        // what has no reference is told by its range
        if c.reference.is_none() { c.range.unwrap_or(0.0) } else { percent }
    };
    let mut order: Vec<usize> = (0..curves.len()).collect();
    order.sort_by(|&a, &b| swing(&curves[b]).total_cmp(&swing(&curves[a])).then(a.cmp(&b)));
    let figures: Vec<Figure> = order
        .iter()
        .take(CURVES)
        .filter(|&&i| curves[i].min.is_some())
        .map(|&i| curve_chart(index, i, id, &curves[i]))
        .collect();
    let drawn = figures.len();
    body.figures(figures);
    if curves.len() > drawn {
        body.note(&format!("The {drawn} that change most are drawn; the table has all."));
    }
    body.table(curve_table(curves));
    let mut poses: Vec<&str> = curves.iter().map(|c| c.reference_pose.as_str()).collect();
    poses.dedup();
    let cycle = curves.iter().any(|c| !matches!(c.phase_of, PhaseOf::Record));
    body.note(&format!(
        "Changes are counted from the reference pose ({}). Phases are in per cent of {}.",
        crate::format::list(&poses),
        if cycle {
            "the cycle, or of the whole record where no cycle was found"
        } else {
            "the whole record: no cycle was found"
        }
    ));
}

fn curve_chart(index: &str, which: usize, id: &str, curve: &Curve) -> Figure {
    let (name, of) = (words(&curve.dimension, Some(&curve.unit)), unit(&curve.unit));
    let mut plot = Plot::new(
        format!("curve-{index}-{which}"),
        match curve.reference {
            Some(r) => format!(
                "{} through time; dashed: the reference, {} {of} ({})",
                capital(&name),
                about(r, 1),
                curve.reference_pose.replace(' ', "\u{a0}")
            ),
            None => format!("{} through time", capital(&name)),
        },
        Axis { range: span(&curve.times_s), ..Axis::new("time, s") },
        Axis::new(if of.is_empty() { name.clone() } else { format!("{name}, {of}") }),
    );
    plot.half = true;
    plot.aspect = 0.62;
    plot.y.range = level_range(curve);
    let points = thinned(curve.values.len())
        .into_iter()
        .filter_map(|f| Some((*curve.times_s.get(f)?, curve.values[f].unwrap_or(f64::NAN))));
    plot.layers.push(Layer::Line { class: "s1", points: points.collect(), dots: false });
    if let Some(reference) = curve.reference {
        plot.layers.push(Layer::Level { class: "muted", at: reference, text: String::new() });
    }
    let extreme = |time: Option<f64>, value: Option<f64>| Some((time?, value?));
    let extremes = [extreme(curve.time_at_min_s, curve.min), extreme(curve.time_at_max_s, curve.max)];
    plot.layers.push(Layer::Spots { class: "s1", points: extremes.into_iter().flatten().collect() });
    plot.layers.push(Layer::Cursor { id: id.to_owned() });
    plot.reading = match (curve.change_min_percent, curve.change_max_percent) {
        (Some(low), Some(high)) if low.abs() < 0.05 && high.abs() < 0.05 => {
            format!("{} does not change.", capital(&name))
        }
        (Some(low), Some(high)) => {
            format!("{} changes by {} to {} %.", capital(&name), signed(low, 1), signed(high, 1))
        }
        _ => match (curve.range, curve.reference) {
            (Some(range), None) => format!("{} ranges over {} {of}.", capital(&name), about(range, 1)),
            _ => format!("{} could not be compared with the reference pose.", capital(&name)),
        },
    };
    plot.figure()
}

/// A range for what hardly changes: 2 % of the value, so that noise does not look like a movement.
fn level_range(curve: &Curve) -> Option<(f64, f64)> {
    let (min, max) = (curve.min?, curve.max?);
    let (middle, least) = ((min + max) / 2.0, 0.02 * max.abs().max(min.abs()));
    (max - min < least && least > 0.0).then(|| rounded_out((middle - least / 2.0, middle + least / 2.0), 4))
}

fn curve_table(curves: &[Curve]) -> Table {
    let missing = curves.iter().any(|c| c.missing > 0);
    let mut columns = vec![
        text("Dimension"),
        text("Unit"),
        number("Reference", ""),
        number("Least", ""),
        number("Most", ""),
        number("Range", ""),
        number("Change at least", "%"),
        number("Change at most", "%"),
        number("Phase of least", "%"),
        number("Phase of most", "%"),
    ];
    if missing {
        columns.push(number("Frames without a value", ""));
    }
    let mut table = Table::new("Dimensions through the movement", columns);
    let mut order: Vec<&Curve> = curves.iter().collect();
    order.sort_by(|a, b| b.range.unwrap_or(-1.0).total_cmp(&a.range.unwrap_or(-1.0)));
    for c in order {
        let value = |v: Option<f64>| cell(v.map_or_else(|| "–".to_owned(), |v| about(v, 1)));
        let change = |v: Option<f64>| cell(v.map_or_else(|| "–".to_owned(), |v| signed(v, 1)));
        let phase = |v: Option<f64>| cell(v.map_or_else(|| "–".to_owned(), |v| fixed(v, 0)));
        let mut row = vec![
            cell(title_words(&c.dimension, Some(&c.unit))),
            cell(unit(&c.unit)),
            value(c.reference),
            value(c.min),
            value(c.max),
            value(c.range),
            change(c.change_min_percent),
            change(c.change_max_percent),
            phase(c.phase_at_min_percent),
            phase(c.phase_at_max_percent),
        ];
        if missing {
            row.push(cell(if c.missing > 0 { count(c.missing) } else { String::new() }));
        }
        table.row(row);
    }
    table
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn thinning_keeps_both_ends() {
        assert_eq!(thinned(0), Vec::<usize>::new());
        assert_eq!(thinned(3), [0, 1, 2]);
        let kept = thinned(10_000);
        assert!(kept.len() <= POINTS + 1 && kept[0] == 0 && kept.last() == Some(&9_999));
    }
}
