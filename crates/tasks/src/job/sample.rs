//! People in a space -> new bodies like them: drawn, looked at, weighed to a target population, and told beside the people.

use formkin_geometry::Point;
use formkin_geometry::tree::Tree;
use formkin_measure::Taker;
use formkin_shape::Space;
use formkin_shape::sample::{
    CorrelationReport, Density, DimensionMarginal, SampleParams, SampleReport, Samples, TargetFit,
    compare_dimensions, judge, pick, sample, weigh,
};
use formkin_stats::quantile::quantile;
use formkin_table::{NumberColumn, Table};
use ndarray::{Array2, Axis, s};
use rayon::prelude::*;
use serde::{Deserialize, Serialize};

use crate::TaskError;
use crate::job::measuring::Measuring;
use crate::job::population::{Limits, Population};
use crate::job::predict::upright;
use crate::job::repeats::repeats;
use crate::job::rows::Rows;

/// How far outside the quartiles a dimension may lie, in distances of the quartiles (Tukey 1977: "far out").
const FAR_OUT: f64 = 3.0;
/// A dimension that so many people have must be there on a drawn body.
const USUAL: f64 = 0.95;
/// Components that are tried at most.
const MOST_COMPONENTS: usize = 6;

/// What is asked for.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SampleJob {
    /// Settings of the drawing.
    pub params: SampleParams,
    /// How many modes; those beyond the people's are ignored.
    pub modes: usize,
    /// A column: every one of its groups gets its share of bodies.
    pub by: Option<String>,
    /// With `by`: only this group.
    pub group: Option<String>,
    /// A mixture of so many normals, 0: of as many as people held out speak for.
    pub components: Option<usize>,
    /// Margins of a target population.
    pub target: Option<Population>,
    /// Bodies of which those for a target are picked.
    pub pool: usize,
    /// Limits of dimensions in place of those from people.
    pub limits: Option<Limits>,
    /// Whether dimensions are taken, and bodies refused for them.
    pub dimensions: bool,
    /// Whether bodies that cross themselves more than people do are refused.
    pub crossings: bool,
}

/// Where surfaces cross themselves: triangles that cross others.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Crossings {
    /// Median, 95th percentile and maximum over people: rest poses touch, so that it is not 0.
    pub people: [f64; 3],
    /// The same over drawn bodies.
    pub bodies: [f64; 3],
    /// Bodies with more are refused: the 99th percentile of people.
    pub limit: f64,
}

/// What came out.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub struct SampleOutcome {
    /// The bodies.
    pub samples: Samples,
    /// Modes used.
    pub modes: usize,
    /// What they were drawn from.
    pub density: Density,
    /// The group or component of every body.
    pub origins: Vec<String>,
    /// Beside the people, in coefficients.
    pub report: SampleReport,
    /// Beside the people, in dimensions; empty where none were taken.
    pub marginals: Vec<DimensionMarginal>,
    /// Correlations of dimensions.
    pub correlations: Option<CorrelationReport>,
    /// Where surfaces cross themselves.
    pub crossings: Option<Crossings>,
    /// The target population.
    pub target: Option<TargetFit>,
    /// Dimensions of the bodies.
    pub table: Option<Table>,
    /// The people that drawn bodies were nearest to, by name: body, person, distance in mm.
    pub closest: Vec<(String, String, f64)>,
    /// What a reader must know.
    pub notes: Vec<String>,
}

/// What is known of people and asked of bodies.
struct Reality<'a> {
    space: &'a Space,
    up: Point,
    tree: Option<Tree>,
    topology: &'a formkin_geometry::Topology,
    taker: Option<Taker<'a>>,
    people: Vec<Vec<Option<f64>>>,
    limits: Vec<(String, f64, f64, bool)>,
    crossings: Vec<f64>,
    most_crossings: f64,
}

impl Reality<'_> {
    fn dimensions(&self) -> usize {
        self.limits.len()
    }

    /// Dimensions, then the number of triangles that cross others, of which the wanted are taken.
    fn take(&self, coefficients: &[f64]) -> (Vec<Option<f64>>, Option<f64>) {
        let body = upright(self.space, coefficients, self.up);
        let taken = self.taker.as_ref().map_or_else(Vec::new, |t| {
            t.take(&body).into_iter().map(|m| m.value).collect::<Vec<Option<f64>>>()
        });
        let crossings = self.tree.as_ref().map(|tree| {
            let mut all: Vec<u32> =
                tree.on(self.topology, &body).self_crossings().into_iter().flatten().collect();
            all.sort_unstable();
            all.dedup();
            all.len() as f64
        });
        (taken, crossings)
    }

    fn look(&self, coefficients: &[f64]) -> Result<Vec<Option<f64>>, String> {
        let (mut taken, crossings) = self.take(coefficients);
        for (value, (name, least, most, usual)) in taken.iter().zip(&self.limits) {
            match value {
                Some(v) if v < least => return Err(format!("{name} is too small")),
                Some(v) if v > most => return Err(format!("{name} is too large")),
                None if *usual => return Err(format!("{name} cannot be taken")),
                _ => {}
            }
        }
        if crossings.is_some_and(|c| c > self.most_crossings) {
            return Err("their surfaces cross themselves".into());
        }
        taken.push(crossings);
        Ok(taken)
    }
}

