//! A size chart as given, and evaluating it on people.

use formkin_stats::interval::{design_effect, n_eff, normal_quantile};
use formkin_table::Table;
use serde::{Deserialize, Serialize};

use crate::axes::{Place, by_value};
use crate::coverage::{Share, covered};
use crate::fault::ChartFault;
use crate::group::group_system;
use crate::job::Job;
use crate::methods::Found;
use crate::movement::{drawn_in, narrowed};
use crate::notes::cautions;
use crate::people::People;
use crate::{Allowance, Control, Count, InMovement, Plan, SizeSystem, SizingError};

/// A size chart: sizes with the wearer's range in every control dimension, in the units of its columns.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Chart {
    /// The control dimensions with their units.
    pub controls: Vec<(String, Option<String>)>,
    /// The sizes.
    pub sizes: Vec<ChartSize>,
    /// Other dimensions of which the chart has means and standard deviations, with their units.
    pub secondary: Vec<(String, Option<String>)>,
}

/// A size of a chart.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ChartSize {
    /// Its name.
    pub name: String,
    /// Its group, if the chart has groups.
    pub group: Option<String>,
    /// Low, value and high in every control dimension.
    pub ranges: Vec<[f64; 3]>,
    /// Mean and standard deviation in every secondary dimension, where known.
    pub secondary: Vec<Option<(f64, f64)>>,
}

impl Chart {
    /// Reads a chart from a table with columns `size`, `group` (optional), per control dimension `D_low_U`, `D_high_U` and perhaps `D_centre_U`, and perhaps `D_mean_U` and `D_sd_U` of others: what
    /// [`chart_sheet`](crate::chart_sheet) makes, or a maker's own chart.
    ///
    /// # Errors
    /// [`SizingError::Chart`] for no sizes, no ranges, ranges without a value or upside down, and sizes that have one name.
    pub fn of(table: &Table) -> Result<Self, SizingError> {
        let column = |name: &str| table.numbers.iter().find(|c| c.name == name);
        let mut controls = Vec::new();
        let mut columns = Vec::new();
        let mut others = Vec::new();
        for low in &table.numbers {
            if let Some(dimension) = low.name.strip_suffix("_low") {
                let Some(high) = column(&format!("{dimension}_high")) else {
                    let (low, dimension) = (low.name.clone(), dimension.to_owned());
                    return Err(ChartFault::NoUpperLimits { low, dimension }.into());
                };
                if high.unit != low.unit {
                    let (low, high) = (low.name.clone(), high.name.clone());
                    return Err(ChartFault::Units { low, high }.into());
                }
                controls.push((dimension.to_owned(), low.unit.clone()));
                columns.push((low, column(&format!("{dimension}_centre")), high));
            } else if let Some(dimension) = low.name.strip_suffix("_mean")
                && let Some(sd) = column(&format!("{dimension}_sd"))
            {
                others.push(((dimension.to_owned(), low.unit.clone()), low, sd));
            }
        }
        if controls.is_empty() || table.ids.is_empty() {
            return Err(ChartFault::Empty.into());
        }
        let groups = table.texts.iter().find(|t| t.name == "group");
        let mut sizes = Vec::with_capacity(table.ids.len());
        for (row, name) in table.ids.iter().enumerate() {
            let mut ranges = Vec::with_capacity(columns.len());
            for ((low, centre, high), (dimension, _)) in columns.iter().zip(&controls) {
                let (Some(l), Some(h)) = (low.values[row], high.values[row]) else {
                    let (size, dimension) = (name.clone(), dimension.clone());
                    return Err(ChartFault::NoLimits { size, dimension }.into());
                };
                let c = centre.and_then(|c| c.values[row]).unwrap_or((l + h) / 2.0);
                if !(l < c && c < h) {
                    let (size, dimension, values) = (name.clone(), dimension.clone(), [l, c, h]);
                    return Err(ChartFault::NotAscending { size, dimension, values }.into());
                }
                ranges.push([l, c, h]);
            }
            sizes.push(ChartSize {
                name: name.clone(),
                group: groups.map(|g| g.values[row].trim().to_owned()),
                ranges,
                secondary: others.iter().map(|(_, m, sd)| m.values[row].zip(sd.values[row])).collect(),
            });
        }
        let mut names: Vec<&str> = table.ids.iter().map(String::as_str).collect();
        names.sort_unstable();
        if let Some(twice) = names.windows(2).find(|n| n[0] == n[1]) {
            return Err(ChartFault::Twice { size: twice[0].to_owned() }.into());
        }
        Ok(Self { controls, sizes, secondary: others.into_iter().map(|o| o.0).collect() })
    }

