//! The sizes, and whom they fit.

use formkin_report::charts::{Axis, BarRow, BarValue, Bars, Figure, Frame, Key, Layer, Mark, Plot};
use formkin_report::document::Body;
use formkin_report::document::table::{Flag, Table, cell, number, text};
use formkin_report::format::{chart_unit, count, counted, fixed, percent, title_words, words};
use formkin_sizing::{GroupSystem, SizeSystem};
use formkin_table::Table as Measurements;

use super::committee;
use super::coverage::{coverage_chart, coverage_table, curve_chart, group_name};
use super::shown::Shown;
use crate::sentence::sentence;

/// The section.
pub(super) fn body(part: &Shown<'_>) -> Body {
    let system = part.system;
    let mut body = Body::default();
    tolerances(&mut body, system);
    body.heading("Coverage");
    coverage(&mut body, system);
    methods(&mut body, system);
    body.heading("Who wears what");
    let clouds: Vec<Figure> =
        system.groups.iter().enumerate().filter_map(|(i, g)| scatter(i, system, g, part.table)).collect();
    body.figures(clouds);
    body.heading("Size chart");
    body.table(chart(system));
    body.note(
        "Body dimensions, not garment dimensions. A range holds both its limits. Values after ± are standard deviations over the \
         people of the study who wear the size; the fit model is the wearer nearest to the middle of them on all fit dimensions.",
    );
    body.figure(shares(system));
    super::mannequins::section(&mut body, part);
    committee::changes(&mut body, system);
    if let Some(existing) = part.existing {
        super::existing::section(&mut body, system, existing);
    }
    committee::grading(&mut body, system);
    let notes: Vec<String> = system.notes.iter().map(|n| sentence(n)).collect();
    let mut inside = Body::default();
    inside.cautions(&notes);
    body.folded("How these figures were made", inside);
    if !system.dropped.is_empty() {
        dropped(&mut body, system);
    }
    body
}

/// Whom a size fits.
fn tolerances(body: &mut Body, system: &SizeSystem) {
    let controls: Vec<String> = system
        .controls
        .iter()
        .map(|c| {
            let (factor, unit, decimals) = chart_unit(c.unit.as_deref());
            let name = words(&c.dimension, c.unit.as_deref());
            let (below, above) = (fixed(c.below * factor, decimals), fixed(c.above * factor, decimals));
            if below == above {
                format!("{name} (±{below} {unit})")
            } else {
                format!("{name} (−{below} to +{above} {unit})")
            }
        })
        .collect();
    body.paragraph(&format!(
        "A size fits a person who is within its range on {}: {}.",
        if controls.len() > 1 { "all control dimensions at once" } else { "its control dimension" },
        formkin_report::format::list(&controls)
    ));
}

/// How many people the sizes fit, and what the figures rest on.
fn coverage(body: &mut Body, system: &SizeSystem) {
    body.table(coverage_table(system));
    if system.given {
        body.paragraph(&format!(
            "The sizes were given, and nothing was derived: the figures are those of these people, with {} Wilson intervals.",
            percent(system.interval_level)
        ));
    } else {
        body.paragraph(&format!(
        "Rely on the held-out figures. For them the sizes were derived again without the people they are tried on ({} folds, {} \
         repeats); in-sample figures are of the very people the sizes were made from, and flatter. Intervals are \
         {} Wilson intervals.",
        system.plan.folds,
        system.plan.repeats,
        percent(system.interval_level)
    ));
    }
    if system.groups.len() > 1 && !system.given {
        body.figure(coverage_chart(system));
    }
    if let Some(figure) = curve_chart(system) {
        body.figure(figure);
    }
    if let Some(knee) = &system.knee {
        body.paragraph(&format!(
            "The curve bends at {} sizes; {} sizes are within one standard error of its highest point.",
            knee.sizes, knee.enough
        ));
    }
}

/// How sure the sizes are, and what other methods and numbers of sizes would give.
fn methods(body: &mut Body, system: &SizeSystem) {
    committee::how_sure(body, system);
    if let Some(figure) = committee::methods_chart(system) {
        body.figure(figure);
    }
    if let Some(table) = committee::methods_table(system) {
        body.table(table);
    }
    if let Some(table) = committee::choice_table(system) {
        body.table(table);
        let folds = system.chosen.first().map_or(0, |c| c.folds);
        body.note(&format!(
            "Shares of people fitted. Who takes the best of several held-out figures takes luck along with it, so the choice itself was made again {} times, each time without a part of the \
             people, and judged on that part (nested cross-validation): of the method that fits most at the plan's number of sizes, and of the fewest sizes within one standard error of the \
             curve's highest point. How often each won is in brackets: winners that change from fold to fold are no better than each other for certain. If you choose by this page, \
             rely on these figures; by chance they can lie above those shown.",
            count(folds)
        ));
    }
}

