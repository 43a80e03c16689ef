//! A size system as CSV. Units are in the headers; values in mm carry at most one decimal, shares and others four.

use crate::{SizeSystem, SizingError};

/// How sizes read where there is none.
const NONE: &str = "none";

/// The size chart: a row a size, with the wearer's range in every control dimension, mean and standard deviation of the secondary ones over the
/// wearers, and the fit model.
///
/// # Errors
/// [`SizingError::Csv`].
pub fn chart_csv(system: &SizeSystem) -> Result<String, SizingError> {
    let mut header = strings(["size", "group", "people", "share"]);
    for control in &system.controls {
        for part in ["low", "centre", "high"] {
            header.push(head(&control.dimension, part, control.unit.as_deref()));
        }
    }
    let secondary = system.groups.iter().flat_map(|g| &g.sizes).next().map_or(&[][..], |s| &s.secondary);
    for s in secondary {
        header.push(head(&s.dimension, "mean", s.unit.as_deref()));
        for part in ["sd", "p5", "p50", "p95"] {
            header.push(head(&s.dimension, part, s.unit.as_deref()));
        }
        header.push(head(&s.dimension, "n", None));
    }
    header.extend(strings(["fit_model", "flags", "only", "overlap", "comes_back", "designation"]));
    let mut rows = vec![header];
    for size in system.groups.iter().flat_map(|g| &g.sizes) {
        let mut row = vec![size.name.clone(), size.group.clone(), size.n.to_string(), number(size.share)];
        row.extend(
            size.ranges
                .iter()
                .flat_map(|r| [r.low, r.centre, r.high].map(|v| measured(v, r.unit.as_deref()))),
        );
        for s in &size.secondary {
            let shown = |v: Option<f64>| v.map_or_else(String::new, |v| measured(v, s.unit.as_deref()));
            row.extend([s.mean, s.sd, s.p5, s.p50, s.p95].map(shown));
            row.push(s.n.to_string());
        }
        row.extend([size.fit_model.clone().unwrap_or_default(), size.flags.join(" ")]);
        row.extend([
            number(size.only),
            number(size.overlap),
            optional(size.stability.as_ref().map(|s| s.comes_back)),
            size.designation.clone(),
        ]);
        rows.push(row);
    }
    write(&rows)
}

/// Coverage by group and over all: in the sample, held out, with their intervals.
///
/// # Errors
/// [`SizingError::Csv`].
pub fn coverage_csv(system: &SizeSystem) -> Result<String, SizingError> {
    let mut rows = vec![strings([
        "group",
        "people",
        "effective_people",
        "sizes",
        "coverage_held_out",
        "coverage_held_out_low",
        "coverage_held_out_high",
        "coverage_in_sample",
        "coverage_in_sample_low",
        "coverage_in_sample_high",
        "interval_level",
        "aggregate_loss_mm",
    ])];
    let figures = |held: f64, held_ends: (f64, f64), within: f64, within_ends: (f64, f64)| {
        [held, held_ends.0, held_ends.1, within, within_ends.0, within_ends.1, system.interval_level]
            .map(number)
    };
    for g in &system.groups {
        let mut row = vec![
            g.group.clone(),
            g.people.to_string(),
            number(g.effective_people),
            g.sizes.len().to_string(),
        ];
        row.extend(figures(
            g.coverage_held_out,
            g.held_out_interval,
            g.coverage_in_sample,
            g.coverage_in_sample_interval,
        ));
        row.push(optional(g.aggregate_loss_mm));
        rows.push(row);
    }
    if system.plan.by.is_some() {
        let mut row = strings([
            "all groups",
            &system.people.to_string(),
            &number(system.effective_people),
            &system.size_count.to_string(),
        ]);
        row.extend(figures(
            system.coverage_held_out,
            system.held_out_interval,
            system.coverage_in_sample,
            system.coverage_in_sample_interval,
        ));
        row.push(String::new());
        rows.push(row);
    }
    write(&rows)
}

