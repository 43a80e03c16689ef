//! What is wrong before anything runs: files that need each other, and the columns and groups that they name.

use std::collections::BTreeSet;
use std::path::Path;

use formkin_sizing::{Chart, Count, Plan};
use formkin_table::{NumberColumn, Table};

use super::{SizeSettings, SizeSources};
use crate::facts::{Column, columns_of};
use crate::reading::{read_chart, read_plan, read_table};
use crate::{Facts, Problems, TaskError};

pub(super) fn check(sources: &SizeSources, settings: &SizeSettings, facts: &Facts, problems: &mut Problems) {
    together(sources, settings, problems);
    if !problems.in_study() {
        return;
    }
    if sources.table.is_none() && !facts.measured && facts.dimensions.is_none() {
        problems.wrong(
            "",
            "there are no dimensions to size by",
            "add [measure], or `table` = a table of dimensions",
        );
    }
    let plan = read(problems, "plan", sources.plan.as_deref(), read_plan);
    let chart = read(problems, "chart", sources.chart.as_deref(), read_chart);
    let table = read(problems, "table", sources.table.as_deref(), read_table);
    let new_people = read(problems, "assign", sources.assign.as_deref(), read_table);
    let columns = match (&sources.table, &table) {
        (Some(_), table) => table.as_ref().map(columns_of),
        (None, _) => facts.columns.clone(),
    };
    if let (Some(plan), Some(columns)) = (&plan, &columns) {
        let groups = plan.by.as_ref().and_then(|by| match &table {
            Some(table) => table.text(by).ok().map(|v| v.into_iter().filter(|v| !v.is_empty()).collect()),
            None => facts.groups.get(by).cloned(),
        });
        check_plan(plan, columns, groups, problems);
    }
    if let (Some(chart), Some(columns)) = (&chart, &columns) {
        check_chart(chart, plan.as_ref(), table.as_ref(), columns, facts, problems);
    }
    allowances(sources, plan.as_ref(), facts, problems);
    if let Some(new_people) = &new_people {
        check_new_people(new_people, settings, plan.as_ref(), chart.as_ref(), problems);
    }
}

/// Files that need each other.
fn together(sources: &SizeSources, settings: &SizeSettings, problems: &mut Problems) {
    let study = problems.in_study();
    let given = |name: &str| if study { format!("`{name}`") } else { format!("--{name}") };
    let (plan, chart, assign) = (given("plan"), given("chart"), given("assign"));
    if sources.plan.is_none() && sources.chart.is_none() {
        problems.wrong(
            "",
            format!("there is neither {plan} nor {chart}"),
            "name a plan to derive sizes by, or a chart to try",
        );
    }
    if sources.plan.is_none() && sources.allowances.is_some() {
        problems.wrong("allowances", "they belong to a plan", format!("add {plan}"));
    }
    if settings.by.is_some() && sources.assign.is_none() {
        problems.wrong("by", "it says the group of new people, and there are none", format!("add {assign}"));
    }
    if study {
        return;
    }
    if sources.table.is_none() && sources.assign.is_none() {
        problems.wrong("", "there is no table of people", "name a CSV table, or new people with --assign");
    }
    if sources.table.is_none() && sources.assign.is_some() && sources.chart.is_none() {
        problems.wrong("assign", "it needs sizes", "give --chart, or a table and --plan");
    }
    if sources.of_movements() {
        problems.wrong("allowances", "only a study has movements", "name a CSV table");
    }
    if sources.space.is_some() && sources.table.is_none() {
        problems.wrong("space", "mannequins are made of the sizes of people", "add a table of people");
    }
    if sources.coefficients.is_some() && sources.space.is_none() {
        problems.wrong("coefficients", "they belong to a space", "add --space");
    }
}

fn read<T>(
    problems: &mut Problems,
    field: &str,
    path: Option<&Path>,
    read: impl Fn(&Path) -> Result<T, TaskError>,
) -> Option<T> {
    let path = path?;
    if problems.file(field, path) { problems.refused(field, read(path)) } else { None }
}

/// A column of numbers that may be named with its unit or without.
fn dimension(problems: &mut Problems, field: &str, name: &str, columns: &[Column]) {
    let bare = NumberColumn::under(name, Vec::new()).name;
    if !columns.iter().any(|c| c.numbers && c.name == bare) {
        problems.column(field, "column", name, columns, true);
    }
}

