//! From a plan and a table to a size system.

use formkin_measure::{NumberColumn, Table};
use formkin_stats::StatsError;
use formkin_stats::interval::{design_effect, n_eff};

use crate::axes::{Axis, lexical};
use crate::centres::{distinct, find};
use crate::coverage::{Share, covered, held_out};
use crate::curve::{Curve, curve};
use crate::group::{Columns, Naming, group_system};
use crate::left_out::left_out;
use crate::notes::{cautions, notes};
use crate::people::{People, number};
use crate::{Assignment, Plan, SizeSystem, SizingError};

/// One group while it is worked on.
pub(crate) struct Job<'a> {
    pub(crate) group: usize,
    pub(crate) name: &'a str,
    pub(crate) count: usize,
    pub(crate) members: Vec<usize>,
    pub(crate) points: Vec<&'a [f64]>,
    pub(crate) weights: Vec<f64>,
}

impl Plan {
    /// Finds the sizes, assigns everyone, and estimates how many people the sizes fit.
    ///
    /// Per group: the people's control dimensions over their tolerances are clustered (k-means), or people are chosen as sizes (the other methods);
    /// values are rounded to the plan's steps. A person takes the size from which their largest deviation over its tolerance is least (ties: the sum of
    /// squares, then the larger size), and is covered where that is at most 1: within the tolerance of one size on all control dimensions at once.
    ///
    /// Held-out coverage repeats all of this on the other folds for every fold of people, `repeats` times. Intervals are Wilson's at
    /// n_eff = (sum w)^2 / sum w^2. The result is the same for any order of the rows and any number of threads.
    ///
    /// # Errors
    /// All of [`SizingError`], for a plan out of range, columns that are missing or hold no numbers, people with several rows or without values,
    /// constant dimensions, and groups with fewer people than folds or sizes.
    pub fn derive(&self, table: &Table) -> Result<SizeSystem, SizingError> {
        self.check()?;
        let people = People::of(self, table)?;
        let counts = people.counts(self)?;
        let columns = Columns {
            table,
            secondary: self.columns(table, &self.secondary, "secondary dimension")?,
            fit: self.fit_columns(table, &people)?,
        };
        let jobs: Vec<Job> = (0..people.groups.len())
            .map(|group| {
                let members = people.members(group);
                Job {
                    group,
                    name: &people.groups[group],
                    count: counts[group],
                    points: members.iter().map(|&i| people.points[i].as_slice()).collect(),
                    weights: members.iter().map(|&i| people.weights[i]).collect(),
                    members,
                }
            })
            .collect();
        jobs.iter().try_for_each(|job| self.check_group(job, &people.axes))?;

        let naming = Naming::of(self, &people.groups);
        let mut groups = Vec::with_capacity(jobs.len());
        let mut curves = Vec::with_capacity(jobs.len());
        let mut in_sample = vec![0.0; people.rows.len()];
        let mut out_of_sample = vec![0.0; people.rows.len()];
        for job in &jobs {
            let failed = |source: StatsError| SizingError::Numbers { group: job.label(self), source };
            let centres = find(&job.points, &job.weights, &people.axes, self, job.count).map_err(failed)?;
            let within = covered(&job.points, &centres, &people.axes);
            let held = held_out(&job.points, &job.weights, &people.axes, self, job.count).map_err(failed)?;
            curves.push(curve(self, job, &people.axes, &within, &held).map_err(failed)?);
            for (place, &person) in job.members.iter().enumerate() {
                in_sample[person] = within[place];
                out_of_sample[person] = held[place];
            }
            groups.push(group_system(self, job, &people, &columns, &naming, &centres, &held));
        }
        let whole = Share::of(&in_sample, &people.weights, self.level);
        let held = Share::of(&out_of_sample, &people.weights, self.level);
        for (group, curve) in groups.iter_mut().zip(&curves) {
            group.curve = curve.points(self.level);
        }
        let overall = Curve::together(&curves).points(self.level);

        // Assignments lie by group; bring them into the order of the people.
        let mut by_person: Vec<Option<&Assignment>> = vec![None; people.rows.len()];
        for (job, group) in jobs.iter().zip(&groups) {
            for (&person, assignment) in job.members.iter().zip(&group.assignments) {
                by_person[person] = Some(assignment);
            }
        }
        let by_person: Vec<&Assignment> = by_person.into_iter().flatten().collect();
        let left_out = left_out(self, table, &people, &by_person)?;
        for (job, group) in jobs.iter().zip(&mut groups) {
            let mut order: Vec<usize> = (0..job.members.len()).collect();
            order.sort_by_key(|&i| people.rows[job.members[i]]);
            group.assignments = order.into_iter().map(|i| group.assignments[i].clone()).collect();
        }
        let mut system = SizeSystem {
            plan: self.clone(),
            people: people.rows.len(),
            size_count: groups.iter().map(|g| g.sizes.len()).sum(),
            controls: people.axes.iter().map(|a| a.info.clone()).collect(),
            coverage_in_sample: whole.share,
            coverage_in_sample_interval: whole.interval,
            coverage_held_out: held.share,
            held_out_interval: held.interval,
            interval_level: self.level,
            effective_people: n_eff(&people.weights),
            design_effect: design_effect(&people.weights),
            groups,
            left_out,
            curve: overall,
            notes: Vec::new(),
            cautions: cautions(self),
            dropped: people.dropped,
        };
        system.notes = notes(&system, &people.axes, &counts);
        Ok(system)
    }

