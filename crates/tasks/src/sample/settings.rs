//! What is asked for.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use formkin_shape::Space;
use formkin_shape::sample::SampleParams;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::population::{Limits, Population};
use crate::bodies::read_space;
use crate::people::{PeopleInputs, Rows, one_source};
use crate::reading::read_text;
use crate::{Facts, Problems, Store, TaskError};

/// Bodies of a pool for each one asked for, where nothing else is asked.
const POOL_A_BODY: usize = 20;
/// Bodies of a pool at least, where nothing else is asked.
const LEAST_POOL: usize = 2000;

/// The files of the command.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct SampleSources {
    /// The space
    #[schemars(extend("position" = 1))]
    pub space: PathBuf,
    /// Coefficients of the people that bodies are to be like
    #[serde(default)]
    #[schemars(extend("value" = "FILE.parquet"))]
    pub coefficients: Option<PathBuf>,
    /// A cohort of them
    #[serde(default)]
    #[schemars(extend("value" = "C.cohort"))]
    pub cohort: Option<PathBuf>,
    /// Margins of a target population that bodies are weighed to: TOML or CSV
    #[serde(default)]
    #[schemars(extend("value" = "FILE", "study" = true))]
    pub target: Option<PathBuf>,
    /// Limits of dimensions, TOML or CSV, in place of those from people
    #[serde(default)]
    #[schemars(extend("value" = "FILE", "study" = true))]
    pub limits: Option<PathBuf>,
}

/// How many normal distributions a mixture has.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(untagged)]
pub enum Components {
    /// So many.
    Number(#[schemars(range(min = 1))] usize),
    /// As many as people held out speak for.
    Word(Auto),
}

/// The word in place of a number.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Auto {
    /// As many as people held out speak for
    Auto,
}

/// What is asked for.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct SampleSettings {
    /// How many bodies
    #[schemars(range(min = 1, max = 1_000_000))]
    pub count: usize,
    /// A column: each of its groups has its own distribution and its share of bodies
    #[schemars(extend("value" = "COLUMN"))]
    pub by: Option<String>,
    /// With --by: only this group
    #[schemars(extend("value" = "VALUE"))]
    pub group: Option<String>,
    /// A mixture of so many normal distributions; `auto`: as many as people held out speak for
    #[schemars(extend("value" = "auto|N"))]
    pub components: Option<Components>,
    /// With --target: bodies of which those for the target are picked; 20 for each asked for, at least 2000, where absent
    #[schemars(range(min = 1))]
    pub pool: Option<usize>,
    /// Take dimensions of bodies, and refuse those whose dimensions are far outside those of people
    #[schemars(extend("without" = "Take no dimensions of bodies, and refuse none for them"))]
    pub dimensions: bool,
    /// Refuse bodies whose surfaces cross themselves more than on 99 % of people
    #[schemars(extend("without" = "Do not look where surfaces cross themselves"))]
    pub crossings: bool,
    /// Write a mesh of every body
    #[schemars(extend("without" = "Write tables alone, and no meshes"))]
    pub meshes: bool,
    /// How many modes; where absent 20, or half of the people (of the smallest group) where those are fewer
    #[schemars(range(min = 1), extend("value" = "K"))]
    pub modes: Option<usize>,
    /// The share of people that the region of truncation holds
    #[schemars(extend("exclusiveMinimum" = 0, "exclusiveMaximum" = 1))]
    pub confidence: f64,
    /// The seed
    pub seed: u64,
}

impl Default for SampleSettings {
    fn default() -> Self {
        let SampleParams { confidence, seed, .. } = SampleParams::default();
        Self {
            count: 10,
            by: None,
            group: None,
            components: None,
            pool: None,
            dimensions: true,
            crossings: true,
            meshes: true,
            modes: None,
            confidence,
            seed,
        }
    }
}

/// People in the coordinates of a space, and what bodies are to be like.
#[derive(Debug)]
pub struct SampleInputs {
    /// The space.
    pub space: Arc<Space>,
    /// One row a body of people.
    pub rows: Rows,
    /// Margins of a target population.
    pub target: Option<Population>,
    /// Limits of dimensions.
    pub limits: Option<Limits>,
}

impl SampleInputs {
    pub(super) fn open(sources: &SampleSources) -> Result<Self, TaskError> {
        let (target, limits) = sources.read()?;
        let space = Arc::new(read_space(&sources.space)?);
        let rows = Rows::open(&space, sources.coefficients.as_deref(), sources.cohort.as_deref())?;
        Ok(Self { space, rows, target, limits })
    }

