//! The people of a table, ready to be sized: complete, one row each, in an order of their own.

use std::collections::BTreeMap;

use formkin_stats::raking::{Margin, rake};
use formkin_table::{NumberColumn, Table};

use crate::axes::Axis;
use crate::{Count, Dropped, Missing, Plan, Raking, SizingError};

/// Name of the one group where there is no group column.
const ALL: &str = "all";
/// The column that names people where the plan names none.
const PARTICIPANT: &str = "participant";
/// Values beyond so many tolerances are mistakes, and no grid can count so far.
const MOST_TOLERANCES: f64 = 1e9;

/// Longer than any dimension of a body, in mm (a girth or stature of three metres; no source).
const LONGEST_MM: f64 = 3000.0;

/// The people in the order of their names, so that the order of the table changes nothing.
pub(crate) struct People {
    /// Row of each in the table.
    pub(crate) rows: Vec<usize>,
    /// Values on the axes.
    pub(crate) points: Vec<Vec<f64>>,
    /// Weight of each.
    pub(crate) weights: Vec<f64>,
    /// Group of each, a place in `groups`.
    pub(crate) group: Vec<usize>,
    /// Names of the groups, ascending.
    pub(crate) groups: Vec<String>,
    /// Those left out, in the order of the table.
    pub(crate) dropped: Vec<Dropped>,
    /// The control dimensions.
    pub(crate) axes: Vec<Axis>,
    /// Values of the shape columns.
    pub(crate) shape: Vec<Vec<f64>>,
    /// How the weights were raked.
    pub(crate) raking: Option<Raking>,
}

impl People {
    pub(crate) fn of(plan: &Plan, table: &Table) -> Result<Self, SizingError> {
        if table.ids.is_empty() {
            return Err(SizingError::NoPeople);
        }
        let axes: Vec<Axis> = plan.control.iter().map(|c| Axis::of(c, table)).collect::<Result<_, _>>()?;
        let columns: Vec<&NumberColumn> = axes
            .iter()
            .map(|a| number(table, &a.info.dimension, "control dimension"))
            .collect::<Result<_, _>>()?;
        for (at, axis) in axes.iter().enumerate() {
            if axes[..at].iter().any(|a| a.info.dimension == axis.info.dimension) {
                return Err(SizingError::RepeatedControl { dimension: axis.info.dimension.clone() });
            }
        }
        let weights = plan.weights.as_ref().map(|name| number(table, name, "weights column")).transpose()?;
        let shape: Vec<&NumberColumn> =
            plan.shape.iter().map(|name| number(table, name, "shape column")).collect::<Result<_, _>>()?;
        let by =
            plan.by.as_ref().map(|name| text(table, name, "group column").map(|v| (name, v))).transpose()?;
        let names = participants(plan, table)?;
        one_row_each(&names)?;

        let mut dropped = Vec::new();
        let mut kept = Vec::new();
        for (row, id) in table.ids.iter().enumerate() {
            let without = columns
                .iter()
                .copied()
                .chain(weights)
                .chain(shape.iter().copied())
                .find(|c| c.values[row].is_none())
                .map(NumberColumn::header)
                .or_else(|| {
                    by.as_ref().filter(|(_, v)| v[row].trim().is_empty()).map(|(name, _)| (*name).clone())
                });
            match without {
                Some(column) => dropped.push(Dropped { id: id.clone(), column }),
                None => kept.push(row),
            }
        }
        refuse(plan, &dropped, kept.len())?;
        kept.sort_by(|&a, &b| names[a].cmp(&names[b]));

        let value = |column: &NumberColumn, row: usize| -> Result<f64, SizingError> {
            let value = column.values[row].unwrap_or(f64::NAN);
            let at = || (column.header(), table.ids[row].clone());
            if value.is_finite() {
                Ok(value)
            } else {
                let (name, id) = at();
                Err(SizingError::NotFinite { name, id, value })
            }
        };
        let points = kept
            .iter()
            .map(|&row| columns.iter().map(|c| value(c, row)).collect::<Result<Vec<f64>, _>>())
            .collect::<Result<Vec<_>, _>>()?;
        in_scale(&axes, &points, &kept, table)?;
        let mut person_weights = vec![1.0; kept.len()];
        if let Some(column) = weights {
            for (weight, &row) in person_weights.iter_mut().zip(&kept) {
                *weight = value(column, row)?;
                if *weight <= 0.0 {
                    return Err(SizingError::Weight { id: table.ids[row].clone(), value: *weight });
                }
            }
        }
        let raking = rake_to_margins(plan, table, &kept, &mut person_weights)?;
        let shape = kept
            .iter()
            .map(|&row| shape.iter().map(|c| value(c, row)).collect::<Result<Vec<f64>, _>>())
            .collect::<Result<Vec<_>, _>>()?;
        let label = |row: usize| by.as_ref().map_or(ALL, |(_, v)| v[row].trim());
        let mut groups: Vec<String> = kept.iter().map(|&row| label(row).to_owned()).collect();
        groups.sort();
        groups.dedup();
        let group = kept
            .iter()
            .map(|&row| groups.binary_search_by(|g| g.as_str().cmp(label(row))).unwrap_or(0))
            .collect();
        Ok(Self { rows: kept, points, weights: person_weights, group, groups, dropped, axes, shape, raking })
    }

