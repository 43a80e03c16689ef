//! A plan and a table -> a size system.

use std::collections::BTreeMap;

use formkin_stats::StatsError;
use formkin_stats::interval::{design_effect, n_eff, normal_quantile};
use formkin_table::{NumberColumn, Table};

use crate::axes::{Axis, Place, lexical, nearest};
use crate::bootstrap::{self, resamples};
use crate::choosing::chosen;
use crate::coverage::{Share, covered, held_out};
use crate::curve::{Curve, curve};
use crate::group::{Columns, Naming, group_system};
use crate::job::Job;
use crate::left_out::left_out;
use crate::methods::{Effort, Found, MANY, Problem, Reach, distinct};
use crate::movement::{MOST_TIMES, drawn_in, narrowed};
use crate::notes::{cautions, notes};
use crate::people::{People, number};
use crate::{
    Assignment, GroupSystem, InMovement, LeftOut, Method, MethodCurve, Plan, SizeSystem, SizingError,
};

/// Most nodes of the search for greatest coverage in a fold; none where people are many.
const FOLD_NODES: usize = 25;

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
    #[expect(clippy::too_many_lines, reason = "one result filled group by group, part by part")]
    pub fn derive(&self, table: &Table) -> Result<SizeSystem, SizingError> {
        self.check()?;
        let people = People::of(self, table)?;
        let counts = people.counts(self)?;
        let columns = self.beside(table, &people)?;
        let mut jobs = Job::all(&people, &counts);
        jobs.iter().try_for_each(|job| self.check_group(job, &people.axes))?;

        let naming = Naming::of(self, &people.groups);
        let mut groups = Vec::with_capacity(jobs.len());
        let mut curves = Vec::with_capacity(jobs.len());
        let mut drawn = Vec::with_capacity(jobs.len());
        let mut compared: BTreeMap<Method, Vec<Curve>> = BTreeMap::new();
        let mut in_sample = vec![0.0; people.rows.len()];
        let mut out_of_sample = vec![0.0; people.rows.len()];
        let mut ceiling_weight = Some(0.0);
        let effort = Effort { starts: self.starts, nodes: self.search_nodes };
        let folds = Effort { starts: self.starts, nodes: self.fold_nodes(people.rows.len()) };
        let mut moving = Moving::of(&people.axes, people.rows.len());
        let mut left = Vec::with_capacity(jobs.len());
        for job in &jobs {
            let failed = |source: StatsError| SizingError::Numbers { group: job.label(self), source };
            let problem = Problem::new(&job.points, &job.shape, &people.axes, self, self.method);
            let (count, found) = self.enough_people(&problem, job, effort).map_err(failed)?;
            left.push(count);
            let within = covered(&job.points, &found.places);
            let held = held_out(&problem, &job.weights, count, self.repeats, folds).map_err(failed)?;
            let ceiling = Reach::ceiling(&job.points, &people.axes);
            let own = Some((count, within.as_slice(), held.as_slice()));
            curves.push(curve(&problem, job, self.curve, own, ceiling.as_ref()).map_err(failed)?);
            for &method in &self.compare {
                let range = Some(self.curve.unwrap_or([count, count]));
                let made = if method == self.method {
                    curve(&problem, job, range, own, None)
                } else {
                    let other = Problem::new(&job.points, &job.shape, &people.axes, self, method);
                    curve(&other, job, range, None, None)
                };
                compared.entry(method).or_default().push(made.map_err(failed)?);
            }
            for (place, &person) in job.members.iter().enumerate() {
                in_sample[person] = within[place];
                out_of_sample[person] = held[place];
            }
            let names = naming.names(job.group, found.places.len());
            let mut group = group_system(self, job, &people, &columns, &names, &found, &held);
            let total: f64 = job.weights.iter().sum();
            let known = group.coverage_in_sample * total;
            let most =
                ceiling.map(|c| c.coverage.bound(&job.weights, count, known)).transpose().map_err(failed)?;
            group.ceiling = most.map(|m| (m.max(known) / total).min(1.0));
            ceiling_weight = ceiling_weight.zip(group.ceiling).map(|(sum, share)| sum + share * total);
            if self.bootstrap > 0 {
                let made = resamples(&problem, &job.weights, count, &found.places, folds).map_err(failed)?;
                group.resampled = bootstrap::summary(&made, group.coverage_held_out, self.level);
                for (s, size) in group.sizes.iter_mut().enumerate() {
                    size.stability = bootstrap::stability(&made, s);
                }
                drawn.push(made);
            }
            if let Some(moving) = &mut moving {
                moving.group(self, job, &people.axes, &found.places, count).map_err(failed)?;
            }
            groups.push(group);
        }
        jobs.iter_mut().zip(left).for_each(|(job, count)| job.count = count);
        let whole = Share::of(&in_sample, &people.weights, self.level);
        let held = Share::of(&out_of_sample, &people.weights, self.level);
        for (group, curve) in groups.iter_mut().zip(&curves) {
            group.curve = curve.points(self.level);
        }
        let together = Curve::together(&curves);
        let total: f64 = people.weights.iter().sum();
        let left_out = self.in_order(table, &people, &jobs, &mut groups)?;
        let all_dimensions = (!self.limit.is_empty()).then(|| {
            let suits: f64 = groups
                .iter()
                .flat_map(|g| &g.assignments)
                .filter(|a| a.suits_all == Some(true))
                .map(|a| a.weight)
                .sum();
            (suits / total).abs()
        });
        let points = together.points(self.level);
        let compared: Vec<MethodCurve> = self
            .compare
            .iter()
            .filter_map(|m| {
                let points = Curve::together(compared.get(m)?).points(self.level);
                Some(MethodCurve { method: *m, points })
            })
            .collect();
        let mut system = SizeSystem {
            plan: self.clone(),
            given: false,
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
            curve: points.clone(),
            knee: together.knee(self),
            chosen: chosen(self, &jobs, &people.axes, (&compared, &points), held.share).map_err(
                |source| SizingError::Numbers { group: "the choice of method and number".to_owned(), source },
            )?,
            compared,
            ceiling: ceiling_weight.map(|c| (c / total).min(1.0)),
            resampled: bootstrap::summary(&bootstrap::together(&drawn), held.share, self.level),
            coverage_all_dimensions: all_dimensions,
            people_needed: people_needed(
                held.share,
                self.precision,
                self.level,
                design_effect(&people.weights),
            ),
            raking: people.raking.clone(),
            movement: moving
                .map(|m| m.result(self, &jobs, &people, held.share))
                .transpose()
                .map_err(|source| SizingError::Numbers { group: "movement".to_owned(), source })?,
            notes: Vec::new(),
            cautions: cautions(self, &people, whole.share),
            dropped: people.dropped,
        };
        system.notes = notes(&system, &people.axes, &counts);
        Ok(system)
    }

    /// Nodes of the search in every fold: fewer than for the sizes themselves, for time, and none where people are many. A fold with a much weaker search would find sizes
    /// worse than the plan's, and held-out coverage would be too low.
    fn fold_nodes(&self, people: usize) -> usize {
        if people > MANY { 0 } else { self.search_nodes.min(FOLD_NODES) }
    }

    /// Finds the sizes; where the plan says so, with fewer and fewer until every size is worn by enough people.
    fn enough_people(
        &self,
        problem: &Problem<'_>,
        job: &Job,
        effort: Effort,
    ) -> Result<(usize, Found), StatsError> {
        let total: f64 = job.weights.iter().sum();
        let mut count = job.count;
        loop {
            let found = problem.find(&job.weights, count, None, effort)?;
            let mut worn = vec![(0_usize, 0.0); found.places.len()];
            for (point, weight) in job.points.iter().zip(&job.weights) {
                if let Some((size, misfit)) =
                    (!found.places.is_empty()).then(|| nearest(point, &found.places))
                    && misfit.covers()
                {
                    worn[size].0 += 1;
                    worn[size].1 += weight;
                }
            }
            let few =
                worn.iter().any(|(n, w)| *n < self.sizes.min_people || *w < self.sizes.min_share * total);
            if !self.sizes.enforce || !few || count == 1 {
                return Ok((count, found));
            }
            count -= 1;
        }
    }

    /// Counts who is left out, and brings the assignments into the order of the table.
    pub(crate) fn in_order(
        &self,
        table: &Table,
        people: &People,
        jobs: &[Job],
        groups: &mut [GroupSystem],
    ) -> Result<LeftOut, SizingError> {
        // Assignments lie by group; bring them into the order of the people.
        let mut by_person: Vec<Option<&Assignment>> = vec![None; people.rows.len()];
        for (job, group) in jobs.iter().zip(groups.iter()) {
            for (&person, assignment) in job.members.iter().zip(&group.assignments) {
                by_person[person] = Some(assignment);
            }
        }
        let by_person: Vec<&Assignment> = by_person.into_iter().flatten().collect();
        let left_out = left_out(self, table, people, &by_person)?;
        for (job, group) in jobs.iter().zip(groups) {
            let mut order: Vec<usize> = (0..job.members.len()).collect();
            order.sort_by_key(|&i| people.rows[job.members[i]]);
            group.assignments = order.into_iter().map(|i| group.assignments[i].clone()).collect();
        }
        Ok(left_out)
    }

    /// The columns beside the axes.
    pub(crate) fn beside<'a>(&self, table: &'a Table, people: &People) -> Result<Columns<'a>, SizingError> {
        Ok(Columns {
            table,
            secondary: self.columns(table, &self.secondary, "secondary dimension")?,
            fit: self.fit_columns(table, people)?,
            limits: self
                .limit
                .iter()
                .map(|l| Ok((number(table, &l.dimension, "limit")?, l.tolerance.below, l.tolerance.above)))
                .collect::<Result<_, SizingError>>()?,
        })
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

