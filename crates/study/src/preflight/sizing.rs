//! The size system: its files, and the columns and groups that they name.

use std::collections::BTreeSet;
use std::path::Path;

use formkin_sizing::{Chart, Count, Plan};
use formkin_table::{NumberColumn, Table};

use super::Check;
use super::known::{Column, Known, columns_of};
use crate::file::SizingSection;
use crate::run::{read_chart, read_plan, read_table};

impl Check<'_> {
    pub(super) fn sizing(&mut self, known: &Known) {
        let Some(section) = &self.file.sizing else { return };
        if section.plan.is_none() && section.chart.is_none() {
            self.wrong(
                "sizing",
                "there is neither `plan` nor `chart`",
                "name a plan to derive sizes by, or a chart to try",
            );
        }
        if section.plan.is_none() && section.allowances.is_some() {
            self.wrong("sizing.allowances", "they belong to a plan", "add `plan`");
        }
        if section.table.is_none() && self.file.dimensions.is_none() {
            self.wrong(
                "sizing",
                "there are no dimensions to size by",
                "add [dimensions], or `table` = a table of dimensions",
            );
        }
        let plan = self.read("sizing.plan", section.plan.as_deref(), read_plan);
        let chart = self.read("sizing.chart", section.chart.as_deref(), read_chart);
        let table = self.read("sizing.table", section.table.as_deref(), read_table);
        let new_people = self.read("sizing.assign", section.assign.as_deref(), read_table);
        let columns = match (&section.table, &table) {
            (Some(_), table) => table.as_ref().map(columns_of),
            (None, _) => known.columns(self),
        };
        if let (Some(plan), Some(columns)) = (&plan, &columns) {
            let groups = plan.by.as_ref().and_then(|by| match &table {
                Some(table) => table.text(by).ok().map(|v| v.into_iter().filter(|v| !v.is_empty()).collect()),
                None => known.groups(by),
            });
            self.plan(plan, columns, groups);
        }
        if let (Some(chart), Some(columns)) = (&chart, &columns) {
            for (dimension, _) in &chart.controls {
                self.dimension("sizing.chart", "column", dimension, columns);
            }
            let of_groups = |groups: &BTreeSet<String>| chart_groups(chart).is_superset(groups);
            let told = match &table {
                Some(table) => chart.group_column(table).is_some(),
                None => columns.iter().any(|c| known.groups(&c.name).as_ref().is_some_and(of_groups)),
            };
            if chart_groups(chart).len() > 1 && !told && plan.as_ref().is_none_or(|p| p.by.is_none()) {
                let groups: Vec<String> = chart_groups(chart).into_iter().collect();
                self.wrong(
                    "sizing.chart",
                    format!(
                        "it has sizes for {}, and no column of the people holds these words and no others",
                        groups.join(", ")
                    ),
                    "name the column of the groups with `by` in a plan",
                );
            }
        }
        self.allowances(section, plan.as_ref());
        if let Some(new_people) = &new_people {
            let controls: Vec<&String> = match (&plan, &chart) {
                (Some(plan), _) => plan.control.iter().map(|c| &c.dimension).collect(),
                (None, Some(chart)) => chart.controls.iter().map(|c| &c.0).collect(),
                (None, None) => Vec::new(),
            };
            let columns = columns_of(new_people);
            for name in controls {
                self.dimension("sizing.assign", "column", name, &columns);
            }
            if let Some(by) = plan.as_ref().and_then(|p| p.by.as_ref()) {
                self.column("sizing.assign", "group column", by, &columns, false);
            }
        }
    }

    fn read<T>(
        &mut self,
        key: &str,
        path: Option<&Path>,
        read: impl Fn(&Path) -> Result<T, crate::StudyError>,
    ) -> Option<T> {
        let path = self.at(path?);
        if self.is_file(key, &path) { self.refused(key, read(&path)) } else { None }
    }

    /// A column of numbers that may be named with its unit or without.
    fn dimension(&mut self, key: &str, what: &str, name: &str, columns: &[Column]) {
        let bare = NumberColumn::under(name, Vec::new()).name;
        if !columns.iter().any(|c| c.numbers && c.name == bare) {
            self.column(key, what, name, columns, true);
        }
    }

    fn plan(&mut self, plan: &Plan, columns: &[Column], groups: Option<BTreeSet<String>>) {
        let key = "sizing.plan";
        let dimensions = plan
            .control
            .iter()
            .map(|c| ("control dimension", &c.dimension))
            .chain(plan.secondary.iter().map(|n| ("secondary dimension", n)))
            .chain(plan.fit.iter().map(|n| ("dimension of the fit model", n)))
            .chain(plan.limit.iter().map(|l| ("dimension with a limit", &l.dimension)))
            .chain(plan.weights.iter().map(|n| ("column of weights", n)));
        for (what, name) in dimensions {
            self.column(key, what, name, columns, true);
        }
        // shape coefficients come from the space of the study
        for name in plan.shape.iter().filter(|n| !n.starts_with("mode_")) {
            self.column(key, "shape column", name, columns, true);
        }
        let words = plan
            .by
            .iter()
            .map(|n| ("group column", n))
            .chain(plan.participant.iter().map(|n| ("column of participants", n)))
            .chain(plan.describe.iter().map(|n| ("column to describe by", n)))
            .chain(plan.margin.iter().map(|m| ("margin's column", &m.column)));
        for (what, name) in words {
            self.column(key, what, name, columns, false);
        }
        match (&plan.sizes.count, &plan.by, groups) {
            (Count::PerGroup(_), None, _) => {
                self.wrong(
                    key,
                    "sizes.count gives a number by group, and there is no group column",
                    "add by = \"COLUMN\"",
                );
            }
            (Count::PerGroup(counts), Some(by), Some(groups)) => {
                for group in counts.keys() {
                    self.name(key, &format!("group of `{by}`"), group, groups.iter().map(String::as_str));
                }
                for group in groups.iter().filter(|g| !counts.contains_key(*g)) {
                    self.wrong(key, format!("sizes.count has no number for the group `{group}`"), "add it");
                }
            }
            _ => {}
        }
    }

    fn allowances(&mut self, section: &SizingSection, plan: Option<&Plan>) {
        let key = "sizing.allowances";
        let Some(path) = &section.allowances else { return };
        if path.as_os_str() == SizingSection::MOVEMENTS {
            let followed = &self.file.motion.dimensions;
            let of = |name: &String| {
                followed.contains(name) || followed.contains(&NumberColumn::under(name, Vec::new()).name)
            };
            if plan.is_some_and(|p| !p.control.iter().any(|c| of(&c.dimension))) {
                self.wrong(
                    key,
                    "no control dimension of the plan is followed through a movement",
                    "name the control dimensions in [motion] dimensions, or give a table of allowances",
                );
            }
            return;
        }
        let table: Option<Table> = self.read(key, Some(path), read_table);
        if let (Some(table), Some(plan)) = (table, plan) {
            let made = plan.with_allowances(&table).map_err(|e| format!("{}: {e}", path.display()));
            self.refused(key, made);
        }
    }
}

fn chart_groups(chart: &Chart) -> BTreeSet<String> {
    chart.sizes.iter().filter_map(|s| s.group.clone()).collect()
}
