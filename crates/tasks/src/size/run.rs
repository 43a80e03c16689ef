//! A table and a plan to sizes; an existing chart tried on the same people; the sizes of new people; a mannequin of every size.

use std::collections::BTreeMap;
use std::path::PathBuf;
use std::sync::Arc;

use formkin_cohort::Cohort;
use formkin_shape::Space;
use formkin_sizing::{Advice, Chart, Method, Plan, SizeSystem};
use formkin_table::{NumberColumn, Table};
use serde::{Deserialize, Serialize};

use super::mannequin::{Mannequins, mannequins};
use super::{SizeSettings, SizeSources};
use crate::bodies::read_space;
use crate::measure::Measure;
use crate::movements::{Movements, allowance_table};
use crate::people::Rows;
use crate::predictions::described_space;
use crate::reading::{read_chart, read_plan, read_table};
use crate::space::Space as SpaceTask;
use crate::{Store, TaskError};

/// People so near a limit are flagged where no plan says otherwise, in mm.
pub const BORDERLINE_MM: f64 = 5.0;

/// People, and what their sizes are made by.
#[derive(Debug)]
pub struct SizeInputs {
    /// The people, a row each; none where new people are given sizes of a chart alone.
    pub table: Option<Table>,
    /// By which sizes are derived; without one the chart is tried and nothing derived.
    pub plan: Option<Plan>,
    /// A chart that exists.
    pub chart: Option<Chart>,
    /// New people who are given sizes.
    pub new_people: Option<Table>,
    /// A space to make mannequins in.
    pub space: Option<Arc<Space>>,
    /// The bodies of the people, of which fit models are handed over.
    pub cohort: Option<Arc<Cohort>>,
    /// The files that sizes are made from, and those that new people are given sizes by: for messages.
    pub files: (String, String),
}

/// What came out.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SizeOutcome {
    /// The sizes derived; those of the chart where there is no plan; none without people.
    pub system: Option<SizeSystem>,
    /// The existing chart on the same people, where there are both.
    pub existing: Option<SizeSystem>,
    /// The sizes of new people.
    pub advice: Vec<Advice>,
    /// A body of every size, where there is a space.
    pub mannequins: Mannequins,
}

impl SizeInputs {
    pub(super) fn open(sources: &SizeSources) -> Result<Self, TaskError> {
        let allowances = sources.allowances.as_deref().map(read_table).transpose()?;
        let mut inputs = Self::of_files(sources, allowances)?;
        inputs.table = sources.table.as_deref().map(read_table).transpose()?;
        let space = sources.space.as_deref().map(read_space).transpose()?;
        if let (Some(path), Some(space)) = (&sources.coefficients, &space) {
            let bytes =
                std::fs::read(path).map_err(|source| TaskError::Read { path: path.clone(), source })?;
            let rows = Rows::of_parquet(bytes, space)
                .map_err(|e| TaskError::In { path: path.clone(), source: Box::new(e) })?;
            let people = rows.participants.iter().map(String::as_str);
            inputs.join(space, people.zip(rows.coefficients.iter().map(Vec::as_slice)));
        }
        inputs.space = space.map(Arc::new);
        Ok(inputs)
    }

    /// Plan, chart and new people, of files.
    pub(super) fn of_files(sources: &SizeSources, allowances: Option<Table>) -> Result<Self, TaskError> {
        let mut plan = sources.plan.as_deref().map(read_plan).transpose()?;
        if let (Some(of), Some(table)) = (&plan, &allowances) {
            let path = sources.allowances.clone().unwrap_or_default();
            let with = of.with_allowances(table);
            plan = Some(with.map_err(|e| TaskError::In { path, source: Box::new(e.into()) })?);
        }
        Ok(Self {
            table: None,
            plan,
            chart: sources.chart.as_deref().map(read_chart).transpose()?,
            new_people: sources.assign.as_deref().map(read_table).transpose()?,
            space: None,
            cohort: None,
            files: (sources.shown(), sources.shown_of_new()),
        })
    }