/// People needed for an interval of a share of half width `precision`: z^2 p (1 - p) / precision^2, times the design effect; p at least as far from 0 and 1 as the precision.
fn people_needed(share: f64, precision: f64, level: f64, design_effect: f64) -> usize {
    let p = share.clamp(precision, 1.0 - precision);
    let z = normal_quantile(level);
    (z * z * p * (1.0 - p) / (precision * precision) * design_effect).ceil() as usize
}

/// Coverage in movement, group by group.
struct Moving {
    axes: Vec<Axis>,
    in_sample: Vec<f64>,
    held: Vec<f64>,
}

impl Moving {
    fn of(axes: &[Axis], people: usize) -> Option<Self> {
        Some(Self { axes: narrowed(axes)?, in_sample: vec![0.0; people], held: vec![0.0; people] })
    }

    /// `count` is the number of sizes that were asked for last: fewer than the plan's where rare ones were left out.
    fn group(
        &mut self,
        plan: &Plan,
        job: &Job,
        axes: &[Axis],
        places: &[Place],
        count: usize,
    ) -> Result<(), StatsError> {
        let drawn: Vec<Place> = places.iter().filter_map(|p| drawn_in(p, axes)).collect();
        let within = covered(&job.points, &drawn);
        let problem = Problem::new(&job.points, &job.shape, &self.axes, plan, plan.method);
        let effort = Effort { starts: plan.starts, nodes: plan.fold_nodes(job.points.len()) };
        let moving = held_out(&problem, &job.weights, count, plan.repeats, effort)?;
        for (place, &person) in job.members.iter().enumerate() {
            self.in_sample[person] = within[place];
            self.held[person] = moving[place];
        }
        Ok(())
    }

    fn result(
        self,
        plan: &Plan,
        jobs: &[Job],
        people: &People,
        standing: f64,
    ) -> Result<InMovement, StatsError> {
        let held = Share::of(&self.held, &people.weights, plan.level);
        let total: f64 = people.weights.iter().sum();
        let effort = Effort { starts: plan.starts.min(4), nodes: 0 };
        let least = jobs.iter().map(|j| j.count).max().unwrap_or(1);
        let mut sizes_needed = None;
        for count in least..=least * MOST_TIMES {
            let mut sum = 0.0;
            for job in jobs {
                let count = count.min(job.fitted(plan)).min(distinct(&job.points));
                let problem = Problem::new(&job.points, &job.shape, &self.axes, plan, plan.method);
                let covered = held_out(&problem, &job.weights, count, 1, effort)?;
                sum += covered.iter().zip(&job.weights).map(|(c, w)| c * w).sum::<f64>();
            }
            if sum / total >= standing {
                sizes_needed = Some(count);
                break;
            }
        }
        Ok(InMovement {
            coverage_in_sample: Share::of(&self.in_sample, &people.weights, plan.level).share,
            coverage_held_out: held.share,
            held_out_interval: held.interval,
            sizes_needed,
        })
    }
}
