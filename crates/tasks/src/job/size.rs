//! A table and a plan -> a size system; an existing chart tried on the same people; the sizes of new people.

use std::collections::BTreeMap;

use formkin_geometry::Point;
use formkin_shape::Space;
use formkin_sizing::{Advice, Chart, Method, Plan, SizeSystem};
use formkin_table::{NumberColumn, Table};
use serde::{Deserialize, Serialize};

use crate::TaskError;

/// People so near a limit are flagged where no plan says otherwise, in mm.
pub const BORDERLINE_MM: f64 = 5.0;

/// What is asked for: a plan, a chart, or both.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct SizingJob {
    /// By which sizes are derived; without one the chart is tried and nothing derived.
    pub plan: Option<Plan>,
    /// A chart that exists.
    pub chart: Option<Chart>,
    /// How much dimensions change in movement, for the plan.
    pub allowances: Option<Table>,
    /// New people who are given sizes.
    pub new_people: Option<Table>,
}

/// What came out.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Sizing {
    /// The sizes derived; those of the chart where there is no plan.
    pub system: SizeSystem,
    /// The existing chart on the same people, where there are both.
    pub existing: Option<SizeSystem>,
    /// The sizes of new people.
    pub advice: Vec<Advice>,
}

impl SizingJob {
    /// Derives, tries and assigns.
    ///
    /// # Errors
    /// [`TaskError::Nothing`] without plan and chart; what plan, chart and tables refuse.
    pub fn run(&self, table: &Table) -> Result<Sizing, TaskError> {
        let plan = match (&self.plan, &self.allowances) {
            (Some(plan), Some(allowances)) => Some(plan.with_allowances(allowances)?),
            (plan, _) => plan.clone(),
        };
        let (system, existing) = match (&plan, &self.chart) {
            (Some(plan), chart) => {
                let existing = chart.as_ref().map(|c| c.evaluate(table, Some(plan))).transpose()?;
                (plan.derive(table)?, existing)
            }
            (None, Some(chart)) => (chart.evaluate(table, None)?, None),
            (None, None) => {
                return Err(TaskError::Nothing {
                    what: "[sizing] has neither `plan` nor `chart`".into(),
                    advice: "name a plan to derive sizes by, or a chart to try".into(),
                });
            }
        };
        let advice = match &self.new_people {
            Some(new) => {
                let chart = Chart::of_system(&system);
                let by = system.plan.by.clone().or_else(|| chart.group_column(new));
                let borderline = plan.as_ref().map_or(BORDERLINE_MM, |p| p.borderline_mm);
                chart.assign(new, by.as_deref(), borderline)?
            }
            None => Vec::new(),
        };
        Ok(Sizing { system, existing, advice })
    }
}

/// The table with the shape coefficients that a plan's `shape` names and the table lacks (`mode_001_sd` over its standard deviation, `mode_001_mm`), by the participant of each row: a person's first
/// body stands for the person. People without a body have none.
#[must_use]
pub fn with_coefficients<'r>(
    table: &Table,
    plan: &Plan,
    space: &Space,
    rows: impl IntoIterator<Item = (&'r str, &'r [f64])>,
) -> Table {
    let asked = plan.method == Method::ShapeClusters || plan.compare.contains(&Method::ShapeClusters);
    let wanted: Vec<(&String, usize, bool)> = plan
        .shape
        .iter()
        .filter(|name| asked && table.number(name).is_err())
        .filter_map(|name| {
            let rest = name.strip_prefix("mode_")?;
            let (number, unit) = rest.split_once('_')?;
            let raw = match unit {
                "mm" => true,
                "sd" => false,
                _ => return None,
            };
            Some((name, number.parse::<usize>().ok()?.checked_sub(1)?, raw))
        })
        .collect();
    let mut table = table.clone();
    if wanted.is_empty() {
        return table;
    }
    let mut of: BTreeMap<&str, &[f64]> = BTreeMap::new();
    for (participant, coefficients) in rows {
        of.entry(participant).or_insert(coefficients);
    }
    let people = table.texts.iter().find(|t| t.name == "participant").map_or(&table.ids, |t| &t.values);
    let columns: Vec<NumberColumn> = wanted
        .into_iter()
        .filter(|(_, mode, _)| of.values().any(|c| c.len() > *mode))
        .map(|(name, mode, raw)| {
            let sd = space.variances_mm2.get(mode).map_or(1.0, |v| v.sqrt());
            let value = |p: &String| {
                let c = of.get(p.trim())?.get(mode)?;
                Some(if raw { *c } else { c / sd })
            };
            NumberColumn::under(name, people.iter().map(value).collect())
        })
        .collect();
    table.numbers.extend(columns);
    table
}

/// Derives the size system of a plan from a table.
///
/// # Errors
/// What the plan refuses.
pub fn size(table: &Table, plan: &Plan) -> Result<SizeSystem, TaskError> {
    Ok(plan.derive(table)?)
}

/// The tables of a size system: file name, what it is, and its text. The curve and the grading are there where the plan asks for them.
///
/// # Errors
/// What writing refuses.
pub fn size_tables(system: &SizeSystem) -> Result<Vec<(&'static str, &'static str, String)>, TaskError> {
    let mut tables = vec![
        ("size-chart.csv", "The size chart", formkin_sizing::chart_csv(system)?),
        ("coverage.csv", "Coverage, held out first", formkin_sizing::coverage_csv(system)?),
        ("assignments.csv", "The size of every person", formkin_sizing::assignments_csv(system)?),
        ("left-out.csv", "Who is left out, and by which dimension", formkin_sizing::left_out_csv(system)?),
    ];
    if !system.curve.is_empty() || !system.compared.is_empty() {
        let what = "Coverage against the number of sizes, by method";
        tables.push(("coverage-curve.csv", what, formkin_sizing::curve_csv(system)?));
    }
    if system.groups.iter().any(|g| !g.grading.is_empty()) {
        let what = "Grading: values, increments and residual spread of secondary dimensions";
        tables.push(("grading.csv", what, formkin_sizing::grading_csv(system)?));
    }
    if system.groups.iter().flat_map(|g| &g.sizes).any(|s| s.fit_model.is_some()) {
        let what = "The fit model of every size, and how far it is from its wearers' mean";
        tables.push(("fit-models.csv", what, formkin_sizing::fit_models_csv(system)?));
    }
    Ok(tables)
}

/// Moves a shape along z so that its lowest vertex is at 0.
#[must_use]
pub fn on_the_floor(mut shape: Vec<Point>) -> Vec<Point> {
    let floor = shape.iter().map(|p| p[2]).fold(f64::INFINITY, f64::min);
    for p in &mut shape {
        p[2] -= floor;
    }
    shape
}
