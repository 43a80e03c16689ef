//! A chart that exists, tried on the same people, beside the sizes of the plan.

use formkin_report::document::Body;
use formkin_report::document::table::{Table, cell, number, text};
use formkin_report::format::{chart_unit, count, fixed, list, percent, percent_interval, words};
use formkin_sizing::{GroupSystem, SizeSystem};

use super::coverage::group_name;

/// Both side by side, and how the chart would have to change.
pub(super) fn section(body: &mut Body, made: &SizeSystem, existing: &SizeSystem) {
    body.heading("The existing chart on these people");
    let mut table = Table::new(
        "Share of people whom a size fits",
        vec![
            text("Sizes"),
            text("People"),
            number("Number of sizes", ""),
            number("Fitted", ""),
            number("Interval", ""),
        ],
    );
    for (name, system) in [("Existing chart, as it is", existing), ("This plan, held out", made)] {
        table.row(vec![
            cell(name),
            cell("All people"),
            cell(count(system.size_count)),
            cell(percent(system.coverage_held_out)).held(),
            cell(percent_interval(system.held_out_interval)).held(),
        ]);
        if system.groups.len() > 1 {
            for g in &system.groups {
                table.row(vec![
                    cell(""),
                    cell(group_name(&g.group)),
                    cell(count(g.sizes.len())),
                    cell(percent(g.coverage_held_out)),
                    cell(percent_interval(g.held_out_interval)),
                ]);
            }
        }
    }
    body.table(table);
    for group in &existing.groups {
        body.paragraph(&sentences(existing, group));
    }
}

/// Who is left between sizes and beyond them, what a size more or fewer does, and the shift.
pub(super) fn sentences(system: &SizeSystem, group: &GroupSystem) -> String {
    let at = |values: &std::collections::BTreeMap<String, f64>, signed: bool| {
        let one = |c: &formkin_sizing::ControlInfo| {
            let (factor, unit, decimals) = chart_unit(c.unit.as_deref());
            let value = values.get(&c.dimension)? * factor;
            let sign = match (signed, value < 0.0) {
                (true, true) => "−",
                (true, false) => "+",
                _ => "",
            };
            let shown = if signed { value.abs() } else { value };
            Some(format!(
                "{} {sign}{} {unit}",
                words(&c.dimension, c.unit.as_deref()),
                fixed(shown, decimals)
            ))
        };
        list(&system.controls.iter().filter_map(one).collect::<Vec<_>>())
    };
    let mut text = format!(
        "{}: of these people {} have no size though they are between the outermost limits, and {} are beyond them.",
        group_name(&group.group),
        percent(group.gaps.between),
        percent(group.gaps.beyond)
    );
    for gap in &group.gaps.intervals {
        let (factor, unit, decimals) = chart_unit(gap.unit.as_deref());
        text.push_str(&format!(
            " No size reaches {} from {} to {} {unit}, where {} of them are.",
            words(&gap.dimension, gap.unit.as_deref()),
            fixed(gap.from * factor, decimals),
            fixed(gap.to * factor, decimals),
            percent(gap.share)
        ));
    }
    if let Some(more) = &group.one_more {
        text.push_str(&format!(
            " One size more, at {}, would fit another {}.",
            at(&more.centre, false),
            percent(more.gain)
        ));
    }
    if let Some(least) = group.sizes.iter().min_by(|a, b| a.only.total_cmp(&b.only)) {
        text.push_str(&format!(
            " Least would be lost without {}: {} would have no size.",
            least.name,
            percent(least.only)
        ));
    }
    // sizes that were made from these people lie about them already
    if system.given {
        text.push_str(&format!(
            " Shifted by {}, all sizes would fit {} in place of {}.",
            at(&group.shift, true),
            percent(group.coverage_shifted),
            percent(group.coverage_in_sample)
        ));
    }
    text
}
