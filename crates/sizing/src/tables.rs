//! A size system as tables to hand over. Units are in the headers; values in mm carry at most one decimal, shares and others four.

use formkin_table::{NumberFormat, Sheet};

use crate::{Assignment, CurvePoint, GroupSystem, Range, Secondary, Size, SizeSystem};

/// Name, meaning and value of a column.
type Part<T, V> = (&'static str, &'static str, fn(&T) -> V);

/// How sizes read where there is none.
const NONE: &str = "none";

/// The size chart: a row a size, with the wearer's range in every control dimension, mean and standard deviation of the secondary ones over the
/// wearers, and the fit model.
#[must_use]
pub fn chart_sheet(system: &SizeSystem) -> Sheet {
    let sizes: Vec<&Size> = sizes(system).collect();
    let mut sheet = Sheet::new()
        .text("size", "The size", sizes.iter().map(|s| s.name.as_str()))
        .text("group", "Its group", sizes.iter().map(|s| s.group.as_str()))
        .whole("people", None, "People who wear it", sizes.iter().map(|s| s.n));
    sheet = number(sheet, "share", "Their share of the group", sizes.iter().map(|s| Some(s.share)));
    for (j, control) in system.controls.iter().enumerate() {
        let parts: &[Part<Range, f64>] = &[
            ("low", "The smallest wearer", |r| r.low),
            ("centre", "The value of the size", |r| r.centre),
            ("high", "The largest wearer", |r| r.high),
        ];
        for (part, meaning, of) in parts {
            let values = sizes.iter().map(|s| s.ranges.get(j).map(of));
            sheet = measured(sheet, &control.dimension, part, control.unit.as_deref(), meaning, values);
        }
    }
    for (j, first) in sizes.first().map_or(&[][..], |s| &s.secondary).iter().enumerate() {
        let parts: &[Part<Secondary, Option<f64>>] = &[
            ("mean", "Mean of the wearers", |s| s.mean),
            ("sd", "Standard deviation of the wearers", |s| s.sd),
            ("p5", "5th percentile of the wearers", |s| s.p5),
            ("p50", "Median of the wearers", |s| s.p50),
            ("p95", "95th percentile of the wearers", |s| s.p95),
        ];
        for (part, meaning, of) in parts {
            let values = sizes.iter().map(|s| s.secondary.get(j).and_then(of));
            sheet = measured(sheet, &first.dimension, part, first.unit.as_deref(), meaning, values);
        }
        let n = sizes.iter().map(|s| s.secondary.get(j).map(|s| s.n));
        sheet = sheet.optional_whole(&format!("{}_n", first.dimension), None, "Wearers who have a value", n);
    }
    sheet = sheet
        .text(
            "fit_model",
            "The wearer who stands for it",
            sizes.iter().map(|s| s.fit_model.clone().unwrap_or_default()),
        )
        .text("flags", "What speaks against it", sizes.iter().map(|s| s.flags.join(" ")));
    let only = "Share of the group whom it covers and no other size does";
    sheet = number(sheet, "only", only, sizes.iter().map(|s| Some(s.only)));
    let overlap = "Share of its wearers whom another size covers too";
    sheet = number(sheet, "overlap", overlap, sizes.iter().map(|s| Some(s.overlap)));
    let comes_back = sizes.iter().map(|s| s.stability.as_ref().map(|s| s.comes_back));
    number(sheet, "comes_back", "Share of the resamples in which it comes back", comes_back).text(
        "designation",
        "Standard designation: the wearer's ranges, lengths in cm",
        sizes.iter().map(|s| s.designation.as_str()),
    )
}

