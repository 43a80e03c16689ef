//! Dimensions or signals through time: charts and a table.

use formkin_motion::{Curve, PhaseOf};
use formkin_report::charts::{Axis, Figure, Layer, Plot, rounded_out};
use formkin_report::document::Body;
use formkin_report::document::table::{Table, cell, number, text};
use formkin_report::format::{about, capital, count, fixed, list, signed, title_words, unit, words};

/// Most curves drawn for one movement; the table has all.
const CURVES: usize = 6;
/// Most points of a drawn curve.
const POINTS: usize = 600;

/// Indices of at most `POINTS` of `n` values, the last among them.
#[must_use]
pub fn thinned(n: usize) -> Vec<usize> {
    let step = n.div_ceil(POINTS).max(1);
    let mut kept: Vec<usize> = (0..n).step_by(step).collect();
    if n > 0 && kept.last() != Some(&(n - 1)) {
        kept.push(n - 1);
    }
    kept
}

/// First and last time; `None` where they are not apart.
#[must_use]
pub fn span(times_s: &[f64]) -> Option<(f64, f64)> {
    match (times_s.first(), times_s.last()) {
        (Some(&first), Some(&last)) if last > first => Some((first, last)),
        _ => None,
    }
}

/// Adds curves: the most changing ones drawn, all in a table. `index` keeps charts apart, `id` is the view that a line in them runs along with.
pub fn curves(body: &mut Body, index: &str, id: &str, curves: &[Curve]) {
    if curves.is_empty() {
        return;
    }
    let swing = |c: &Curve| {
        let change = |p: Option<f64>| p.map_or(0.0, f64::abs);
        let percent = change(c.change_min_percent).max(change(c.change_max_percent));
        // what has no reference is ranked by its range
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
        list(&poses),
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