    /// Dimensions with values that no body has.
    pub(crate) fn implausible(&self) -> Vec<String> {
        let of = |(j, axis): (usize, &Axis)| {
            let (mut low, mut high) = (f64::INFINITY, f64::NEG_INFINITY);
            let mut beyond = 0;
            for value in self.points.iter().map(|p| p[j]) {
                let long = axis.mm.is_some_and(|mm| value * mm > LONGEST_MM);
                if value <= 0.0 || long {
                    beyond += 1;
                    (low, high) = (low.min(value), high.max(value));
                }
            }
            let unit = axis.info.unit.as_deref().map_or_else(String::new, |u| format!(" {u}"));
            let range =
                if low < high { format!("{low}{unit} to {high}{unit}") } else { format!("{low}{unit}") };
            let limit = axis.mm.map_or_else(String::new, |mm| format!(" to {}{unit}", LONGEST_MM / mm));
            (beyond > 0).then(|| {
                format!(
                    "`{}` holds what no body measures: {range} in {beyond} of {} people, where values above 0{limit} are possible. Look at the table and its units before the sizes are used.",
                    axis.info.dimension,
                    self.points.len()
                )
            })
        };
        self.axes.iter().enumerate().filter_map(of).collect()
    }

    /// The people of a group, as places in `rows`.
    pub(crate) fn members(&self, group: usize) -> Vec<usize> {
        (0..self.rows.len()).filter(|&i| self.group[i] == group).collect()
    }

    /// The number of sizes of every group.
    pub(crate) fn counts(&self, plan: &Plan) -> Result<Vec<usize>, SizingError> {
        match &plan.sizes.count {
            Count::Each(count) => Ok(vec![*count; self.groups.len()]),
            Count::PerGroup(_) if plan.by.is_none() => Err(SizingError::NoGroupColumn),
            Count::PerGroup(counts) => {
                if let Some(group) = counts.keys().find(|g| !self.groups.contains(g)) {
                    return Err(SizingError::UnknownGroup {
                        group: group.clone(),
                        present: self.groups.clone(),
                    });
                }
                let named = || counts.keys().cloned().collect();
                self.groups
                    .iter()
                    .map(|g| {
                        counts
                            .get(g)
                            .copied()
                            .ok_or_else(|| SizingError::NoCount { group: g.clone(), named: named() })
                    })
                    .collect()
            }
        }
    }
}

/// Refuses values of so many tolerances that they are mistakes. `kept` holds the row of every point.
fn in_scale(axes: &[Axis], points: &[Vec<f64>], kept: &[usize], table: &Table) -> Result<(), SizingError> {
    for (point, &row) in points.iter().zip(kept) {
        for (&value, axis) in point.iter().zip(axes) {
            let tolerance = axis.info.below.min(axis.info.above);
            if value.abs() > MOST_TOLERANCES * tolerance {
                return Err(SizingError::OutOfScale {
                    name: axis.info.dimension.clone(),
                    id: table.ids[row].clone(),
                    value,
                    tolerance,
                });
            }
        }
    }
    Ok(())
}