/// A row a person: their size or `none`, the nearest, and by how much they miss its limits (above 0: larger than the upper one).
///
/// # Errors
/// [`SizingError::Csv`].
pub fn assignments_csv(system: &SizeSystem) -> Result<String, SizingError> {
    let mut header =
        strings(["id", "group", "size", "nearest", "borderline", "loss", "covered_held_out", "weight"]);
    header.extend(system.controls.iter().map(|c| head(&c.dimension, "miss", c.unit.as_deref())));
    let mut rows = vec![header];
    for group in &system.groups {
        for a in &group.assignments {
            let mut row = vec![
                a.id.clone(),
                group.group.clone(),
                a.size.clone().unwrap_or_else(|| NONE.to_owned()),
                a.nearest.clone(),
                a.borderline.to_string(),
                number(a.loss),
                number(a.covered_held_out),
                number(a.weight),
            ];
            for c in &system.controls {
                row.push(
                    a.misses
                        .iter()
                        .find(|m| m.dimension == c.dimension)
                        .map_or_else(String::new, |m| measured(m.by, m.unit.as_deref())),
                );
            }
            rows.push(row);
        }
    }
    write(&rows)
}

/// The people without a size: by control dimension (whom it excludes and by how much, in `unit`), and by class of the describing columns.
///
/// # Errors
/// [`SizingError::Csv`].
pub fn left_out_csv(system: &SizeSystem) -> Result<String, SizingError> {
    let mut rows = vec![strings([
        "by",
        "name",
        "class",
        "people",
        "left_out",
        "share_left_out",
        "too_small",
        "too_large",
        "by_this_alone",
        "median_miss",
        "largest_miss",
        "unit",
        "few_people",
        "coverage_held_out",
        "coverage_held_out_low",
        "coverage_held_out_high",
    ])];
    let blank = String::new;
    for d in &system.left_out.by_dimension {
        rows.push(vec![
            "dimension".to_owned(),
            d.dimension.clone(),
            blank(),
            system.people.to_string(),
            (d.too_small + d.too_large).to_string(),
            blank(),
            d.too_small.to_string(),
            d.too_large.to_string(),
            d.alone.to_string(),
            optional(d.median_miss),
            optional(d.largest_miss),
            d.unit.clone().unwrap_or_default(),
            blank(),
            blank(),
            blank(),
            blank(),
        ]);
    }
    for c in &system.left_out.by_column {
        let mut row = strings([
            "column",
            &c.column,
            &c.value,
            &c.people.to_string(),
            &c.left_out.to_string(),
            &number(c.share),
        ]);
        row.extend(std::iter::repeat_with(blank).take(6));
        row.push(c.few.to_string());
        row.extend([c.coverage_held_out, c.held_out_interval.0, c.held_out_interval.1].map(number));
        rows.push(row);
    }
    write(&rows)
}

/// Coverage against the number of sizes a group, by method; only the header where the plan asks for no curve.
///
/// # Errors
/// [`SizingError::Csv`].
pub fn curve_csv(system: &SizeSystem) -> Result<String, SizingError> {
    let mut rows = vec![strings([
        "group",
        "sizes",
        "coverage_held_out",
        "coverage_held_out_low",
        "coverage_held_out_high",
        "coverage_in_sample",
        "ceiling",
        "method",
    ])];
    let own = system.plan.method.name();
    let all = if system.plan.by.is_some() { "all groups" } else { "all" };
    let mut curves: Vec<(&str, &[crate::CurvePoint], &str)> =
        system.groups.iter().map(|g| (g.group.as_str(), g.curve.as_slice(), own)).collect();
    if system.plan.by.is_some() {
        curves.push((all, &system.curve, own));
    }
    for other in system.compared.iter().filter(|c| c.method != system.plan.method) {
        curves.push((all, &other.points, other.method.name()));
    }
    for (group, points, method) in curves {
        for p in points {
            let mut row = strings([group, &p.sizes.to_string()]);
            row.extend(
                [p.coverage_held_out, p.held_out_interval.0, p.held_out_interval.1, p.coverage_in_sample]
                    .map(number),
            );
            row.extend([optional(p.ceiling), method.to_owned()]);
            rows.push(row);
        }
    }
    write(&rows)
}