/// Coverage by group and over all: in the sample, held out, with their intervals.
#[must_use]
pub fn coverage_sheet(system: &SizeSystem) -> Sheet {
    struct Row<'a> {
        group: &'a str,
        people: usize,
        effective_people: f64,
        sizes: usize,
        held_out: (f64, (f64, f64)),
        in_sample: (f64, (f64, f64)),
        aggregate_loss_mm: Option<f64>,
    }
    let of = |g: &GroupSystem| (g.coverage_in_sample, g.coverage_in_sample_interval);
    let mut rows: Vec<Row<'_>> = system
        .groups
        .iter()
        .map(|g| Row {
            group: &g.group,
            people: g.people,
            effective_people: g.effective_people,
            sizes: g.sizes.len(),
            held_out: (g.coverage_held_out, g.held_out_interval),
            in_sample: of(g),
            aggregate_loss_mm: g.aggregate_loss_mm,
        })
        .collect();
    if system.plan.by.is_some() {
        rows.push(Row {
            group: ALL_GROUPS,
            people: system.people,
            effective_people: system.effective_people,
            sizes: system.size_count,
            held_out: (system.coverage_held_out, system.held_out_interval),
            in_sample: (system.coverage_in_sample, system.coverage_in_sample_interval),
            aggregate_loss_mm: None,
        });
    }
    let mut sheet = Sheet::new().text("group", "The group of people", rows.iter().map(|r| r.group)).whole(
        "people",
        None,
        "Its people",
        rows.iter().map(|r| r.people),
    );
    let effective = rows.iter().map(|r| Some(r.effective_people));
    sheet = number(sheet, "effective_people", "Its people after weighting", effective);
    sheet = sheet.whole("sizes", None, "Its sizes", rows.iter().map(|r| r.sizes));
    let columns: &[Part<Row<'_>, f64>] = &[
        ("coverage_held_out", "Share covered by sizes made without them", |r| r.held_out.0),
        ("coverage_held_out_low", "Lower end of its interval", |r| r.held_out.1.0),
        ("coverage_held_out_high", "Upper end of its interval", |r| r.held_out.1.1),
        ("coverage_in_sample", "Share covered of the people the sizes were made from", |r| r.in_sample.0),
        ("coverage_in_sample_low", "Lower end of its interval", |r| r.in_sample.1.0),
        ("coverage_in_sample_high", "Upper end of its interval", |r| r.in_sample.1.1),
    ];
    for (name, meaning, of) in columns {
        sheet = number(sheet, name, meaning, rows.iter().map(|r| Some(of(r))));
    }
    let level = rows.iter().map(|_| Some(system.interval_level));
    sheet = number(sheet, "interval_level", "Level of the intervals", level);
    let loss = rows.iter().map(|r| r.aggregate_loss_mm.map(rounded));
    let meaning = "Mean distance from the nearest size";
    sheet.optional_number("aggregate_loss", Some("mm"), meaning, NumberFormat::Shortest, loss)
}

/// How all groups together are called.
const ALL_GROUPS: &str = "all groups";

/// A row a person: their size or `none`, the nearest, and by how much they miss its limits (above 0: larger than the upper one).
#[must_use]
pub fn assignments_sheet(system: &SizeSystem) -> Sheet {
    let rows: Vec<(&GroupSystem, &Assignment)> =
        system.groups.iter().flat_map(|g| g.assignments.iter().map(move |a| (g, a))).collect();
    let each = |of: fn(&Assignment) -> f64| rows.iter().map(move |(_, a)| Some(of(a)));
    let mut sheet = Sheet::new()
        .text("id", "The person", rows.iter().map(|(_, a)| a.id.as_str()))
        .text("group", "Their group", rows.iter().map(|(g, _)| g.group.as_str()))
        .text("size", "Their size, or none", rows.iter().map(|(_, a)| a.size.as_deref().unwrap_or(NONE)))
        .text("nearest", "The nearest size", rows.iter().map(|(_, a)| a.nearest.as_str()))
        .flag(
            "borderline",
            "Whether a few millimetres would change the answer",
            rows.iter().map(|(_, a)| a.borderline),
        );
    let meaning = "Largest deviation from the nearest size over its tolerance";
    sheet = number(sheet, "loss", meaning, each(|a| a.loss));
    let meaning = "Share of the repeats in which sizes made without them cover them";
    sheet = number(sheet, "covered_held_out", meaning, each(|a| a.covered_held_out));
    sheet = number(sheet, "weight", "Their weight", each(|a| a.weight));
    for c in &system.controls {
        let miss =
            |(_, a): &(_, &Assignment)| a.misses.iter().find(|m| m.dimension == c.dimension).map(|m| m.by);
        let meaning = "By how much they miss the nearest size";
        sheet = measured(sheet, &c.dimension, "miss", c.unit.as_deref(), meaning, rows.iter().map(miss));
    }
    sheet
}

/// A line about people without a size.
#[derive(Default)]
struct LeftOutRow<'a> {
    by: &'static str,
    name: &'a str,
    class: &'a str,
    people: usize,
    left_out: usize,
    share: Option<f64>,
    sides: Option<(usize, usize, usize)>,
    misses: (Option<f64>, Option<f64>),
    unit: &'a str,
    few: Option<bool>,
    held_out: Option<(f64, (f64, f64))>,
}