/// Brings the weights to the plan's margins.
fn rake_to_margins(
    plan: &Plan,
    table: &Table,
    rows: &[usize],
    weights: &mut Vec<f64>,
) -> Result<Option<Raking>, SizingError> {
    if plan.margin.is_empty() {
        return Ok(None);
    }
    let mut few = Vec::new();
    let mut classes = Vec::new();
    for margin in &plan.margin {
        let wrong = |reason: String| SizingError::Margin { column: margin.column.clone(), reason };
        let words = text(table, &margin.column, "margin's column")?;
        let names: Vec<&str> = margin.shares.keys().map(String::as_str).collect();
        let of = rows
            .iter()
            .map(|&row| {
                let word = words[row].trim();
                names.binary_search(&word).map_err(|_| {
                    wrong(format!(
                        "`{word}` of {} has no share; shares are given for {}",
                        table.ids[row],
                        names.join(", ")
                    ))
                })
            })
            .collect::<Result<Vec<usize>, _>>()?;
        for (place, class) in names.iter().enumerate() {
            let people = of.iter().filter(|c| **c == place).count();
            if people == 0 {
                return Err(wrong(format!(
                    "there is nobody in `{class}`, which has a share; measure some, or join classes"
                )));
            }
            if people < 10 {
                few.push(format!("{} of {}", class, margin.column));
            }
        }
        classes.push((of, margin.shares.values().copied().collect::<Vec<f64>>()));
    }
    let margins: Vec<Margin<'_>> =
        classes.iter().map(|(classes, shares)| Margin { classes, shares }).collect();
    let raked = rake(weights, &margins, Some(plan.weight_cap))
        .map_err(|source| SizingError::Numbers { group: "the margins".to_owned(), source })?;
    *weights = raked.weights;
    Ok(Some(Raking { rounds: raked.rounds, largest_gap: raked.largest_gap, capped: raked.capped, few }))
}

/// A column of numbers that the plan names.
pub(crate) fn number<'a>(
    table: &'a Table,
    name: &str,
    role: &'static str,
) -> Result<&'a NumberColumn, SizingError> {
    let column = table.number(name).map_err(|source| SizingError::Column { role, source })?;
    match column.values.len() {
        found if found == table.ids.len() => Ok(column),
        found => Err(SizingError::Rows { name: column.header(), rows: table.ids.len(), found }),
    }
}

/// The words of a column that the plan names.
pub(crate) fn text(table: &Table, name: &str, role: &'static str) -> Result<Vec<String>, SizingError> {
    let values = table.text(name).map_err(|source| SizingError::Column { role, source })?;
    match values.len() {
        found if found == table.ids.len() => Ok(values),
        found => Err(SizingError::Rows { name: name.to_owned(), rows: table.ids.len(), found }),
    }
}

fn participants(plan: &Plan, table: &Table) -> Result<Vec<String>, SizingError> {
    let named = match &plan.participant {
        Some(name) => Some(text(table, name, "participant column")?),
        None if table.texts.iter().any(|c| c.name == PARTICIPANT) => {
            Some(text(table, PARTICIPANT, "participant column")?)
        }
        None => None,
    };
    // A row that names nobody is somebody of its own.
    Ok(named.map_or_else(
        || table.ids.clone(),
        |names| {
            names
                .iter()
                .zip(&table.ids)
                .map(|(n, id)| if n.trim().is_empty() { id } else { n })
                .cloned()
                .collect()
        },
    ))
}

fn one_row_each(names: &[String]) -> Result<(), SizingError> {
    let mut rows: BTreeMap<&str, usize> = BTreeMap::new();
    for name in names {
        *rows.entry(name).or_default() += 1;
    }
    match names.iter().find(|n| rows[n.as_str()] > 1) {
        Some(name) => {
            Err(SizingError::RepeatedParticipant { participant: name.clone(), rows: rows[name.as_str()] })
        }
        None => Ok(()),
    }
}

fn refuse(plan: &Plan, dropped: &[Dropped], kept: usize) -> Result<(), SizingError> {
    let mut by_column: BTreeMap<&str, usize> = BTreeMap::new();
    for d in dropped {
        *by_column.entry(&d.column).or_default() += 1;
    }
    match dropped.first() {
        Some(first) if plan.missing == Missing::Refuse => Err(SizingError::MissingValues {
            people: by_column[first.column.as_str()],
            column: first.column.clone(),
            id: first.id.clone(),
        }),
        Some(_) if kept == 0 => {
            let most = by_column.iter().max_by_key(|(_, n)| **n).map_or("", |(c, _)| c);
            Err(SizingError::NobodyLeft { column: most.to_owned(), people: dropped.len() })
        }
        _ => Ok(()),
    }
}
