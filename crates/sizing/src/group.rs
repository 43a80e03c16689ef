//! The sizes of one group with their wearers.

use std::collections::BTreeMap;

use formkin_measure::{NumberColumn, Table};
use formkin_stats::interval::n_eff;
use formkin_stats::moments::{mean, sd};

use crate::axes::{Axis, nearest};
use crate::coverage::{Share, covered};
use crate::derive::Job;
use crate::fit_model::{Wearer, fit_model};
use crate::people::People;
use crate::{Assignment, GroupSystem, Miss, Plan, Range, Secondary, Size};

/// The columns beside the axes.
pub(crate) struct Columns<'a> {
    pub(crate) table: &'a Table,
    pub(crate) secondary: Vec<&'a NumberColumn>,
    pub(crate) fit: Vec<&'a NumberColumn>,
}

/// How sizes are called: the group, a hyphen, a number from the smallest. Without a group column `size` stands for the group.
pub(crate) struct Naming {
    stems: Vec<String>,
}

impl Naming {
    /// Letters, digits, `.` and `_` of a group's name stay, so that a size's name can be a file's; groups that would then be called the same
    /// get a number.
    pub(crate) fn of(plan: &Plan, groups: &[String]) -> Self {
        if plan.by.is_none() {
            return Self { stems: vec!["size".to_owned(); groups.len()] };
        }
        let plain = |g: &String| -> String {
            g.chars().map(|c| if c.is_alphanumeric() || c == '_' || c == '.' { c } else { '-' }).collect()
        };
        let stems: Vec<String> = groups.iter().map(plain).collect();
        let same = |stem: &String| stems.iter().filter(|s| *s == stem).count() > 1;
        let numbered = |(i, s): (usize, &String)| if same(s) { format!("{s}.{}", i + 1) } else { s.clone() };
        Self { stems: stems.iter().enumerate().map(numbered).collect() }
    }

    fn name(&self, group: usize, size: usize, sizes: usize) -> String {
        let width = sizes.to_string().len();
        format!("{}-{:0width$}", self.stems[group], size + 1)
    }
}

/// Puts the group together. Assignments are in the order of the job's members.
pub(crate) fn group_system(
    plan: &Plan,
    job: &Job,
    people: &People,
    columns: &Columns,
    naming: &Naming,
    centres: &[Vec<f64>],
    held_out: &[f64],
) -> GroupSystem {
    let axes = &people.axes;
    let names: Vec<String> = (0..centres.len()).map(|s| naming.name(job.group, s, centres.len())).collect();
    let all: Vec<Wearer> =
        job.members.iter().map(|&i| Wearer { row: people.rows[i], weight: people.weights[i] }).collect();
    let mut wearers: Vec<Vec<Wearer>> = vec![Vec::new(); centres.len()];
    let mut assignments = Vec::with_capacity(all.len());
    let (mut loss_mm, mut total) = (0.0, 0.0);
    for (place, point) in job.points.iter().enumerate() {
        let (size, misfit) = nearest(point, centres, axes);
        if misfit.covers() {
            wearers[size].push(all[place]);
        }
        loss_mm += all[place].weight * distance_mm(point, &centres[size], axes);
        total += all[place].weight;
        assignments.push(Assignment {
            id: columns.table.ids[all[place].row].clone(),
            size: misfit.covers().then(|| names[size].clone()),
            nearest: names[size].clone(),
            borderline: borderline(point, &centres[size], axes, plan.borderline_mm),
            loss: misfit.largest,
            misses: misses(point, &centres[size], axes),
            covered_held_out: held_out[place],
            weight: all[place].weight,
        });
    }
    let sizes = (0..centres.len())
        .map(|s| {
            let share = wearers[s].iter().map(|w| w.weight).sum::<f64>() / total;
            let mut flags = Vec::new();
            if share < plan.sizes.min_share {
                flags.push("rare".to_owned());
            }
            if wearers[s].len() < plan.sizes.min_people {
                flags.push("few-people".to_owned());
            }
            let (fit_model, fit_deviations) = fit_model(&wearers[s], &all, &columns.fit)
                .map(|(row, deviations)| (columns.table.ids[row].clone(), deviations))
                .unzip();
            Size {
                name: names[s].clone(),
                group: job.name.to_owned(),
                centre: axes
                    .iter()
                    .zip(&centres[s])
                    .map(|(a, v)| (a.info.dimension.clone(), *v))
                    .collect::<BTreeMap<_, _>>(),
                ranges: axes.iter().zip(&centres[s]).map(|(a, v)| range(a, *v)).collect(),
                secondary: columns.secondary.iter().map(|c| secondary(c, &wearers[s])).collect(),
                n: wearers[s].len(),
                share,
                flags,
                fit_model,
                fit_deviations: fit_deviations.unwrap_or_default(),
            }
        })
        .collect();
    let in_sample = Share::of(&covered(&job.points, centres, axes), &job.weights, plan.level);
    let held = Share::of(held_out, &job.weights, plan.level);
    GroupSystem {
        group: job.name.to_owned(),
        people: job.points.len(),
        effective_people: n_eff(&job.weights),
        sizes,
        assignments,
        coverage_in_sample: in_sample.share,
        coverage_in_sample_interval: in_sample.interval,
        coverage_held_out: held.share,
        held_out_interval: held.interval,
        aggregate_loss_mm: axes.iter().any(|a| a.mm.is_some()).then(|| loss_mm / total),
        curve: Vec::new(),
    }
}

fn range(axis: &Axis, centre: f64) -> Range {
    let info = &axis.info;
    Range {
        dimension: info.dimension.clone(),
        unit: info.unit.clone(),
        low: centre - info.below,
        centre,
        high: centre + info.above,
    }
}

fn secondary(column: &NumberColumn, wearers: &[Wearer]) -> Secondary {
    let (values, weights): (Vec<f64>, Vec<f64>) = wearers
        .iter()
        .filter_map(|p| column.values[p.row].filter(|v| v.is_finite()).map(|v| (v, p.weight)))
        .unzip();
    Secondary {
        dimension: column.name.clone(),
        unit: column.unit.clone(),
        mean: mean(&values, Some(&weights)).ok(),
        sd: sd(&values, Some(&weights)).ok(),
        n: values.len(),
    }
}

fn misses(point: &[f64], centre: &[f64], axes: &[Axis]) -> Vec<Miss> {
    axes.iter()
        .enumerate()
        .filter_map(|(j, a)| {
            let by = a.miss(point[j], centre[j])?;
            Some(Miss { dimension: a.info.dimension.clone(), unit: a.info.unit.clone(), by })
        })
        .collect()
}

/// Whether `within_mm` decide: for a wearer, the distance from any limit; for someone without a size, every miss.
fn borderline(point: &[f64], centre: &[f64], axes: &[Axis], within_mm: f64) -> bool {
    let near = |j: usize| {
        axes[j].mm.is_some_and(|mm| axes[j].to_limit(point[j], centre[j]) * mm <= within_mm + 1e-9)
    };
    let missed: Vec<usize> =
        (0..axes.len()).filter(|&j| axes[j].miss(point[j], centre[j]).is_some()).collect();
    if missed.is_empty() { (0..axes.len()).any(near) } else { missed.into_iter().all(near) }
}

fn distance_mm(point: &[f64], centre: &[f64], axes: &[Axis]) -> f64 {
    let square = |j: usize| axes[j].mm.map_or(0.0, |mm| ((point[j] - centre[j]) * mm).powi(2));
    (0..axes.len()).map(square).sum::<f64>().sqrt()
}