    pub(super) fn gather(sources: &SampleSources, store: &Store) -> Result<Option<Self>, TaskError> {
        let Some(PeopleInputs { space, rows, .. }) = PeopleInputs::of(store)? else { return Ok(None) };
        let (target, limits) = sources.read()?;
        Ok(Some(Self { space, rows, target, limits }))
    }
}

impl SampleSources {
    fn read(&self) -> Result<(Option<Population>, Option<Limits>), TaskError> {
        let named = |path: &Path| path.display().to_string();
        let target = self.target.as_deref().map(|p| Population::parse(&read_text(p)?, &named(p)));
        let limits = self.limits.as_deref().map(|p| Limits::parse(&read_text(p)?, &named(p)));
        Ok((target.transpose()?, limits.transpose()?))
    }
}

impl SampleSettings {
    /// Bodies of which those for a target are picked.
    pub(super) fn pool(&self) -> usize {
        self.pool.unwrap_or_else(|| self.count.saturating_mul(POOL_A_BODY).max(LEAST_POOL))
    }

    pub(super) fn job(&self, inputs: &SampleInputs) -> SampleJob {
        SampleJob {
            params: SampleParams {
                count: self.count,
                confidence: self.confidence,
                seed: self.seed,
                ..SampleParams::default()
            },
            modes: self.modes,
            by: self.by.clone(),
            group: self.group.clone(),
            components: self.components.map(|c| match c {
                Components::Number(n) => n,
                Components::Word(Auto::Auto) => 0,
            }),
            target: inputs.target.clone(),
            pool: self.pool(),
            limits: inputs.limits.clone(),
            dimensions: self.dimensions,
            crossings: self.crossings,
        }
    }

    pub(super) fn check(&self, sources: &SampleSources, facts: &Facts, problems: &mut Problems) {
        one_source(sources.coefficients.is_some(), sources.cohort.is_some(), problems);
        if self.group.is_some() && self.by.is_none() {
            problems.needs("group", "by");
        }
        if self.components.is_some() && self.by.is_some() {
            problems.apart("components", "by");
        }
        if self.pool.is_some() && sources.target.is_none() {
            problems.needs("pool", "target");
        }
        if sources.limits.is_some() && !self.dimensions {
            problems.wrong(
                "limits",
                "no dimensions are taken that they could be of",
                "let dimensions be taken, or leave the limits out",
            );
        }
        if problems.in_study() {
            for (field, path) in [("target", &sources.target), ("limits", &sources.limits)] {
                if let Some(path) = path {
                    problems.file(field, path);
                }
            }
        }
        let (Some(columns), Some(by)) = (&facts.columns, &self.by) else { return };
        problems.column("by", "column", by, columns, false);
    }
}

/// What a drawing is asked for.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SampleJob {
    /// Settings of the drawing.
    pub params: SampleParams,
    /// How many modes; where absent 20, or half of the people, of the smallest group where there are groups, where those are fewer. Those beyond the
    /// people's are ignored.
    pub modes: Option<usize>,
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::facts::Column;
    use crate::fields::{Kind, fields};
    use crate::problem::Given;

    #[test]
    fn what_does_not_go_together_is_said() {
        let settings = SampleSettings {
            by: Some("sexx".into()),
            components: Some(Components::Number(2)),
            pool: Some(10),
            dimensions: false,
            ..SampleSettings::default()
        };
        let sources = SampleSources { limits: Some("l.toml".into()), ..SampleSources::default() };
        let facts =
            Facts { columns: Some(vec![Column { name: "sex".into(), numbers: false }]), ..Facts::default() };
        let mut problems = Problems::new(Given::Command);
        settings.check(&sources, &facts, &mut problems);
        let said: Vec<String> = problems.found.iter().map(ToString::to_string).collect();
        for (key, word) in [
            ("--coefficients", "--cohort"),
            ("--components", "--by"),
            ("--pool", "--target"),
            ("--limits", "dimensions"),
            ("--by", "did you mean `sex`?"),
        ] {
            assert!(said.iter().any(|s| s.starts_with(key) && s.contains(word)), "{key}: {said:#?}");
        }
    }

    #[test]
    fn components_are_a_number_or_a_word() {
        let all = fields::<SampleSettings>();
        let field = all.iter().find(|f| f.name == "components").unwrap();
        let Kind::NumberOrWord(range, words) = &field.kind else { panic!("{:?}", field.kind) };
        assert!(range.holds(1.0) && !range.holds(0.0));
        assert_eq!(words, &["auto"]);
        for (json, made) in [("3", Components::Number(3)), ("\"auto\"", Components::Word(Auto::Auto))] {
            assert_eq!(serde_json::from_str::<Components>(json).unwrap(), made);
        }
    }
}