/// The people without a size: by control dimension (whom it excludes and by how much, in `unit`), and by class of the describing columns.
#[must_use]
pub fn left_out_sheet(system: &SizeSystem) -> Sheet {
    let by_dimension = system.left_out.by_dimension.iter().map(|d| LeftOutRow {
        by: "dimension",
        name: &d.dimension,
        people: system.people,
        left_out: d.too_small + d.too_large,
        sides: Some((d.too_small, d.too_large, d.alone)),
        misses: (d.median_miss, d.largest_miss),
        unit: d.unit.as_deref().unwrap_or_default(),
        ..LeftOutRow::default()
    });
    let by_column = system.left_out.by_column.iter().map(|c| LeftOutRow {
        by: "column",
        name: &c.column,
        class: &c.value,
        people: c.people,
        left_out: c.left_out,
        share: Some(c.share),
        few: Some(c.few),
        held_out: Some((c.coverage_held_out, c.held_out_interval)),
        ..LeftOutRow::default()
    });
    let rows: Vec<LeftOutRow<'_>> = by_dimension.chain(by_column).collect();
    let mut sheet = Sheet::new()
        .text("by", "What the people are grouped by", rows.iter().map(|r| r.by))
        .text("name", "The dimension or the column", rows.iter().map(|r| r.name))
        .text("class", "The value of the column", rows.iter().map(|r| r.class))
        .whole("people", None, "People", rows.iter().map(|r| r.people))
        .whole("left_out", None, "People without a size", rows.iter().map(|r| r.left_out));
    let share = rows.iter().map(|r| r.share);
    sheet = number(sheet, "share_left_out", "Share of the class without a size", share)
        .optional_whole("too_small", None, "People too small", rows.iter().map(|r| r.sides.map(|s| s.0)))
        .optional_whole("too_large", None, "People too large", rows.iter().map(|r| r.sides.map(|s| s.1)))
        .optional_whole(
            "by_this_alone",
            None,
            "People whom no other dimension excludes",
            rows.iter().map(|r| r.sides.map(|s| s.2)),
        );
    sheet = number(sheet, "median_miss", "Median distance from the limit", rows.iter().map(|r| r.misses.0));
    sheet = number(sheet, "largest_miss", "Largest distance from the limit", rows.iter().map(|r| r.misses.1))
        .text("unit", "The unit of these distances", rows.iter().map(|r| r.unit))
        .text(
            "few_people",
            "Whether the class has too few people",
            rows.iter().map(|r| r.few.map_or_else(String::new, |few| few.to_string())),
        );
    let columns = [
        ("coverage_held_out", "Share covered by sizes made without them"),
        ("coverage_held_out_low", "Lower end of its interval"),
        ("coverage_held_out_high", "Upper end of its interval"),
    ];
    for (k, (name, meaning)) in columns.into_iter().enumerate() {
        let of = |(share, (low, high)): &(f64, (f64, f64))| [*share, *low, *high][k];
        sheet = number(sheet, name, meaning, rows.iter().map(|r| r.held_out.as_ref().map(of)));
    }
    sheet
}

/// Coverage against the number of sizes a group, by method; no rows where the plan asks for no curve.
#[must_use]
pub fn curve_sheet(system: &SizeSystem) -> Sheet {
    let own = system.plan.method.name();
    let all = if system.plan.by.is_some() { ALL_GROUPS } else { "all" };
    let mut curves: Vec<(&str, &[CurvePoint], &str)> =
        system.groups.iter().map(|g| (g.group.as_str(), g.curve.as_slice(), own)).collect();
    if system.plan.by.is_some() {
        curves.push((all, &system.curve, own));
    }
    for other in system.compared.iter().filter(|c| c.method != system.plan.method) {
        curves.push((all, &other.points, other.method.name()));
    }
    let rows: Vec<(&str, &CurvePoint, &str)> = curves
        .iter()
        .flat_map(|(group, points, method)| points.iter().map(move |p| (*group, p, *method)))
        .collect();
    let mut sheet = Sheet::new().text("group", "The group of people", rows.iter().map(|r| r.0)).whole(
        "sizes",
        None,
        "Sizes in each group",
        rows.iter().map(|r| r.1.sizes),
    );
    let columns: &[Part<CurvePoint, Option<f64>>] = &[
        ("coverage_held_out", "Share covered by sizes made without them", |p| Some(p.coverage_held_out)),
        ("coverage_held_out_low", "Lower end of its interval", |p| Some(p.held_out_interval.0)),
        ("coverage_held_out_high", "Upper end of its interval", |p| Some(p.held_out_interval.1)),
        ("coverage_in_sample", "Share covered of the people the sizes were made from", |p| {
            Some(p.coverage_in_sample)
        }),
        ("ceiling", "The most that any sizes could cover", |p| p.ceiling),
    ];
    for (name, meaning, of) in columns {
        sheet = number(sheet, name, meaning, rows.iter().map(|r| of(r.1)));
    }
    sheet.text("method", "The method", rows.iter().map(|r| r.2))
}

