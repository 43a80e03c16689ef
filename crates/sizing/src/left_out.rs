//! Who is without a size, and why.

use std::collections::BTreeMap;

use formkin_stats::quantile::{median, quantile};
use formkin_table::{NumberColumn, Table};

use crate::axes::Axis;
use crate::coverage::Share;
use crate::length::mm_per;
use crate::people::{People, text};
use crate::{Assignment, LeftOut, LeftOutDimension, LeftOutGroup, Plan, SizingError};

/// Text columns of so many values describe groups; with more they are names or remarks.
const MOST_CLASSES: usize = 12;
/// Classes of fewer people say little (common practice, no source).
const FEW: usize = 10;

/// Counts the people without a size. `assignments` are in the order of `people`.
pub(crate) fn left_out(
    plan: &Plan,
    table: &Table,
    people: &People,
    assignments: &[&Assignment],
) -> Result<LeftOut, SizingError> {
    let out: Vec<usize> = (0..assignments.len()).filter(|&i| assignments[i].size.is_none()).collect();
    let total: f64 = people.weights.iter().sum();
    let by_dimension = people.axes.iter().map(|axis| of_dimension(axis, &out, assignments)).collect();
    let mut by_column = Vec::new();
    for column in describing(plan, table) {
        by_column.extend(of_column(&column, table, people, assignments, plan.level)?);
    }
    Ok(LeftOut {
        people: out.len(),
        share: (out.iter().map(|&i| people.weights[i]).sum::<f64>() / total).abs(),
        by_dimension,
        by_column,
    })
}

fn of_dimension(axis: &Axis, out: &[usize], assignments: &[&Assignment]) -> LeftOutDimension {
    let dimension = &axis.info.dimension;
    let (mut small, mut large, mut alone) = (0, 0, 0);
    let mut misses = Vec::new();
    for &i in out {
        let all = &assignments[i].misses;
        let Some(miss) = all.iter().find(|m| m.dimension == *dimension) else { continue };
        if miss.by < 0.0 {
            small += 1
        } else {
            large += 1
        }
        alone += usize::from(all.len() == 1);
        misses.push(miss.by.abs());
    }
    LeftOutDimension {
        dimension: dimension.clone(),
        unit: axis.info.unit.clone(),
        too_small: small,
        too_large: large,
        alone,
        median_miss: median(&misses, None).ok(),
        largest_miss: misses.iter().copied().max_by(f64::total_cmp),
    }
}

/// The columns by which people are counted.
fn describing(plan: &Plan, table: &Table) -> Vec<String> {
    if !plan.describe.is_empty() {
        return plan.describe.clone();
    }
    let mut columns: Vec<String> = plan.by.iter().cloned().collect();
    for column in &table.texts {
        let mut classes: Vec<&str> =
            column.values.iter().map(|v| v.trim()).filter(|v| !v.is_empty()).collect();
        classes.sort_unstable();
        classes.dedup();
        // As many classes as rows are names.
        let groups = (2..=MOST_CLASSES.min(table.ids.len().saturating_sub(1))).contains(&classes.len());
        if groups && !columns.contains(&column.name) && Some(&column.name) != plan.participant.as_ref() {
            columns.push(column.name.clone());
        }
    }
    if let Some(age) = table.numbers.iter().find(|c| c.name == "age")
        && !columns.contains(&age.name)
    {
        columns.push(age.name.clone());
    }
    if mass_and_stature(table).is_some() {
        columns.push(BMI.to_owned());
    }
    columns
}

/// The name of the bands of mass in kg over the square of stature in m.
const BMI: &str = "body_mass_index";

fn mass_and_stature(table: &Table) -> Option<(&NumberColumn, &NumberColumn, f64)> {
    let named = |names: &[&str]| table.numbers.iter().find(|c| names.contains(&c.name.as_str()));
    let mass = named(&["mass", "body_mass", "weight"]).filter(|c| c.unit.as_deref() == Some("kg"))?;
    let stature = named(&["stature", "height", "body_height"])?;
    let mm = stature.unit.as_deref().and_then(mm_per)?;
    Some((mass, stature, mm))
}

