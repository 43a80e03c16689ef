//! The sizes of one group with their wearers.

use std::collections::BTreeMap;

use formkin_stats::interval::n_eff;
use formkin_stats::moments::{mean, sd};
use formkin_stats::quantile::{median, quantile};
use formkin_table::{NumberColumn, Table};

use crate::axes::{Axis, Place, nearest};
use crate::change::{gaps, one_more, shared, shift};
use crate::coverage::{Share, covered};
use crate::fit_model::{Wearer, fit_model};
use crate::grading::rule;
use crate::job::Job;
use crate::length::mm_per;
use crate::methods::Found;
use crate::people::People;
use crate::{Assignment, GroupSystem, Miss, OneMore, Plan, Range, Secondary, Size};

/// The columns beside the axes.
pub(crate) struct Columns<'a> {
    pub(crate) table: &'a Table,
    pub(crate) secondary: Vec<&'a NumberColumn>,
    pub(crate) fit: Vec<&'a NumberColumn>,
    /// Further limits: column, below, above.
    pub(crate) limits: Vec<(&'a NumberColumn, f64, f64)>,
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

    /// Names of the sizes of a group.
    pub(crate) fn names(&self, group: usize, sizes: usize) -> Vec<String> {
        (0..sizes).map(|s| self.name(group, s, sizes)).collect()
    }

    fn name(&self, group: usize, size: usize, sizes: usize) -> String {
        let width = sizes.to_string().len();
        format!("{}-{:0width$}", self.stems[group], size + 1)
    }
}

/// Puts the group together. Assignments are in the order of the job's members.
#[expect(clippy::too_many_lines, reason = "one result filled part by part from the same people")]
pub(crate) fn group_system(
    plan: &Plan,
    job: &Job,
    people: &People,
    columns: &Columns,
    names: &[String],
    found: &Found,
    held_out: &[f64],
) -> GroupSystem {
    let axes = &people.axes;
    let centres = &found.places;
    let mut worn = Vec::with_capacity(job.points.len());
    let all: Vec<Wearer> =
        job.members.iter().map(|&i| Wearer { row: people.rows[i], weight: people.weights[i] }).collect();
    let mut wearers: Vec<Vec<Wearer>> = vec![Vec::new(); centres.len()];
    let mut assignments = Vec::with_capacity(all.len());
    let (mut loss_mm, mut total) = (0.0, 0.0);
    for (place, point) in job.points.iter().enumerate() {
        let (size, misfit) = nearest(point, centres);
        if misfit.covers() {
            wearers[size].push(all[place]);
        }
        worn.push(misfit.covers().then_some(size));
        loss_mm += all[place].weight * distance_mm(point, &centres[size].centre, axes);
        total += all[place].weight;
        assignments.push(Assignment {
            id: columns.table.ids[all[place].row].clone(),
            size: misfit.covers().then(|| names[size].clone()),
            nearest: names[size].clone(),
            borderline: borderline(point, &centres[size], axes, plan.borderline_mm),
            loss: misfit.largest,
            suits_all: None,
            misses: misses(point, &centres[size], axes),
            covered_held_out: held_out[place],
            weight: all[place].weight,
        });
    }
    suit(&mut assignments, &worn, &wearers, &all, columns);
    let shares_of = shared(&job.points, &job.weights, centres, &worn);
    let within = covered(&job.points, centres);
    let sizes: Vec<Size> = (0..centres.len())
        .map(|s| {
            // a sum of nothing is -0
            let share = (wearers[s].iter().map(|w| w.weight).sum::<f64>() / total).abs();
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
                    .zip(&centres[s].centre)
                    .map(|(a, v)| (a.info.dimension.clone(), *v))
                    .collect::<BTreeMap<_, _>>(),
                ranges: (0..axes.len()).map(|j| range(&axes[j], &centres[s], j)).collect(),
                designation: designation(axes, &centres[s]),
                only: shares_of[s].only / total,
                overlap: if share > 0.0 { shares_of[s].both / (share * total) } else { 0.0 },
                stability: None,
                secondary: columns.secondary.iter().map(|c| secondary(c, &wearers[s])).collect(),
                n: wearers[s].len(),
                share,
                flags,
                fit_model,
                fit_deviations: fit_deviations.unwrap_or_default(),
            }
        })
        .collect();
    let in_sample = Share::of(&within, &job.weights, plan.level);
    let grading = columns.secondary.iter().filter_map(|c| rule(c, job, people, axes, centres)).collect();
    let value = |centre: &[f64]| -> BTreeMap<String, f64> {
        axes.iter().zip(centre).map(|(a, v)| (a.info.dimension.clone(), *v)).collect()
    };
    let more = one_more(&job.points, &job.weights, &within, axes)
        .map(|(place, gain)| OneMore { centre: value(&place.centre), gain: gain / total });
    let shift = shift(&job.points, &job.weights, centres);
    let shifted: Vec<Place> = centres.iter().map(|p| p.moved(&shift)).collect();
    let coverage_shifted = Share::of(&covered(&job.points, &shifted), &job.weights, plan.level).share;
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
        ceiling: None,
        method_bound: found.bound.map(|b| (b / total).min(1.0)),
        search_nodes: found.nodes,
        rules: found.rules.clone(),
        resampled: None,
        grading,
        one_more: more,
        shift: value(&shift),
        coverage_shifted,
        gaps: gaps(&job.points, &job.weights, &within, centres, axes),
    }
}