fn check_plan(plan: &Plan, columns: &[Column], groups: Option<BTreeSet<String>>, problems: &mut Problems) {
    let field = "plan";
    let dimensions = plan
        .control
        .iter()
        .map(|c| ("control dimension", &c.dimension))
        .chain(plan.secondary.iter().map(|n| ("secondary dimension", n)))
        .chain(plan.fit.iter().map(|n| ("dimension of the fit model", n)))
        .chain(plan.limit.iter().map(|l| ("dimension with a limit", &l.dimension)))
        .chain(plan.weights.iter().map(|n| ("column of weights", n)));
    for (what, name) in dimensions {
        problems.column(field, what, name, columns, true);
    }
    // shape coefficients come from the space of the study
    for name in plan.shape.iter().filter(|n| !n.starts_with("mode_")) {
        problems.column(field, "shape column", name, columns, true);
    }
    let words = plan
        .by
        .iter()
        .map(|n| ("group column", n))
        .chain(plan.participant.iter().map(|n| ("column of participants", n)))
        .chain(plan.describe.iter().map(|n| ("column to describe by", n)))
        .chain(plan.margin.iter().map(|m| ("margin's column", &m.column)));
    for (what, name) in words {
        problems.column(field, what, name, columns, false);
    }
    match (&plan.sizes.count, &plan.by, groups) {
        (Count::PerGroup(_), None, _) => {
            problems.wrong(
                field,
                "sizes.count gives a number by group, and there is no group column",
                "add by = \"COLUMN\"",
            );
        }
        (Count::PerGroup(counts), Some(by), Some(groups)) => {
            for group in counts.keys() {
                let what = format!("group of `{by}`");
                problems.name(field, &what, group, groups.iter().map(String::as_str));
            }
            for group in groups.iter().filter(|g| !counts.contains_key(*g)) {
                problems.wrong(field, format!("sizes.count has no number for the group `{group}`"), "add it");
            }
        }
        _ => {}
    }
}

fn check_chart(
    chart: &Chart,
    plan: Option<&Plan>,
    table: Option<&Table>,
    columns: &[Column],
    facts: &Facts,
    problems: &mut Problems,
) {
    for (name, _) in &chart.controls {
        dimension(problems, "chart", name, columns);
    }
    let groups: BTreeSet<String> = chart.sizes.iter().filter_map(|s| s.group.clone()).collect();
    let told = match table {
        Some(table) => chart.group_column(table).is_some(),
        None => columns.iter().any(|c| facts.groups.get(&c.name).is_some_and(|of| groups.is_superset(of))),
    };
    if groups.len() > 1 && !told && plan.is_none_or(|p| p.by.is_none()) {
        let groups: Vec<String> = groups.into_iter().collect();
        problems.wrong(
            "chart",
            format!(
                "it has sizes for {}, and no column of the people holds these words and no others",
                groups.join(", ")
            ),
            "name the column of the groups with `by` in a plan",
        );
    }
}

fn allowances(sources: &SizeSources, plan: Option<&Plan>, facts: &Facts, problems: &mut Problems) {
    let (field, Some(path)) = ("allowances", &sources.allowances) else { return };
    if sources.of_movements() {
        let of = |name: &String| {
            let bare = NumberColumn::under(name, Vec::new()).name;
            facts.followed.iter().any(|f| f == name || *f == bare)
        };
        if plan.is_some_and(|p| !p.control.iter().any(|c| of(&c.dimension))) {
            problems.wrong(
                field,
                "no control dimension of the plan is followed through a movement",
                "name the control dimensions in [motion] follow, or give a table of allowances",
            );
        }
        return;
    }
    let table: Option<Table> = read(problems, field, Some(path), read_table);
    if let (Some(table), Some(plan)) = (table, plan) {
        let made = plan.with_allowances(&table).map_err(|e| format!("{}: {e}", path.display()));
        problems.refused(field, made);
    }
}

fn check_new_people(
    table: &Table,
    settings: &SizeSettings,
    plan: Option<&Plan>,
    chart: Option<&Chart>,
    problems: &mut Problems,
) {
    let controls: Vec<&String> = match (plan, chart) {
        (Some(plan), _) => plan.control.iter().map(|c| &c.dimension).collect(),
        (None, Some(chart)) => chart.controls.iter().map(|c| &c.0).collect(),
        (None, None) => Vec::new(),
    };
    let columns = columns_of(table);
    for name in controls {
        dimension(problems, "assign", name, &columns);
    }
    match (&settings.by, plan.and_then(|p| p.by.as_ref())) {
        (Some(by), _) => problems.column("by", "group column", by, &columns, false),
        (None, Some(by)) => problems.column("assign", "group column", by, &columns, false),
        (None, None) => true,
    };
}