    /// Of a system that was derived, with all its digits.
    #[must_use]
    pub fn of_system(system: &SizeSystem) -> Self {
        let all = || system.groups.iter().flat_map(|g| &g.sizes);
        let secondary = all().next().map_or_else(Vec::new, |s| {
            s.secondary.iter().map(|d| (d.dimension.clone(), d.unit.clone())).collect()
        });
        Self {
            controls: system.controls.iter().map(|c| (c.dimension.clone(), c.unit.clone())).collect(),
            sizes: all()
                .map(|s| ChartSize {
                    name: s.name.clone(),
                    group: system.plan.by.is_some().then(|| s.group.clone()),
                    ranges: s.ranges.iter().map(|r| [r.low, r.centre, r.high]).collect(),
                    secondary: s.secondary.iter().map(|d| d.mean.zip(d.sd)).collect(),
                })
                .collect(),
            secondary,
        }
    }

    /// The groups of the chart, ascending.
    pub(crate) fn groups(&self) -> Vec<&str> {
        let mut groups: Vec<&str> = self.sizes.iter().filter_map(|s| s.group.as_deref()).collect();
        groups.sort_unstable();
        groups.dedup();
        groups
    }

    /// The first column of words of a table that are all groups of the chart; None where the chart has at most one group.
    #[must_use]
    pub fn group_column(&self, table: &Table) -> Option<String> {
        let groups = self.groups();
        let of_groups = |values: &[String]| {
            let mut words = values.iter().map(|v| v.trim()).filter(|v| !v.is_empty()).peekable();
            words.peek().is_some() && words.all(|w| groups.contains(&w))
        };
        let found = table.texts.iter().find(|t| of_groups(&t.values)).filter(|_| groups.len() > 1);
        found.map(|t| t.name.clone())
    }

    /// A plan for people to be tried on the chart: its dimensions, and of `base` what does not derive sizes.
    pub(crate) fn plan(&self, base: Option<&Plan>) -> Plan {
        let controls = self
            .controls
            .iter()
            .enumerate()
            .map(|(j, (dimension, unit))| {
                let [low, centre, high] = self.sizes[0].ranges[j];
                let control = Control::new(dimension.clone(), centre - low, high - centre);
                Control { unit: unit.clone(), allowance: self.allowance(base, j), ..control }
            })
            .collect();
        let plan = Plan::new(controls, Count::Each(1));
        match base {
            None => plan,
            Some(base) => Plan {
                title: base.title.clone(),
                by: base.by.clone(),
                secondary: base.secondary.clone(),
                fit: base.fit.clone(),
                participant: base.participant.clone(),
                weights: base.weights.clone(),
                describe: base.describe.clone(),
                missing: base.missing,
                borderline_mm: base.borderline_mm,
                level: base.level,
                protective: base.protective,
                precision: base.precision,
                margin: base.margin.clone(),
                weight_cap: base.weight_cap,
                limit: base.limit.clone(),
                ..plan
            },
        }
    }

    /// The allowance of `base` for control dimension number `j`, in the chart's unit.
    fn allowance(&self, base: Option<&Plan>, j: usize) -> Option<Allowance> {
        let (dimension, unit) = &self.controls[j];
        let of = base?.control.iter().find(|c| c.dimension == *dimension)?;
        let mm = |unit: &Option<String>| unit.as_deref().and_then(crate::length::mm_per);
        let factor = mm(&of.unit).zip(mm(unit)).map_or(1.0, |(of, own)| of / own);
        let a = of.allowance?;
        Some(Allowance { grows: a.grows * factor, shrinks: a.shrinks * factor })
    }

    /// The sizes for a group in the units of the axes, ascending, with their numbers in the chart.
    pub(crate) fn places(&self, group: Option<&str>, people: &People) -> Vec<(usize, Place)> {
        let mut places: Vec<(usize, Place)> = self
            .sizes
            .iter()
            .enumerate()
            .filter(|(_, s)| group.is_none() || s.group.as_deref() == group)
            .map(|(number, size)| {
                let factors = people.axes.iter().zip(&self.controls).map(|(axis, (_, unit))| {
                    let own = unit.as_deref().and_then(crate::length::mm_per);
                    own.zip(axis.mm).map_or(1.0, |(own, axis)| own / axis)
                });
                let ranges: Vec<[f64; 3]> =
                    size.ranges.iter().zip(factors).map(|(r, f)| r.map(|v| v * f)).collect();
                let place = Place {
                    centre: ranges.iter().map(|r| r[1]).collect(),
                    below: ranges.iter().map(|r| r[1] - r[0]).collect(),
                    above: ranges.iter().map(|r| r[2] - r[1]).collect(),
                    half_open: false,
                };
                (number, place)
            })
            .collect();
        places.sort_by(|a, b| by_value(&a.1, &b.1));
        places
    }

