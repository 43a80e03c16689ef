//! What a study asks of its shape space: groups, slopes, symmetry, a map, drawn bodies, completions.

use formkin_cohort::Cohort;
use formkin_shape::compare::{CompareParams, Comparison, ShapeRegression};
use formkin_shape::complete::{Calibration, CalibrationParams, calibrate};
use formkin_shape::covariance::ProbabilisticPca;
use formkin_shape::sample::SampleParams;
use formkin_shape::{CompleteParams, MapMethod, MapParams, SymmetryParams};
use formkin_table::Table;
use serde::{Deserialize, Serialize};
use serde_json::{Value, json};

use crate::TaskError;
use crate::choose::people_of;
use crate::job::groups::{Told, compare, regress_on};
use crate::job::map::{MapOutcome, lay_out};
use crate::job::rows::{People, Rows};
use crate::job::sample::{SampleJob, SampleOutcome, sample_bodies};
use crate::job::symmetry::{self, SymmetryOutcome};
use crate::space::{Shrunk, SpaceOutcome};

/// What is asked of the shape space beyond its modes: the section `[shape]` of a study.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct ShapeSection {
    /// Columns whose groups are compared.
    pub compare: Vec<String>,
    /// Columns of numbers, or dimensions, that shape is regressed on.
    pub regress: Vec<String>,
    /// Columns held fixed in both.
    pub covariates: Vec<String>,
    /// Coefficients of T2 and of the discrimination.
    pub modes: usize,
    /// Permutations of people: 9,999 or more for what is reported.
    pub permutations: usize,
    /// Share of false findings allowed on maps of the body.
    pub level: f64,
    /// Whether bodies are parted into symmetric and asymmetric; needs mirror pairs in the template.
    pub symmetry: bool,
    /// A map of people: `diffusion` or `coefficients`; none where absent.
    pub map: Option<String>,
    /// Columns that the map can be coloured by; all that tell something where absent.
    pub colours: Option<Vec<String>>,
    /// Bodies to draw and hold beside the people; 0 for none.
    pub sample: usize,
    /// A column whose groups each get their share of bodies.
    pub sample_by: Option<String>,
    /// Regions of the template that are hidden on people held out, and completed.
    pub complete: Vec<String>,
}

impl Default for ShapeSection {
    fn default() -> Self {
        Self {
            compare: Vec::new(),
            regress: Vec::new(),
            covariates: Vec::new(),
            modes: 10,
            permutations: 9999,
            level: 0.05,
            symmetry: false,
            map: None,
            colours: None,
            sample: 0,
            sample_by: None,
            complete: Vec::new(),
        }
    }
}

/// Modes that bodies are drawn in, where there are people enough.
const SAMPLE_MODES: usize = 20;

/// The answers.
#[derive(Debug, Clone, Default, Serialize, Deserialize)]
pub struct Answers {
    /// Groups compared, by column.
    pub comparisons: Vec<(String, Told<Comparison>)>,
    /// Shape on numbers, by column.
    pub regressions: Vec<(String, Told<ShapeRegression>)>,
    /// Symmetric and asymmetric parts.
    pub symmetry: Option<SymmetryOutcome>,
    /// The map of people.
    pub map: Option<MapOutcome>,
    /// Drawn bodies.
    pub sample: Option<SampleOutcome>,
    /// How completions of hidden regions fared, by region.
    pub completions: Vec<(String, Calibration)>,
    /// Probabilistic components.
    pub probabilistic: Option<ProbabilisticPca>,
    /// The covariance shrunk.
    pub shrunk: Option<Shrunk>,
    /// What could not be answered, and why.
    pub refusals: Vec<String>,
}

/// What the questions are put to.
pub struct Asked<'a> {
    pub cohort: &'a Cohort,
    pub space: &'a SpaceOutcome,
    pub table: Option<&'a Table>,
    pub section: &'a ShapeSection,
    pub seed: u64,
}