/// Bands at 18.5, 25 and 30 kg/m2 (the usual bands of the World Health Organization, from memory).
fn bmi_classes(table: &Table, people: &People) -> Vec<(usize, String)> {
    const BANDS: [&str; 4] = ["under 18.5", "18.5 to 25", "25 to 30", "30 and over"];
    let Some((mass, stature, mm)) = mass_and_stature(table) else { return Vec::new() };
    people
        .rows
        .iter()
        .map(|&r| match (mass.values.get(r).copied().flatten(), stature.values.get(r).copied().flatten()) {
            (Some(kg), Some(height)) if kg > 0.0 && height > 0.0 => {
                let index = kg / (height * mm / 1000.0).powi(2);
                let band = [18.5, 25.0, 30.0].iter().filter(|b| index >= **b).count();
                (band, BANDS[band].to_owned())
            }
            _ => (usize::MAX, "not known".to_owned()),
        })
        .collect()
}

fn of_column(
    column: &str,
    table: &Table,
    people: &People,
    assignments: &[&Assignment],
    level: f64,
) -> Result<Vec<LeftOutGroup>, SizingError> {
    let classes = if column == BMI { bmi_classes(table, people) } else { classes(column, table, people)? };
    let mut counts: BTreeMap<(usize, String), (usize, usize, f64, f64)> = BTreeMap::new();
    let mut held: BTreeMap<(usize, String), (Vec<f64>, Vec<f64>)> = BTreeMap::new();
    for (i, class) in classes.into_iter().enumerate() {
        let weight = people.weights[i];
        let (covered, weights) = held.entry(class.clone()).or_default();
        covered.push(assignments[i].covered_held_out);
        weights.push(weight);
        let count = counts.entry(class).or_default();
        count.0 += 1;
        count.2 += weight;
        if assignments[i].size.is_none() {
            count.1 += 1;
            count.3 += weight;
        }
    }
    Ok(counts
        .into_iter()
        .zip(held.into_values())
        .map(|(((_, value), (people, left_out, weight, weight_out)), (covered, weights))| {
            let held = Share::of(&covered, &weights, level);
            LeftOutGroup {
                column: column.to_owned(),
                value,
                people,
                left_out,
                share: weight_out / weight,
                coverage_held_out: held.share,
                held_out_interval: held.interval,
                few: people < FEW,
            }
        })
        .collect())
}

/// The class of everyone, with a number that orders the classes: the word; ten years of age; a third of other numbers.
fn classes(column: &str, table: &Table, people: &People) -> Result<Vec<(usize, String)>, SizingError> {
    const UNKNOWN: &str = "not known";
    let words = text(table, column, "describing column")?;
    let of_row = |row: usize| words[row].trim();
    let Ok(numbers) = table.number(column) else {
        let class =
            |row| if of_row(row).is_empty() { (1, UNKNOWN.to_owned()) } else { (0, of_row(row).to_owned()) };
        return Ok(people.rows.iter().map(|&row| class(row)).collect());
    };
    let unknown = || (usize::MAX, UNKNOWN.to_owned());
    let known: Vec<f64> =
        people.rows.iter().filter_map(|&row| numbers.values[row].filter(|v| v.is_finite())).collect();
    if numbers.name == "age" {
        let band = |age: f64| {
            let decade = (age / 10.0).floor().clamp(1.0, 8.0) as usize;
            let name = match decade {
                1 => "under 20".to_owned(),
                8 => "80 and over".to_owned(),
                d => format!("{}-{}", 10 * d, 10 * d + 9),
            };
            (decade, name)
        };
        return Ok(people
            .rows
            .iter()
            .map(|&r| numbers.values[r].filter(|v| v.is_finite()).map_or_else(unknown, band))
            .collect());
    }
    let mut distinct = known.clone();
    distinct.sort_by(f64::total_cmp);
    distinct.dedup();
    let third = |p: f64| quantile(&known, None, p).unwrap_or(f64::NAN);
    let (low, high) = (third(1.0 / 3.0), third(2.0 / 3.0));
    let class = |value: f64| {
        if distinct.len() <= MOST_CLASSES {
            (distinct.partition_point(|d| *d < value), value.to_string())
        } else if value <= low {
            (0, format!("lowest third, to {low:.4}"))
        } else if value <= high {
            (1, format!("middle third, to {high:.4}"))
        } else {
            (2, format!("highest third, over {high:.4}"))
        }
    };
    Ok(people
        .rows
        .iter()
        .map(|&r| numbers.values[r].filter(|v| v.is_finite()).map_or_else(unknown, class))
        .collect())
}
