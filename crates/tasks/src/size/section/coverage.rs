//! Coverage: the share of people whom the sizes fit, held out first.

use formkin_report::charts::{Axis, BarRow, BarValue, Bars, Figure, Key, Layer, Plot};
use formkin_report::document::table::{Table, cell, number, text};
use formkin_report::format::{count, fixed, percent, percent_interval, title_words, words};
use formkin_sizing::{Count, GroupSystem, SizeSystem};

/// `All people`, or the group's name.
pub(super) fn group_name(group: &str) -> String {
    if group == "all" { "All people".to_owned() } else { title_words(group, None) }
}

/// Coverage held out and in sample, over all and by group.
pub(super) fn coverage_table(system: &SizeSystem) -> Table {
    let loss = system.groups.iter().any(|g| g.aggregate_loss_mm.is_some());
    let mut columns = vec![
        text("People"),
        number("n", ""),
        number("Sizes", ""),
        number(if system.given { "Fitted" } else { "Fitted, held out" }, ""),
        number("Interval", ""),
        number("Fitted, in sample", ""),
        number("Interval", ""),
    ];
    if system.given {
        // nothing was held out: one figure
        columns.truncate(5);
    }
    if loss {
        columns.push(number("Mean distance from the nearest size", "mm"));
    }
    let mut table = Table::new("Share of people whom a size fits", columns);
    let mut all = vec![
        cell("All people"),
        cell(count(system.people)),
        cell(count(system.size_count)),
        cell(percent(system.coverage_held_out)).held(),
        cell(percent_interval(system.held_out_interval)).held(),
        cell(percent(system.coverage_in_sample)).faint(),
        cell(percent_interval(system.coverage_in_sample_interval)).faint(),
    ];
    if system.given {
        all.truncate(5);
    }
    if loss {
        all.push(cell(system.aggregate_loss_mm().map_or_else(|| "–".to_owned(), |l| fixed(l, 0))));
    }
    table.total(all);
    if system.groups.len() > 1 {
        for g in &system.groups {
            let mut row = vec![
                cell(group_name(&g.group)),
                cell(count(g.people)),
                cell(count(g.sizes.len())),
                cell(percent(g.coverage_held_out)).held(),
                cell(percent_interval(g.held_out_interval)).held(),
                cell(percent(g.coverage_in_sample)).faint(),
                cell(percent_interval(g.coverage_in_sample_interval)).faint(),
            ];
            if system.given {
                row.truncate(5);
            }
            if loss {
                row.push(cell(g.aggregate_loss_mm.map_or_else(|| "–".to_owned(), |l| fixed(l, 0))));
            }
            table.row(row);
        }
    }
    table
}

/// The same with intervals, drawn.
pub(super) fn coverage_chart(system: &SizeSystem) -> Figure {
    let row = |name: String, held: (f64, (f64, f64)), sample: (f64, (f64, f64))| BarRow {
        name,
        values: vec![
            BarValue { value: held.0, class: "s1", interval: Some(held.1) },
            BarValue { value: sample.0, class: "s2", interval: Some(sample.1) },
        ],
        text: percent(held.0),
    };
    let mut rows = vec![row(
        "All people".to_owned(),
        (system.coverage_held_out, system.held_out_interval),
        (system.coverage_in_sample, system.coverage_in_sample_interval),
    )];
    rows.extend(system.groups.iter().map(|g| {
        row(
            group_name(&g.group),
            (g.coverage_held_out, g.held_out_interval),
            (g.coverage_in_sample, g.coverage_in_sample_interval),
        )
    }));
    let by_coverage =
        |a: &&GroupSystem, b: &&GroupSystem| a.coverage_held_out.total_cmp(&b.coverage_held_out);
    let reading = match (system.groups.iter().min_by(by_coverage), system.groups.iter().max_by(by_coverage)) {
        (Some(worst), Some(best)) => {
            let (low, high) = (percent(worst.coverage_held_out), percent(best.coverage_held_out));
            if low == high {
                format!("All groups are fitted alike: {low} held out.")
            } else {
                format!(
                    "Fewest are fitted in the group {} ({low} held out), most in {} ({high}).",
                    words(&worst.group, None),
                    words(&best.group, None)
                )
            }
        }
        _ => String::new(),
    };
    let lowest =
        rows.iter().flat_map(|r| &r.values).filter_map(|v| v.interval.map(|i| i.0)).fold(1.0, f64::min);
    // coverage near one is told apart on a shorter axis
    let from = ((lowest - 0.05) * 10.0).floor().clamp(0.0, 8.0) / 10.0;
    Bars {
        id: "coverage".into(),
        title: "Share of people whom a size fits".into(),
        reading,
        axis: Axis { percent: true, range: Some((from, 1.0)), ..Axis::new("share of people fitted") },
        rows,
        keys: vec![
            Key::new("s1", "dot", "held out, with interval"),
            Key::new("s2", "dot", "in sample, with interval"),
        ],
        dots: true,
        half: false,
    }
    .figure()
}

/// Coverage against the number of sizes, where there is such a curve.
pub(super) fn curve_chart(system: &SizeSystem) -> Option<Figure> {
    if system.curve.len() < 2 {
        return None;
    }
    let each = if system.groups.len() > 1 { "number of sizes in each group" } else { "number of sizes" };
    let mut plot = Plot::new(
        "coverage-curve",
        "Share of people whom a size fits, against the number of sizes",
        Axis { whole: true, ..Axis::new(each) },
        Axis { percent: true, range: Some((0.0, 1.0)), ..Axis::new("share of people fitted") },
    );
    let xs = |f: fn(&formkin_sizing::CurvePoint) -> f64| {
        system.curve.iter().map(|p| (p.sizes as f64, f(p))).collect::<Vec<_>>()
    };
    plot.layers.push(Layer::Band {
        class: "s1",
        points: system
            .curve
            .iter()
            .map(|p| (p.sizes as f64, p.held_out_interval.0, p.held_out_interval.1))
            .collect(),
    });
    let ceiling: Vec<(f64, f64)> =
        system.curve.iter().filter_map(|p| Some((p.sizes as f64, p.ceiling?))).collect();
    let ceilings = ceiling.len() > 1;
    if ceilings {
        plot.layers.push(Layer::Line { class: "s6", points: ceiling, dots: false });
    }
    plot.layers.push(Layer::Line { class: "s2", points: xs(|p| p.coverage_in_sample), dots: false });
    plot.layers.push(Layer::Line { class: "s1", points: xs(|p| p.coverage_held_out), dots: true });
    if let Count::Each(count) = system.plan.sizes.count
        && let Some(now) = system.curve.iter().find(|p| p.sizes == count)
    {
        plot.layers.push(Layer::Pick {
            class: "s1",
            at: (now.sizes as f64, now.coverage_held_out),
            text: format!("this plan: {}", percent(now.coverage_held_out)),
        });
    }
    if let (Some(first), Some(last)) = (system.curve.first(), system.curve.last()) {
        plot.reading = format!(
            "From {} to {} sizes, coverage of people held out goes from {} to {}.",
            first.sizes,
            last.sizes,
            percent(first.coverage_held_out),
            percent(last.coverage_held_out)
        );
    }
    plot.keys = vec![
        Key::new("s1", "line", "held out"),
        Key::new("s1", "band", "interval of it"),
        Key::new("s2", "line", "in sample (optimistic)"),
    ];
    if ceilings {
        plot.keys.push(Key::new("s6", "line", "no system could fit more of these people"));
    }
    Some(plot.figure())
}
