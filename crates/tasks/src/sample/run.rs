//! People in a space to new bodies like them: drawn, looked at, weighed to a target population, and set beside the people.

use formkin_geometry::Topology;
use formkin_measure::Taker;
use formkin_shape::Space;
use formkin_shape::sample::{
    CorrelationReport, Density, DimensionMarginal, SampleReport, Samples, TargetFit, compare_dimensions,
    judge, sample,
};
use formkin_stats::quantile::quantile;
use formkin_table::{NumberColumn, Table};
use ndarray::{Array2, ArrayView2, Axis, s};
use serde::{Deserialize, Serialize};

use super::reality::{Named, Reality};
use super::repeats::repeats;
use super::settings::SampleJob;
use super::target::targeted;
use crate::TaskError;
use crate::measure::Measuring;
use crate::people::Rows;

/// Components that are tried at most.
const MOST_COMPONENTS: usize = 6;
/// Modes that bodies are drawn in, where there are people enough.
const MODES: usize = 20;

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

/// The name of a drawn body.
#[must_use]
pub fn body_name(which: usize) -> String {
    format!("body_{:04}", which + 1)
}

/// The people that bodies are to be like.
struct Chosen {
    names: Vec<String>,
    /// People x coefficients, in mm.
    whole: Array2<f64>,
    /// The group of each, where there are groups.
    groups: Option<Vec<String>>,
}

impl Chosen {
    fn of(rows: &Rows, job: &SampleJob) -> Result<Self, TaskError> {
        let people = rows.people(None)?;
        let mut kept: Vec<usize> = (0..people.names.len()).collect();
        let groups = match (&job.by, &job.group) {
            (Some(by), group) => {
                let all = people.groups("by", by)?;
                let wanted = |g: &String| group.as_ref().is_none_or(|w| w == g);
                kept.retain(|i| all[*i].as_ref().is_some_and(wanted));
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
        let whole = people.coefficients.select(Axis(0), &kept);
        Ok(Self { names: kept.into_iter().map(|i| people.names[i].clone()).collect(), whole, groups })
    }

    /// How many modes bodies are drawn in: a covariance of people needs more of them than coefficients.
    fn modes(&self, asked: Option<usize>) -> usize {
        let fewest = match &self.groups {
            Some(words) => {
                let of = |word: &String| words.iter().filter(|w| *w == word).count();
                words.iter().map(of).min().unwrap_or(0)
            }
            None => self.names.len(),
        };
        asked.unwrap_or_else(|| MODES.min(fewest / 2).max(2)).min(self.whole.ncols())
    }

    /// What bodies are drawn from.
    fn density(&self, own: ArrayView2<f64>, job: &SampleJob) -> Result<Density, TaskError> {
        Ok(match (&self.groups, job.components) {
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
        })
    }
}

/// Draws bodies like the people of `rows`.
///
/// # Errors
/// [`TaskError::Nothing`] for a group that nobody is in; [`TaskError::Space`] for margins or limits of dimensions that the space does not take; what [`sample`](formkin_shape::sample::sample) and
/// [`weigh`](formkin_shape::sample::weigh) refuse.
pub fn sample_bodies(space: &Space, rows: &Rows, job: &SampleJob) -> Result<SampleOutcome, TaskError> {
    let chosen = Chosen::of(rows, job)?;
    let modes = chosen.modes(job.modes);
    let own = chosen.whole.slice(s![.., ..modes]);
    let density = chosen.density(own, job)?;

    let measuring = Measuring::read(space)?;
    let topology = Topology::new(space.mean.len(), space.triangles.clone())?;
    let taken = measuring.as_ref().filter(|_| job.dimensions);
    let taker = taken.map(|(m, template)| Taker::new(&m.dimensions, template));
    let mut reality = Reality::new(space, &topology, taker, job.crossings);
    let named = reality.named();
    reality.know(&chosen.whole, &named, job.limits.as_ref())?;

    let (samples, target) = match &job.target {
        None => (sample(&density, &job.params, &|c| reality.look(c))?, None),
        Some(population) => {
            let (made, fit) = targeted(&reality, &density, population, measuring.as_ref(), job)?;
            (made, Some(fit))
        }
    };
    let names: Vec<&str> = chosen.names.iter().map(String::as_str).collect();
    let report = judge(&samples.coefficients, own, &repeats(rows, &names, modes))?;
    let d = reality.dimensions();
    let bodies: Vec<Vec<Option<f64>>> = samples.taken.iter().map(|t| t[..d].to_vec()).collect();
    let (marginals, correlations) = if d == 0 {
        (Vec::new(), None)
    } else {
        let (m, c) = compare_dimensions(&named, &reality.people, &bodies)?;
        (m, Some(c))
    };
    let closest = report.privacy.closest.iter();
    Ok(SampleOutcome {
        closest: closest.map(|(b, p, d)| (body_name(*b), names[*p].to_owned(), *d)).collect(),
        origins: samples.components.iter().map(|c| density.components[*c].name.clone()).collect(),
        table: (d > 0).then(|| table(&named, &bodies)),
        notes: notes(job, &density, &report, target.as_ref(), measuring.is_some()),
        crossings: if job.crossings { Some(crossings(&reality, &samples)?) } else { None },
        samples,
        modes,
        density,
        report,
        marginals,
        correlations,
        target,
    })
}

/// Where surfaces of people and of bodies cross themselves.
fn crossings(reality: &Reality<'_>, samples: &Samples) -> Result<Crossings, TaskError> {
    let d = reality.dimensions();
    let drawn: Vec<f64> = samples.taken.iter().filter_map(|t| t.get(d).copied().flatten()).collect();
    let of = |v: &[f64]| -> Result<[f64; 3], TaskError> {
        Ok([quantile(v, None, 0.5)?, quantile(v, None, 0.95)?, quantile(v, None, 1.0)?])
    };
    Ok(Crossings { people: of(&reality.crossings)?, bodies: of(&drawn)?, limit: reality.most_crossings })
}

fn table(named: &[Named], bodies: &[Vec<Option<f64>>]) -> Table {
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
            "The people's coefficients do not look like one normal distribution (Mardia's tests, 1 %): draw by a column (`--by`), or of a mixture (`--components auto`)."
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