/// The people without a value that the sizes need, folded.
fn dropped(body: &mut Body, system: &SizeSystem) {
    let mut table = Table::unnamed("People without a part", vec![text("Person"), text("What is missing")]);
    for d in system.dropped.iter().take(200) {
        table.row(vec![cell(d.id.clone()), cell(words(&d.column, None))]);
    }
    let mut inside = Body::default();
    inside.table(table);
    body.folded(
        &format!(
            "{} of the table had no part, for want of a value",
            counted(system.dropped.len(), "person", "people")
        ),
        inside,
    );
}

/// The values of a dimension by person, under its name with or without the unit.
fn column<'a>(table: &'a Measurements, dimension: &str, unit: Option<&str>) -> Option<&'a [Option<f64>]> {
    let with_unit = unit.map(|u| format!("{dimension}_{u}"));
    let found = table.numbers.iter().find(|c| {
        c.name == dimension || Some(&c.name) == with_unit.as_ref() || {
            c.unit.as_deref().is_some_and(|u| format!("{}_{u}", c.name) == dimension)
        }
    });
    found.map(|c| c.values.as_slice())
}

fn scatter(index: usize, system: &SizeSystem, group: &GroupSystem, table: &Measurements) -> Option<Figure> {
    let [a, b, ..] = system.controls.as_slice() else { return None };
    let (xs, ys) =
        (column(table, &a.dimension, a.unit.as_deref())?, column(table, &b.dimension, b.unit.as_deref())?);
    let ((fx, ux, _), (fy, uy, _)) = (chart_unit(a.unit.as_deref()), chart_unit(b.unit.as_deref()));
    let rows: std::collections::BTreeMap<&str, usize> =
        table.ids.iter().enumerate().map(|(i, id)| (id.as_str(), i)).collect();
    let (mut fitted, mut left) = (Vec::new(), Vec::new());
    for person in &group.assignments {
        let Some(&row) = rows.get(person.id.as_str()) else { continue };
        let (Some(Some(x)), Some(Some(y))) = (xs.get(row), ys.get(row)) else { continue };
        if person.size.is_some() { &mut fitted } else { &mut left }.push((x * fx, y * fy));
    }
    let boxes = group.sizes.iter().filter_map(|s| {
        let of = |name: &str| s.ranges.iter().find(|r| r.dimension == name);
        let (rx, ry) = (of(&a.dimension)?, of(&b.dimension)?);
        // inside a group's chart its name goes without saying
        let short = s
            .name
            .strip_prefix(&group.group)
            .map_or(s.name.as_str(), |n| n.trim_start_matches(['-', ' ', '_']));
        Some(Frame {
            low: (rx.low * fx, ry.low * fy),
            high: (rx.high * fx, ry.high * fy),
            name: short.to_owned(),
        })
    });
    let boxes: Vec<_> = boxes.collect();
    let label = |c: &formkin_sizing::ControlInfo, unit: &str| {
        let name = words(&c.dimension, c.unit.as_deref());
        if unit.is_empty() { name } else { format!("{name}, {unit}") }
    };
    let several = system.groups.len() > 1;
    let mut title = format!("People and the ranges of the sizes, by {} and {}", label(a, ""), label(b, ""));
    if system.controls.len() > 2 {
        title.push_str(&format!(
            "; sizes differ also in {}",
            formkin_report::format::list(
                &system.controls[2..].iter().map(|c| label(c, "")).collect::<Vec<_>>()
            )
        ));
    }
    let mut plot =
        Plot::new(format!("people-{index}"), title, Axis::new(label(a, &ux)), Axis::new(label(b, &uy)));
    plot.aspect = if several { 0.95 } else { 0.62 };
    plot.half = several;
    let whom = if several { format!("{}: ", group_name(&group.group)) } else { String::new() };
    let total = fitted.len() + left.len();
    plot.reading = format!(
        "{whom}{} of {} of the study have no size.",
        count(left.len()),
        counted(total, "person", "people")
    );
    plot.keys = vec![
        Key::new("s1", "dot", "has a size"),
        Key::new("alert", "cross", "has none"),
        Key::new("s6", "box", "range of a size"),
    ];
    plot.layers.push(Layer::Marks { class: "s1", mark: Mark::Dot, points: fitted });
    plot.layers.push(Layer::Boxes { class: "s6", boxes });
    plot.layers.push(Layer::Marks { class: "alert", mark: Mark::Cross, points: left });
    Some(plot.figure())
}