impl Asked<'_> {
    fn rows(&self) -> Rows {
        Rows::of_fitted(self.cohort, &self.space.items, &self.space.fitted.coefficients)
    }

    fn people(&self) -> Result<People, TaskError> {
        self.rows().people(self.table)
    }

    fn params(&self) -> CompareParams {
        CompareParams {
            modes: self.section.modes,
            permutations: self.section.permutations,
            level: self.section.level,
            seed: self.seed,
            ..CompareParams::default()
        }
    }

    /// Covariates but the column that is asked about.
    fn fixed(&self, but: &str) -> Vec<String> {
        self.section.covariates.iter().filter(|c| *c != but).cloned().collect()
    }

    pub fn compared(&self, by: &str) -> Result<Told<Comparison>, TaskError> {
        compare(&self.space.fitted.space, &self.people()?, by, &self.fixed(by), &self.params())
    }

    /// Groups are not held fixed unless a covariate names them; the first compared column is tested for equal slopes.
    pub fn regressed(&self, on: &str) -> Result<Told<ShapeRegression>, TaskError> {
        let by = self.section.compare.first().map(String::as_str);
        let fixed: Vec<String> = self.fixed(on).into_iter().filter(|c| Some(c.as_str()) != by).collect();
        regress_on(&self.space.fitted.space, &self.people()?, on, by, &fixed, &self.params())
    }

    pub fn symmetry(&self, progress: &(dyn Fn(usize, usize) + Sync)) -> Result<SymmetryOutcome, TaskError> {
        let params = SymmetryParams {
            permutations: self.section.permutations,
            level: self.section.level,
            modes: 5,
            seed: self.seed,
            ..SymmetryParams::default()
        };
        let alignment = &self.space.fitted.alignment;
        symmetry::of_aligned(self.cohort, &self.space.items, alignment, &params, progress)
    }

    pub fn map(&self, word: &str) -> Result<MapOutcome, TaskError> {
        let method = match word {
            "diffusion" => MapMethod::Diffusion,
            "coefficients" => MapMethod::Coefficients,
            _ => {
                return Err(TaskError::Setting {
                    setting: "[shape] map",
                    value: word.to_owned(),
                    known: "diffusion, coefficients".into(),
                });
            }
        };
        let params = MapParams { method, seed: self.seed, ..MapParams::default() };
        lay_out(&self.people()?, &params, self.section.colours.as_deref())
    }

    pub fn sample(&self) -> Result<SampleOutcome, TaskError> {
        let space = &self.space.fitted.space;
        let people = self.people()?;
        let fewest = match &self.section.sample_by {
            Some(by) => {
                let mut sizes: std::collections::BTreeMap<String, usize> = std::collections::BTreeMap::new();
                for group in people.groups("[shape] sample_by", by)?.into_iter().flatten() {
                    *sizes.entry(group).or_default() += 1;
                }
                sizes.into_values().min().unwrap_or(0)
            }
            None => people.names.len(),
        };
        let job = SampleJob {
            params: SampleParams { count: self.section.sample, seed: self.seed, ..SampleParams::default() },
            // a covariance of people needs more of them than coefficients
            modes: SAMPLE_MODES.min(fewest / 2).max(2),
            by: self.section.sample_by.clone(),
            group: None,
            components: None,
            target: None,
            pool: 0,
            limits: None,
            dimensions: space.measuring.is_some(),
            crossings: false,
        };
        sample_bodies(space, &self.rows(), &job)
    }

    pub fn completed(&self, region: &str) -> Result<Calibration, TaskError> {
        let template = self.cohort.template();
        let hidden = template.regions.get(region).ok_or_else(|| TaskError::Setting {
            setting: "[shape] complete",
            value: region.to_owned(),
            known: template.regions.keys().cloned().collect::<Vec<_>>().join(", "),
        })?;
        let mut seen = vec![true; template.mesh.positions().len()];
        for &v in hidden {
            seen[v as usize] = false;
        }
        let seen: Vec<u32> = (0..seen.len() as u32).filter(|v| seen[*v as usize]).collect();
        let people = people_of(self.cohort, &self.space.items);
        let source = self.cohort.select(self.space.items.clone());
        let params = CalibrationParams { seed: self.seed, ..CalibrationParams::default() };
        let fitted = &self.space.fitted.space;
        Ok(calibrate(&source, &people, fitted, &seen, &CompleteParams::default(), &params)?)
    }
}

/// A result without what has one value a vertex: that is in files of its own.
#[must_use]
pub fn without_vertices(mut value: Value) -> Value {
    let effects: Vec<f64> = serde_json::from_value(value["place"]["effect_mm"].clone()).unwrap_or_default();
    let (low, high) = effects.iter().fold((0.0f64, 0.0f64), |(l, h), e| (l.min(*e), h.max(*e)));
    if let Some(place) = value["place"].as_object_mut() {
        for key in ["effect_mm", "p", "q"] {
            place.remove(key);
        }
        place.insert("least_effect_mm".into(), json!(low));
        place.insert("greatest_effect_mm".into(), json!(high));
    }
    value
}

/// The figures for programs.
#[must_use]
pub fn summary(answers: &Answers) -> Value {
    fn told<T: Serialize>(key: &str, name: &str, told: &Told<T>) -> Value {
        let mut value = without_vertices(serde_json::to_value(&told.result).unwrap_or_default());
        value[key] = json!(name);
        value["people_compared"] = json!(told.people);
        value["left_out"] = json!(told.left_out);
        value
    }
    json!({
        "comparisons": answers.comparisons.iter().map(|(by, t)| told("by", by, t)).collect::<Vec<_>>(),
        "regressions": answers.regressions.iter().map(|(on, t)| told("on", on, t)).collect::<Vec<_>>(),
        "symmetry": answers.symmetry.as_ref().map(symmetry::summary),
        "map": answers.map.as_ref().map(|m| json!({
            "map": m.map, "participants": m.participants, "columns": m.columns.iter().map(|c| &c.0).collect::<Vec<_>>(),
        })),
        "sample": answers.sample.as_ref().map(|s| json!({
            "bodies": s.samples.coefficients.len(), "tries": s.samples.tries, "refused": s.samples.refused, "modes": s.modes,
            "report": s.report, "marginals": s.marginals, "correlations": s.correlations, "notes": s.notes,
        })),
        "completions": answers.completions.iter().map(|(region, c)| json!({ "hidden": region, "calibration": c })).collect::<Vec<_>>(),
        "probabilistic": answers.probabilistic,
        "shrunk": answers.shrunk,
        "refusals": answers.refusals,
    })
}