fn range(axis: &Axis, place: &Place, j: usize) -> Range {
    let info = &axis.info;
    let centre = place.centre[j];
    Range {
        dimension: info.dimension.clone(),
        unit: info.unit.clone(),
        low: centre - place.below[j],
        centre,
        high: centre + place.above[j],
    }
}

/// The wearer's range in every control dimension, lengths in cm: `chest girth 92-104 cm, stature 171-181 cm`.
pub(crate) fn designation(axes: &[Axis], place: &Place) -> String {
    let parts = axes.iter().enumerate().map(|(j, axis)| {
        let unit = axis.info.unit.as_deref();
        let (factor, shown) = match unit.and_then(mm_per) {
            Some(mm) => (mm / 10.0, " cm".to_owned()),
            None => (1.0, unit.map_or_else(String::new, |u| format!(" {u}"))),
        };
        let number = |v: f64| {
            let rounded = (v * factor * 10.0).round() / 10.0;
            format!("{rounded}")
        };
        let (low, high) = (place.centre[j] - place.below[j], place.centre[j] + place.above[j]);
        format!("{} {}-{}{shown}", axis.info.dimension.replace('_', " "), number(low), number(high))
    });
    parts.collect::<Vec<_>>().join(", ")
}

/// Who suits their size also in the further limits: within so much of the mean of all wearers of the size.
fn suit(
    assignments: &mut [Assignment],
    worn: &[Option<usize>],
    wearers: &[Vec<Wearer>],
    all: &[Wearer],
    columns: &Columns,
) {
    if columns.limits.is_empty() {
        return;
    }
    let means: Vec<Vec<Option<f64>>> = wearers
        .iter()
        .map(|w| columns.limits.iter().map(|(c, _, _)| secondary(c, w).mean).collect())
        .collect();
    for (place, assignment) in assignments.iter_mut().enumerate() {
        let Some(size) = worn[place] else { continue };
        let within = columns.limits.iter().zip(&means[size]).map(|((c, below, above), mean)| {
            let away = c.values[all[place].row].filter(|v| v.is_finite())? - (*mean)?;
            Some((-below..=*above).contains(&away))
        });
        assignment.suits_all = within.collect::<Option<Vec<bool>>>().map(|all| all.into_iter().all(|w| w));
    }
}

/// Fewest wearers for the percentiles at the ends (common practice: three beyond the limit).
const ENDS_FROM: usize = 60;

fn secondary(column: &NumberColumn, wearers: &[Wearer]) -> Secondary {
    let (values, weights): (Vec<f64>, Vec<f64>) = wearers
        .iter()
        .filter_map(|p| column.values[p.row].filter(|v| v.is_finite()).map(|v| (v, p.weight)))
        .unzip();
    let end =
        |p: f64| (values.len() >= ENDS_FROM).then(|| quantile(&values, Some(&weights), p).ok()).flatten();
    Secondary {
        dimension: column.name.clone(),
        unit: column.unit.clone(),
        mean: mean(&values, Some(&weights)).ok(),
        sd: sd(&values, Some(&weights)).ok(),
        p5: end(0.05),
        p50: median(&values, Some(&weights)).ok(),
        p95: end(0.95),
        n: values.len(),
    }
}

fn misses(point: &[f64], place: &Place, axes: &[Axis]) -> Vec<Miss> {
    axes.iter()
        .enumerate()
        .filter_map(|(j, a)| {
            let by = place.miss(j, point[j])?;
            Some(Miss { dimension: a.info.dimension.clone(), unit: a.info.unit.clone(), by })
        })
        .collect()
}

/// Whether `within_mm` decide: for a wearer, the distance from any limit; for someone without a size, every miss.
pub(crate) fn borderline(point: &[f64], place: &Place, axes: &[Axis], within_mm: f64) -> bool {
    let near = |j: usize| axes[j].mm.is_some_and(|mm| place.to_limit(j, point[j]) * mm <= within_mm + 1e-9);
    let missed: Vec<usize> = (0..axes.len()).filter(|&j| place.miss(j, point[j]).is_some()).collect();
    if missed.is_empty() { (0..axes.len()).any(near) } else { missed.into_iter().all(near) }
}

fn distance_mm(point: &[f64], centre: &[f64], axes: &[Axis]) -> f64 {
    let square = |j: usize| axes[j].mm.map_or(0.0, |mm| ((point[j] - centre[j]) * mm).powi(2));
    (0..axes.len()).map(square).sum::<f64>().sqrt()
}