/// The size chart: ranges on the control dimensions, means of the others, lengths in centimetres.
fn chart(system: &SizeSystem) -> Table {
    let mut columns = vec![text("Size"), number("People", ""), number("Share", "")];
    for c in &system.controls {
        columns.push(number(title_words(&c.dimension, c.unit.as_deref()), chart_unit(c.unit.as_deref()).1));
    }
    let secondary = system.groups.iter().flat_map(|g| &g.sizes).next().map_or(&[][..], |s| &s.secondary);
    for s in secondary {
        columns.push(number(title_words(&s.dimension, s.unit.as_deref()), chart_unit(s.unit.as_deref()).1));
    }
    columns.push(text("Fit model"));
    let whole = whole_dimensions(system);
    let remarks = system.groups.iter().flat_map(|g| &g.sizes).any(|s| !s.flags.is_empty());
    if remarks {
        columns.push(text("Remarks"));
    }
    let mut table = Table::unnamed("Size chart", columns);
    for g in &system.groups {
        if system.groups.len() > 1 {
            table.group(group_name(&g.group));
        }
        for s in &g.sizes {
            let mut row = vec![cell(s.name.clone()).keep(), cell(count(s.n)), cell(percent(s.share))];
            for r in &s.ranges {
                let (factor, _, decimals) = chart_unit(r.unit.as_deref());
                let decimals = if whole.contains(&r.dimension.as_str()) { 0 } else { decimals };
                row.push(cell(format!(
                    "{}–{}",
                    fixed(r.low * factor, decimals),
                    fixed(r.high * factor, decimals)
                )));
            }
            for d in &s.secondary {
                let (factor, _, decimals) = chart_unit(d.unit.as_deref());
                row.push(match (d.mean, d.sd) {
                    (Some(m), Some(sd)) => {
                        cell(fixed(m * factor, decimals)).quiet(format!("± {}", fixed(sd * factor, decimals)))
                    }
                    (Some(m), None) => cell(fixed(m * factor, decimals)),
                    _ => cell("–").suppressed(),
                });
            }
            row.push(cell(s.fit_model.clone().unwrap_or_else(|| "–".to_owned())));
            if remarks {
                let flags: Vec<&str> = s.flags.iter().map(|f| remark(f)).collect();
                let found = cell(flags.join(", "));
                row.push(if flags.is_empty() { found } else { found.flag(Flag::Warning) });
            }
            table.row(row);
        }
    }
    table
}

/// The control dimensions whose ranges are all whole numbers in the unit they are shown in.
fn whole_dimensions(system: &SizeSystem) -> Vec<&str> {
    let ranges = || system.groups.iter().flat_map(|g| &g.sizes).flat_map(|s| &s.ranges);
    let is_whole = |value: f64, unit: Option<&str>| {
        let shown = value * chart_unit(unit).0;
        (shown - shown.round()).abs() < 1e-6
    };
    let mut names: Vec<&str> = system.controls.iter().map(|c| c.dimension.as_str()).collect();
    names.retain(|name| {
        ranges()
            .filter(|r| r.dimension == *name)
            .all(|r| is_whole(r.low, r.unit.as_deref()) && is_whole(r.high, r.unit.as_deref()))
    });
    names
}

fn remark(flag: &str) -> &str {
    match flag {
        "rare" => "rarely worn",
        "few-people" => "few people",
        other => other,
    }
}

fn shares(system: &SizeSystem) -> Figure {
    let sizes: Vec<_> = system.groups.iter().flat_map(|g| &g.sizes).collect();
    let most = sizes.iter().max_by(|a, b| a.share.total_cmp(&b.share));
    let of = if system.groups.len() > 1 { "their group" } else { "all people" };
    Bars {
        id: "shares".into(),
        title: format!("Share of {of} who wear each size, in sample"),
        reading: most.map_or_else(String::new, |s| {
            format!("{} is worn most, by {} of {of}.", s.name, percent(s.share))
        }),
        axis: Axis { percent: true, ..Axis::new(format!("share of {of}")) },
        rows: sizes
            .iter()
            .map(|s| BarRow {
                name: s.name.clone(),
                values: vec![BarValue::plain(s.share, "s1")],
                text: percent(s.share),
            })
            .collect(),
        keys: Vec::new(),
        dots: false,
        half: false,
    }
    .figure()
}