    fn columns<'a>(
        &self,
        table: &'a Table,
        names: &[String],
        role: &'static str,
    ) -> Result<Vec<&'a NumberColumn>, SizingError> {
        let mut columns: Vec<&NumberColumn> = Vec::new();
        for name in names {
            let column = number(table, name, role)?;
            if !columns.iter().any(|c| c.name == column.name) {
                columns.push(column);
            }
        }
        Ok(columns)
    }

    /// The fit dimensions; where the plan names none, the control dimensions and then the secondary ones.
    fn fit_columns<'a>(
        &self,
        table: &'a Table,
        people: &People,
    ) -> Result<Vec<&'a NumberColumn>, SizingError> {
        if !self.fit.is_empty() {
            return self.columns(table, &self.fit, "fit dimension");
        }
        let controls = people.axes.iter().map(|a| a.info.dimension.clone());
        let names: Vec<String> = controls.chain(self.secondary.iter().cloned()).collect();
        self.columns(table, &names, "fit dimension")
    }

    fn check_group(&self, job: &Job, axes: &[Axis]) -> Result<(), SizingError> {
        let people = job.points.len();
        let group = job.label(self);
        if people < self.folds {
            return Err(SizingError::TooFewForFolds { group, people, folds: self.folds });
        }
        let fitted = job.fitted(self);
        let distinct = distinct(&job.points);
        if job.count > distinct.min(fitted) {
            return Err(SizingError::TooManySizes { group, sizes: job.count, people, distinct, fitted });
        }
        for (j, axis) in axes.iter().enumerate() {
            let mut values: Vec<[f64; 1]> = job.points.iter().map(|p| [p[j]]).collect();
            values.sort_by(|a, b| lexical(a, b));
            if let (Some(least), Some(greatest)) = (values.first(), values.last())
                && least == greatest
            {
                let dimension = axis.info.dimension.clone();
                return Err(SizingError::Constant { dimension, group, value: least[0] });
            }
        }
        Ok(())
    }
}

impl Job<'_> {
    /// The group in words.
    pub(crate) fn label(&self, plan: &Plan) -> String {
        match &plan.by {
            Some(by) => format!("group `{}` of `{by}`", self.name),
            None => "the table".to_owned(),
        }
    }

    /// People left to fit on where the largest fold is held out.
    pub(crate) fn fitted(&self, plan: &Plan) -> usize {
        let people = self.points.len();
        people - people.div_ceil(plan.folds)
    }
}