/// The grading: a row a size and secondary dimension, with its value by regression on the control dimensions, the increment from the size before, the break point, R2 and the residual standard
/// deviation, which says how far wearers differ from it.
#[must_use]
pub fn grading_sheet(system: &SizeSystem) -> Sheet {
    struct Row<'a> {
        group: &'a str,
        size: &'a str,
        rule: &'a crate::GradeRule,
        value: f64,
        increment: Option<f64>,
    }
    let rows: Vec<Row<'_>> = system
        .groups
        .iter()
        .flat_map(|g| {
            g.grading.iter().flat_map(move |rule| {
                g.sizes.iter().enumerate().map(move |(s, size)| Row {
                    group: &g.group,
                    size: &size.name,
                    rule,
                    value: rule.values[s],
                    increment: rule.increments[s],
                })
            })
        })
        .collect();
    let in_unit = |r: &Row<'_>, value: f64| to_unit(value, r.rule.unit.as_deref());
    let mut sheet = Sheet::new()
        .text("group", "The group of people", rows.iter().map(|r| r.group))
        .text("size", "The size", rows.iter().map(|r| r.size))
        .text("dimension", "The secondary dimension", rows.iter().map(|r| r.rule.dimension.as_str()))
        .text("unit", "Its unit", rows.iter().map(|r| r.rule.unit.clone().unwrap_or_default()));
    let value = rows.iter().map(|r| Some(in_unit(r, r.value)));
    sheet = number(sheet, "value", "Its value at the size", value);
    let increment = rows.iter().map(|r| r.increment.map(|v| in_unit(r, v)));
    sheet = number(sheet, "increment", "From the size before", increment);
    let break_at = rows.iter().map(|r| r.rule.break_at);
    sheet = number(sheet, "break_at", "Where the slope changes", break_at);
    sheet = number(sheet, "r2", "Share of the variance explained", rows.iter().map(|r| Some(r.rule.r2)));
    let residual = rows.iter().map(|r| Some(in_unit(r, r.rule.residual_sd)));
    sheet = number(sheet, "residual_sd", "How far people differ from it", residual);
    sheet.whole("people", None, "People of the regression", rows.iter().map(|r| r.rule.people))
}

/// The fit models: a row a size and fit dimension, with the person's value, the wearers' mean and the difference.
#[must_use]
pub fn fit_models_sheet(system: &SizeSystem) -> Sheet {
    let rows: Vec<(&Size, &str, &crate::Deviation)> = sizes(system)
        .filter_map(|s| Some((s, s.fit_model.as_deref()?)))
        .flat_map(|(s, person)| s.fit_deviations.iter().map(move |d| (s, person, d)))
        .collect();
    let mut sheet = Sheet::new()
        .text("size", "The size", rows.iter().map(|r| r.0.name.as_str()))
        .text("group", "Its group", rows.iter().map(|r| r.0.group.as_str()))
        .text("fit_model", "The wearer who stands for it", rows.iter().map(|r| r.1))
        .text("dimension", "The fit dimension", rows.iter().map(|r| r.2.dimension.as_str()))
        .text("unit", "Its unit", rows.iter().map(|r| r.2.unit.clone().unwrap_or_default()));
    let columns: &[Part<crate::Deviation, f64>] = &[
        ("value", "The person's value", |d| d.value),
        ("mean", "The wearers' mean", |d| d.mean),
        ("deviation", "The value less the mean", |d| d.deviation),
    ];
    for (name, meaning, of) in columns {
        let values = rows.iter().map(|r| Some(to_unit(of(r.2), r.2.unit.as_deref())));
        sheet = number(sheet, name, meaning, values);
    }
    sheet
}

fn sizes(system: &SizeSystem) -> impl Iterator<Item = &Size> {
    system.groups.iter().flat_map(|g| &g.sizes)
}

/// At most four decimals.
fn rounded(value: f64) -> f64 {
    (value * 1e4).round() / 1e4 + 0.0
}

/// A dimension: 0.1 in mm, as it is in other units.
fn to_unit(value: f64, unit: Option<&str>) -> f64 {
    if unit == Some("mm") { (value * 10.0).round() / 10.0 } else { value }
}

/// With a column of numbers with at most four decimals.
fn number(sheet: Sheet, name: &str, meaning: &str, values: impl IntoIterator<Item = Option<f64>>) -> Sheet {
    let values = values.into_iter().map(|v| v.map(rounded));
    sheet.optional_number(name, None, meaning, NumberFormat::Shortest, values)
}

/// With a column of values of a dimension.
fn measured(
    sheet: Sheet,
    dimension: &str,
    part: &str,
    unit: Option<&str>,
    meaning: &str,
    values: impl IntoIterator<Item = Option<f64>>,
) -> Sheet {
    let values = values.into_iter().map(|v| v.map(|v| rounded(to_unit(v, unit))));
    sheet.optional_number(&format!("{dimension}_{part}"), unit, meaning, NumberFormat::Shortest, values)
}