/// Draws bodies like the people of `rows`.
///
/// # Errors
/// [`TaskError::Nothing`] for a group that nobody is in; [`TaskError::Space`] for margins or limits of dimensions that the space does not take; what [`sample`] and [`weigh`] refuse.
pub fn sample_bodies(space: &Space, rows: &Rows, job: &SampleJob) -> Result<SampleOutcome, TaskError> {
    let people = rows.people(None)?;
    let mut kept: Vec<usize> = (0..people.names.len()).collect();
    let groups = match (&job.by, &job.group) {
        (Some(by), group) => {
            let all = people.groups("--by", by)?;
            kept.retain(|i| all[*i].is_some() && group.as_ref().is_none_or(|g| all[*i].as_ref() == Some(g)));
            if kept.is_empty() {
                return Err(TaskError::Nothing {
                    what: format!("nobody is `{}` in `{by}`", group.as_deref().unwrap_or("in a group")),
                    advice: "name a group that people are in".into(),
                });
            }
            Some(kept.iter().filter_map(|i| all[*i].clone()).collect::<Vec<String>>())
        }
        _ => None,
    };
    let names: Vec<&str> = kept.iter().map(|i| people.names[*i].as_str()).collect();
    let whole = people.coefficients.select(Axis(0), &kept);
    let modes = job.modes.min(whole.ncols());
    let own = whole.slice(s![.., ..modes]);
    let density = match (&groups, job.components) {
        (Some(words), None) => {
            let mut known = words.clone();
            known.sort_unstable();
            known.dedup();
            let of: Vec<usize> =
                words.iter().map(|w| known.iter().position(|k| k == w).unwrap_or(0)).collect();
            Density::groups(own, &of, &known)?
        }
        (_, Some(k)) => Density::mixture(own, (k > 0).then_some(k), MOST_COMPONENTS, job.params.seed)?,
        (None, None) => Density::normal(own)?,
    };

    let measuring = Measuring::read(space)?;
    let topology = formkin_geometry::Topology::new(space.mean.len(), space.triangles.clone())?;
    let taker = measuring
        .as_ref()
        .filter(|_| job.dimensions)
        .map(|(m, template)| Taker::new(&m.dimensions, template));
    let named: Vec<(String, Option<String>)> = taker.as_ref().map_or_else(Vec::new, |t| {
        t.dimensions().definitions.iter().map(|d| (d.name.clone(), d.unit.clone())).collect()
    });
    let mut reality = Reality {
        space,
        up: space.regression.as_ref().map_or([0.0, 0.0, 1.0], |m| m.up),
        tree: job.crossings.then(|| Tree::new(&topology, &space.mean)),
        topology: &topology,
        taker,
        people: Vec::new(),
        limits: Vec::new(),
        crossings: Vec::new(),
        most_crossings: f64::INFINITY,
    };
    know(&mut reality, &whole, &named, job.limits.as_ref())?;

    let mut target = None;
    let samples = match &job.target {
        None => sample(&density, &job.params, &|c| reality.look(c))?,
        Some(population) => {
            let (made, fit) = targeted(&reality, &density, population, measuring.as_ref(), job)?;
            target = Some(fit);
            made
        }
    };
    let report = judge(&samples.coefficients, own, &repeats(rows, &names, modes))?;
    let d = reality.dimensions();
    let bodies: Vec<Vec<Option<f64>>> = samples.taken.iter().map(|t| t[..d].to_vec()).collect();
    let (marginals, correlations) = if d == 0 {
        (Vec::new(), None)
    } else {
        let (m, c) = compare_dimensions(&named, &reality.people, &bodies)?;
        (m, Some(c))
    };
    let crossings = if job.crossings {
        let drawn: Vec<f64> = samples.taken.iter().filter_map(|t| t.get(d).copied().flatten()).collect();
        let of = |v: &[f64]| -> Result<[f64; 3], TaskError> {
            Ok([quantile(v, None, 0.5)?, quantile(v, None, 0.95)?, quantile(v, None, 1.0)?])
        };
        Some(Crossings {
            people: of(&reality.crossings)?,
            bodies: of(&drawn)?,
            limit: reality.most_crossings,
        })
    } else {
        None
    };
    let closest = report.privacy.closest.iter();
    Ok(SampleOutcome {
        closest: closest.map(|(b, p, d)| (body_name(*b), names[*p].to_owned(), *d)).collect(),
        origins: samples.components.iter().map(|c| density.components[*c].name.clone()).collect(),
        table: (d > 0).then(|| table(&named, &bodies)),
        notes: notes(job, &density, &report, target.as_ref(), measuring.is_some()),
        samples,
        modes,
        density,
        report,
        marginals,
        correlations,
        crossings,
        target,
    })
}