    /// Whom the chart fits: coverage, who is left out, shares, overlap, what a size more or fewer would do and how the sizes would have to shift. Nothing is derived, so that in-sample and held-out
    /// coverage are the same. `base` gives group column, weights, margins, further limits and the columns by which people are counted.
    ///
    /// # Errors
    /// As [`Plan::derive`] for the table; [`SizingError::Chart`] where the chart's groups and the people's differ.
    #[expect(clippy::too_many_lines, reason = "one result filled from a chart, part by part")]
    pub fn evaluate(&self, table: &Table, base: Option<&Plan>) -> Result<SizeSystem, SizingError> {
        let mut plan = self.plan(base);
        let groups = self.groups();
        let several = groups.len() > 1;
        if several && plan.by.is_none() {
            // The column whose words are the chart's groups.
            plan.by = self.group_column(table);
            if plan.by.is_none() {
                return Err(ChartFault::NoGroupColumn { groups: owned(&groups) }.into());
            }
        }
        plan.check()?;
        let people = People::of(&plan, table)?;
        let columns = plan.beside(table, &people)?;
        let counts = vec![1; people.groups.len()];
        let jobs = Job::all(&people, &counts);
        let mut made = Vec::new();
        let mut hits = vec![0.0; people.rows.len()];
        let mut moving = vec![0.0; people.rows.len()];
        for job in &jobs {
            let group = (several && plan.by.is_some()).then_some(job.name);
            let places = self.places(group, &people);
            if places.is_empty() {
                let (group, groups) = (job.name.to_owned(), owned(&groups));
                return Err(ChartFault::NoSizeFor { group, groups }.into());
            }
            let names: Vec<String> = places.iter().map(|(n, _)| self.sizes[*n].name.clone()).collect();
            let found = Found { places: places.into_iter().map(|p| p.1).collect(), ..Found::default() };
            let within = covered(&job.points, &found.places);
            made.push(group_system(&plan, job, &people, &columns, &names, &found, &within));
            let drawn: Vec<Place> = found.places.iter().filter_map(|p| drawn_in(p, &people.axes)).collect();
            let in_movement = covered(&job.points, &drawn);
            for (place, &person) in job.members.iter().enumerate() {
                hits[person] = within[place];
                moving[person] = in_movement[place];
            }
        }
        // nothing is derived, and so nothing is held out
        let movement = narrowed(&people.axes).map(|_| {
            let moving = Share::of(&moving, &people.weights, plan.level);
            InMovement {
                coverage_in_sample: moving.share,
                coverage_held_out: moving.share,
                held_out_interval: moving.interval,
                sizes_needed: None,
            }
        });
        let share = Share::of(&hits, &people.weights, plan.level);
        let left_out = plan.in_order(table, &people, &jobs, &mut made)?;
        let total: f64 = people.weights.iter().sum();
        let suits = made
            .iter()
            .flat_map(|g| &g.assignments)
            .filter(|a| a.suits_all == Some(true))
            .map(|a| a.weight)
            .sum::<f64>();
        let z = normal_quantile(plan.level);
        let p = share.share.clamp(plan.precision, 1.0 - plan.precision);
        let deff = design_effect(&people.weights);
        let mut notes = vec![
            "The sizes were given, not derived: coverage is that of these people, and no sizes were fitted to them.".to_owned(),
            "The intervals allow for the chance of who was measured, if these people are a random sample of the wearers.".to_owned(),
        ];
        if let [only] = groups[..] {
            notes.push(format!("All sizes of the chart are for `{only}`, and they were tried on everyone in the table: leave others out of it if they are not meant."));
        }
        notes.extend(plan.margin.iter().filter_map(crate::MarginPlan::note));
        Ok(SizeSystem {
            given: true,
            people: people.rows.len(),
            size_count: self.sizes.len(),
            controls: people.axes.iter().map(|a| a.info.clone()).collect(),
            coverage_in_sample: share.share,
            coverage_in_sample_interval: share.interval,
            coverage_held_out: share.share,
            held_out_interval: share.interval,
            interval_level: plan.level,
            effective_people: n_eff(&people.weights),
            design_effect: deff,
            groups: made,
            left_out,
            curve: Vec::new(),
            knee: None,
            compared: Vec::new(),
            chosen: Vec::new(),
            ceiling: None,
            resampled: None,
            coverage_all_dimensions: (!plan.limit.is_empty()).then_some((suits / total).abs()),
            people_needed: (z * z * p * (1.0 - p) / plan.precision.powi(2) * deff).ceil() as usize,
            raking: people.raking.clone(),
            movement,
            notes,
            cautions: cautions(&plan, &people, share.share),
            dropped: people.dropped,
            plan,
        })
    }
}

pub(crate) fn owned(names: &[&str]) -> Vec<String> {
    names.iter().map(|n| (*n).to_owned()).collect()
}
