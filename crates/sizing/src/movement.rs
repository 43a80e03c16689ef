//! Movement: coverage where every dimension may grow and shrink.

use std::collections::BTreeMap;

use formkin_table::Table;

use crate::axes::{Axis, Place};
use crate::fault::AllowanceFault;
use crate::{Allowance, Plan, SizingError};

/// Most times the plan's number of sizes that is tried for the price of mobility.
pub(crate) const MOST_TIMES: usize = 3;

/// The axes with tolerances less the allowances: a size covers someone in movement where it covers them at both ends of their range. None without allowances.
pub(crate) fn narrowed(axes: &[Axis]) -> Option<Vec<Axis>> {
    if axes.iter().all(|a| a.allowance == (0.0, 0.0)) {
        return None;
    }
    Some(
        axes.iter()
            .map(|a| {
                let mut a = a.clone();
                a.info.above -= a.allowance.0;
                a.info.below -= a.allowance.1;
                a
            })
            .collect(),
    )
}

/// A size with its limits drawn in by the allowances. A limit that is crossed leaves no room.
pub(crate) fn drawn_in(place: &Place, axes: &[Axis]) -> Option<Place> {
    let mut place = place.clone();
    for (j, axis) in axes.iter().enumerate() {
        place.above[j] -= axis.allowance.0;
        place.below[j] -= axis.allowance.1;
        if place.above[j] <= 0.0 || place.below[j] <= 0.0 {
            return None;
        }
    }
    Some(place)
}

impl Plan {
    /// The plan with the allowances of a table: a row a dimension, named in the first column or in `dimension`, `grows` and `shrinks` in the unit of their headers (`grows_mm`), or one column
    /// `allowance` for growth; or `unit` and `increase_p95`, `decrease_p95`, or `increase_max`, `decrease_max` where there are too few people for them, as movements give them. Dimensions that the plan does not control are left aside; the largest of several rows of a dimension counts.
    ///
    /// # Errors
    /// [`SizingError::Allowances`] for a table without such columns or without a row for any control dimension, and all of [`check`](Self::check).
    pub fn with_allowances(&self, table: &Table) -> Result<Self, SizingError> {
        let names: &[String] = match table.texts.iter().find(|t| t.name == "dimension") {
            Some(column) => &column.values,
            None => &table.ids,
        };
        let column = |wanted: &[&str]| table.numbers.iter().find(|c| wanted.contains(&c.name.as_str()));
        let known = |name: &str| column(&[name]).filter(|c| c.values.iter().all(Option::is_some));
        let grows = column(&["grows", "allowance"])
            .or_else(|| known("increase_p95"))
            .or_else(|| known("increase_max"));
        let shrinks =
            column(&["shrinks"]).or_else(|| known("decrease_p95")).or_else(|| known("decrease_max"));
        let units = table.texts.iter().find(|t| t.name == "unit");
        if grows.is_none() && shrinks.is_none() {
            return Err(AllowanceFault::NoColumn.into());
        }
        let mut found: BTreeMap<&str, Vec<usize>> = BTreeMap::new();
        for (row, name) in names.iter().enumerate() {
            found.entry(name.trim()).or_default().push(row);
        }
        let mut plan = self.clone();
        let mut any = false;
        for control in &mut plan.control {
            let rows = found.iter().find(|(name, _)| {
                **name == control.dimension
                    || control
                        .dimension
                        .strip_prefix(**name)
                        .is_some_and(|rest| matches!(rest, "_mm" | "_cm" | "_m"))
                    || name
                        .strip_prefix(control.dimension.as_str())
                        .is_some_and(|rest| matches!(rest, "_mm" | "_cm" | "_m"))
            });
            let Some((_, rows)) = rows else { continue };
            let most = |c: Option<&formkin_table::NumberColumn>| -> Result<f64, SizingError> {
                let Some(c) = c else { return Ok(0.0) };
                let given = || rows.iter().filter_map(|&r| c.values.get(r).copied().flatten());
                if let Some(negative) = given().find(|v| *v < 0.0) {
                    let (column, dimension) = (c.name.clone(), control.dimension.clone());
                    return Err(AllowanceFault::Negative { column, dimension, value: negative }.into());
                }
                let largest = given().fold(0.0, f64::max);
                let own = c.unit.as_deref().or_else(|| {
                    let unit = units?.values.get(*rows.first()?)?.trim();
                    (!unit.is_empty()).then_some(unit)
                });
                let unit = control.unit.as_deref().or(own);
                match (own, unit) {
                    (Some(from), Some(to)) if from != to => {
                        match (crate::length::mm_per(from), crate::length::mm_per(to)) {
                            (Some(a), Some(b)) => Ok(largest * a / b),
                            _ => Err(AllowanceFault::Units {
                                column: c.name.clone(),
                                own: from.to_owned(),
                                dimension: control.dimension.clone(),
                                plan: to.to_owned(),
                            }
                            .into()),
                        }
                    }
                    _ => Ok(largest),
                }
            };
            // Without a unit in the plan the tolerance is in the column's unit, which the allowances must share.
            control.allowance = Some(Allowance { grows: most(grows)?, shrinks: most(shrinks)? });
            any = true;
        }
        if !any {
            let controls = self.control.iter().map(|c| c.dimension.clone()).collect();
            return Err(AllowanceFault::NoRow { controls }.into());
        }
        plan.check()?;
        Ok(plan)
    }
}