/// The name of a drawn body.
#[must_use]
pub fn body_name(which: usize) -> String {
    format!("body_{:04}", which + 1)
}

/// Takes of people what is taken of bodies, and sets limits by it.
fn know(
    reality: &mut Reality<'_>,
    whole: &Array2<f64>,
    named: &[(String, Option<String>)],
    given: Option<&Limits>,
) -> Result<(), TaskError> {
    let rows: Vec<Vec<f64>> = whole.outer_iter().map(|r| r.to_vec()).collect();
    let taken: Vec<_> = rows.par_iter().map(|c| reality.take(c)).collect();
    reality.crossings = taken.iter().filter_map(|(_, c)| *c).collect();
    if !reality.crossings.is_empty() {
        reality.most_crossings = quantile(&reality.crossings, None, 0.99)?.ceil();
    }
    reality.people = taken.into_iter().map(|(t, _)| t).collect();
    for (j, (name, _)) in named.iter().enumerate() {
        let values: Vec<f64> = reality.people.iter().filter_map(|r| r[j]).collect();
        let usual = values.len() as f64 >= USUAL * rows.len() as f64;
        let (mut least, mut most) = (f64::NEG_INFINITY, f64::INFINITY);
        if values.len() >= 4 {
            let (q1, q3) = (quantile(&values, None, 0.25)?, quantile(&values, None, 0.75)?);
            (least, most) = (q1 - FAR_OUT * (q3 - q1), q3 + FAR_OUT * (q3 - q1));
        }
        reality.limits.push((name.clone(), least, most, usual));
    }
    let Some(given) = given else { return Ok(()) };
    for limit in &given.limits {
        let at = named.iter().position(|(n, _)| *n == limit.dimension);
        let at = at.ok_or_else(|| unknown(&limit.dimension, named))?;
        let (least, most) = limit.in_unit(named[at].1.as_deref())?;
        reality.limits[at].1 = least.unwrap_or(reality.limits[at].1);
        reality.limits[at].2 = most.unwrap_or(reality.limits[at].2);
    }
    Ok(())
}

fn unknown(dimension: &str, named: &[(String, Option<String>)]) -> TaskError {
    let known: Vec<&str> = named.iter().map(|(n, _)| n.as_str()).collect();
    let reason = if known.is_empty() {
        "it was built without dimensions, so that none are taken of drawn bodies: build it with `formkin space --dimensions FILE`".to_owned()
    } else {
        format!("it takes no dimension `{dimension}`; it takes {}", known.join(", "))
    };
    TaskError::Space { reason }
}