    /// Adds the shape coefficients that the plan names and the table lacks.
    pub(super) fn join<'r>(&mut self, space: &Space, rows: impl IntoIterator<Item = (&'r str, &'r [f64])>) {
        if let (Some(plan), Some(table)) = (&self.plan, &self.table) {
            self.table = Some(with_coefficients(table, plan, space, rows));
        }
    }

    /// Of what the tasks of a study made; none where there are no people to size.
    pub(super) fn gather(sources: &SizeSources, store: &Store) -> Result<Option<Self>, TaskError> {
        let measured = store.get::<Measure>();
        let table = match (&sources.table, &measured) {
            (Some(path), _) => read_table(path)?,
            (None, Some(measured)) => measured.outcome.people.clone(),
            (None, None) => return Ok(None),
        };
        let allowances = match &sources.allowances {
            Some(_) if sources.of_movements() => Some(allowances(store)?),
            Some(path) => Some(read_table(path)?),
            None => None,
        };
        let mut inputs = Self::of_files(sources, allowances)?;
        inputs.table = Some(table);
        inputs.cohort = store.cohort();
        inputs.space = described_space(store);
        if let (Some(cohort), Some(space)) = (store.cohort(), store.get::<SpaceTask>()) {
            let people = space.outcome.items.iter().map(|&i| cohort.items()[i].participant.as_str());
            let fitted = &space.outcome.fitted;
            inputs.join(&fitted.space, people.zip(fitted.coefficients.iter().map(Vec::as_slice)));
        }
        inputs.files = (String::new(), String::new());
        Ok(Some(inputs))
    }
}

/// How much dimensions change in the movements of a study.
fn allowances(store: &Store) -> Result<Table, TaskError> {
    match store.get::<Movements>() {
        Some(movements) => allowance_table(&movements.outcome),
        None => Err(TaskError::Nothing {
            what: "[size] allowances = \"movements\", and there is no movement".into(),
            advice: "add [motion] with the control dimensions as `follow`, or give a table of allowances"
                .into(),
        }),
    }
}

/// Says what is wrong with the files that it is about.
fn of(files: &str) -> impl FnOnce(formkin_sizing::SizingError) -> TaskError {
    move |e| match files {
        "" => e.into(),
        files => TaskError::In { path: PathBuf::from(files), source: Box::new(e.into()) },
    }
}

/// Derives, tries, assigns, and makes mannequins.
pub(super) fn run(settings: &SizeSettings, inputs: &SizeInputs) -> Result<SizeOutcome, TaskError> {
    let (files, of_new) = &inputs.files;
    let plan = inputs.plan.as_ref();
    let tried = match (&inputs.table, &inputs.chart) {
        (Some(table), Some(chart)) => Some(chart.evaluate(table, plan).map_err(of(files))?),
        _ => None,
    };
    let (system, existing) = match (&inputs.table, plan) {
        (Some(table), Some(plan)) => (Some(plan.derive(table).map_err(of(files))?), tried),
        _ => (tried, None),
    };
    if system.is_none() && inputs.new_people.is_none() {
        return Err(TaskError::Nothing {
            what: "there is neither a plan nor a chart".into(),
            advice: "name a plan to derive sizes by, or a chart to try".into(),
        });
    }
    let advice = match &inputs.new_people {
        Some(new) => assign(settings, inputs, system.as_ref(), new).map_err(of(of_new))?,
        None => Vec::new(),
    };
    let mannequins = match (&inputs.space, &system) {
        (Some(space), Some(system)) => mannequins(space, system)?,
        _ => Mannequins::default(),
    };
    Ok(SizeOutcome { system, existing, advice, mannequins })
}

/// The sizes of new people: of those derived, else of the chart as it is.
fn assign(
    settings: &SizeSettings,
    inputs: &SizeInputs,
    system: Option<&SizeSystem>,
    new: &Table,
) -> Result<Vec<Advice>, formkin_sizing::SizingError> {
    let plan = inputs.plan.as_ref();
    let derived = system.filter(|s| !s.given).map(Chart::of_system);
    let Some(chart) = derived.as_ref().or(inputs.chart.as_ref()) else { return Ok(Vec::new()) };
    let by = settings
        .by
        .clone()
        .or_else(|| plan.and_then(|p| p.by.clone()))
        .or_else(|| system.and_then(|s| s.plan.by.clone()))
        .or_else(|| chart.group_column(new));
    chart.assign(new, by.as_deref(), plan.map_or(BORDERLINE_MM, |p| p.borderline_mm))
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