/// The grading: a row a size and secondary dimension, with its value by regression on the control dimensions, the increment from the size before, the break point, the share explained and the residual standard
/// deviation, which says how far wearers differ from it.
///
/// # Errors
/// [`SizingError::Csv`].
pub fn grading_csv(system: &SizeSystem) -> Result<String, SizingError> {
    let mut rows = vec![strings([
        "group",
        "size",
        "dimension",
        "unit",
        "value",
        "increment",
        "break_at",
        "r2",
        "residual_sd",
        "people",
    ])];
    for group in &system.groups {
        for rule in &group.grading {
            let unit = rule.unit.as_deref();
            for (s, size) in group.sizes.iter().enumerate() {
                rows.push(vec![
                    group.group.clone(),
                    size.name.clone(),
                    rule.dimension.clone(),
                    unit.unwrap_or_default().to_owned(),
                    measured(rule.values[s], unit),
                    rule.increments[s].map_or_else(String::new, |v| measured(v, unit)),
                    rule.break_at.map_or_else(String::new, number),
                    number(rule.r2),
                    measured(rule.residual_sd, unit),
                    rule.people.to_string(),
                ]);
            }
        }
    }
    write(&rows)
}

/// The fit models: a row a size and fit dimension, with the person's value, the wearers' mean and the difference.
///
/// # Errors
/// [`SizingError::Csv`].
pub fn fit_models_csv(system: &SizeSystem) -> Result<String, SizingError> {
    let mut rows =
        vec![strings(["size", "group", "fit_model", "dimension", "unit", "value", "mean", "deviation"])];
    for size in system.groups.iter().flat_map(|g| &g.sizes) {
        let Some(person) = &size.fit_model else { continue };
        for d in &size.fit_deviations {
            let unit = d.unit.as_deref();
            let mut row = strings([&size.name, &size.group, person, &d.dimension, unit.unwrap_or_default()]);
            row.extend([d.value, d.mean, d.deviation].map(|v| measured(v, unit)));
            rows.push(row);
        }
    }
    write(&rows)
}

fn strings<const N: usize>(cells: [&str; N]) -> Vec<String> {
    cells.map(str::to_owned).to_vec()
}

fn head(dimension: &str, part: &str, unit: Option<&str>) -> String {
    match unit {
        Some(unit) => format!("{dimension}_{part}_{unit}"),
        None => format!("{dimension}_{part}"),
    }
}

/// At most four decimals, no trailing zeros.
fn number(value: f64) -> String {
    let rounded = (value * 1e4).round() / 1e4 + 0.0;
    if rounded.is_finite() { rounded.to_string() } else { value.to_string() }
}

/// A dimension: 0.1 in mm, four decimals in other units.
fn measured(value: f64, unit: Option<&str>) -> String {
    if unit == Some("mm") { number((value * 10.0).round() / 10.0) } else { number(value) }
}

fn optional(value: Option<f64>) -> String {
    value.map_or_else(String::new, number)
}

pub(crate) fn write(rows: &[Vec<String>]) -> Result<String, SizingError> {
    let failed = |e: &dyn std::fmt::Display| SizingError::Csv { message: e.to_string() };
    let mut writer = csv::Writer::from_writer(Vec::new());
    for row in rows {
        writer.write_record(row).map_err(|e| failed(&e))?;
    }
    let bytes = writer.into_inner().map_err(|e| failed(&e))?;
    String::from_utf8(bytes).map_err(|e| failed(&e))
}