/// A pool is drawn and weighed; bodies are picked by weight until enough are wanted.
fn targeted(
    reality: &Reality<'_>,
    density: &Density,
    population: &Population,
    measuring: Option<&(Measuring, formkin_geometry::Template)>,
    job: &SampleJob,
) -> Result<(Samples, TargetFit), TaskError> {
    let Some((m, template)) = measuring else { return Err(unknown("", &[])) };
    let mut few = m.dimensions.clone();
    let named: Vec<(String, Option<String>)> =
        few.definitions.iter().map(|d| (d.name.clone(), d.unit.clone())).collect();
    let mut margins = Vec::new();
    for margin in &population.margins {
        let at = named.iter().find(|(n, _)| *n == margin.dimension);
        let (_, unit) = at.ok_or_else(|| unknown(&margin.dimension, &named))?;
        margins.push(margin.in_unit(unit.as_deref())?);
    }
    // derived dimensions need the others
    if few.definitions.iter().all(|d| {
        !margins.iter().any(|m| m.dimension == d.name)
            || !matches!(d.kind, formkin_measure::Kind::Derived { .. })
    }) {
        few.definitions.retain(|d| margins.iter().any(|m| m.dimension == d.name));
    }
    let places: Vec<usize> =
        margins.iter().filter_map(|m| few.definitions.iter().position(|d| d.name == m.dimension)).collect();
    let taker = Taker::new(&few, template);
    let look = |c: &[f64]| -> Result<Vec<Option<f64>>, String> {
        let taken = taker.take(&upright(reality.space, c, reality.up));
        let own: Vec<Option<f64>> = places.iter().map(|p| taken[*p].value).collect();
        match own.iter().position(Option::is_none) {
            Some(j) => Err(format!("{} cannot be taken", margins[j].dimension)),
            None => Ok(own),
        }
    };
    let params = SampleParams { count: job.pool.max(job.params.count), ..job.params.clone() };
    let mut pool = sample(density, &params, &look)?;
    let values: Vec<Vec<f64>> = pool.taken.iter().map(|t| t.iter().copied().flatten().collect()).collect();
    let mut fit = weigh(&values, &margins)?;
    let mut left = fit.weights.clone();
    let (mut chosen, mut taken): (Vec<usize>, Vec<Vec<Option<f64>>>) = Default::default();
    for round in 0..job.params.most_tries {
        let missing = job.params.count - chosen.len();
        if missing == 0 {
            break;
        }
        let picked = pick(&left, missing, job.params.seed, &format!("picked {round}"));
        let Some(picked) = picked else {
            return Err(TaskError::Nothing {
                what: format!(
                    "the target is far from the people: {} bodies of the pool are worth {:.0} equal ones, too few to pick {} different ones by weight",
                    fit.pool, fit.n_eff, job.params.count
                ),
                advice: "ask for fewer bodies or a larger pool, or look at the margins".into(),
            });
        };
        let looked: Vec<_> = picked.par_iter().map(|i| reality.look(&pool.coefficients[*i])).collect();
        for (i, found) in picked.into_iter().zip(looked) {
            left[i] = 0.0;
            match found {
                Ok(own) => {
                    chosen.push(i);
                    taken.push(own);
                }
                Err(reason) => *pool.refused.entry(reason).or_default() += 1,
            }
        }
    }
    if chosen.len() < job.params.count {
        return Err(formkin_shape::ShapeError::Refused {
            accepted: chosen.len(),
            wanted: job.params.count,
            tries: pool.tries,
            reason: pool.refused.iter().max_by_key(|(_, n)| **n).map_or_else(String::new, |(r, _)| r.clone()),
        }
        .into());
    }
    fit.tell_picked(&values, &margins, &chosen)?;
    let samples = Samples {
        coefficients: chosen.iter().map(|i| pool.coefficients[*i].clone()).collect(),
        components: chosen.iter().map(|i| pool.components[*i]).collect(),
        taken,
        tries: pool.tries,
        refused: pool.refused,
        params: job.params.clone(),
    };
    Ok((samples, fit))
}

fn table(named: &[(String, Option<String>)], bodies: &[Vec<Option<f64>>]) -> Table {
    Table {
        id: "body".into(),
        ids: (0..bodies.len()).map(body_name).collect(),
        numbers: named
            .iter()
            .enumerate()
            .map(|(j, (name, unit))| NumberColumn {
                name: name.clone(),
                unit: unit.clone(),
                values: bodies.iter().map(|b| b[j]).collect(),
            })
            .collect(),
        texts: Vec::new(),
    }
}

fn notes(
    job: &SampleJob,
    density: &Density,
    report: &SampleReport,
    target: Option<&TargetFit>,
    measured: bool,
) -> Vec<String> {
    let mut notes = Vec::new();
    if density.kind == "normal" && !density.normality.looks_normal {
        notes.push(
            "The people's coefficients do not look like one normal distribution (Mardia's tests, 1 %): compare --by a column, or --components auto."
                .to_owned(),
        );
    }
    let near = report.privacy.closer_than_people_95.0;
    if near > 0.01 {
        notes.push(format!(
            "At least {:.1} % of bodies are nearer to a person than 99 % of people are to each other: do not release them as nobody's.",
            100.0 * near
        ));
    }
    if let Some(t) = target.filter(|t| t.n_eff < job.params.count.max(100) as f64) {
        notes.push(format!(
            "The target is far from these people: the pool of {} is worth {:.0} equal bodies. Bodies at its edge are drawn again and again from the same corner; take a larger pool.",
            t.pool, t.n_eff
        ));
    }
    if !measured && (job.dimensions || job.target.is_some()) {
        notes.push("The space carries no definitions of dimensions: bodies were not measured, nor refused for their dimensions.".to_owned());
    }
    notes
}
