//! What is asked for.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use formkin_cohort::Cohort;
use formkin_measure::Dimensions;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::run::MlJob;
use super::split::Part;
use crate::choices::{Align, Which, align_params};
use crate::reading::read_table_by;
use crate::{Problems, TaskError};

/// The files of the command.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct SetSources {
    /// The cohort
    #[schemars(extend("position" = 1, "needed" = true))]
    pub cohort: PathBuf,
    /// Parts set from outside: a CSV table with item and split (train, validation, test)
    #[schemars(extend("value" = "CSV"))]
    pub splits: Option<PathBuf>,
    /// The file of definitions, to add dimensions
    #[schemars(extend("value" = "TOML"))]
    pub dimensions: Option<PathBuf>,
}

/// What is asked for.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct SetSettings {
    /// Share of people for choosing between models
    #[schemars(range(min = 0.0), extend("value" = "SHARE", "exclusiveMaximum" = 1))]
    pub validation: f64,
    /// Share of people for the last figure
    #[schemars(range(min = 0.0), extend("value" = "SHARE", "exclusiveMaximum" = 1))]
    pub test: f64,
    /// Give every part its share of each value of this column
    #[schemars(extend("value" = "COLUMN"))]
    pub stratify: Option<String>,
    /// What alignment removes
    pub align: Align,
    /// Vertex weights: `area`, `plain`, or a region of the template
    pub weights: String,
    /// Most modes to keep; all that vary where absent
    #[schemars(range(min = 1), extend("value" = "K"))]
    pub modes: Option<usize>,
    /// Which items become rows
    pub items: Which,
    /// Add a mirrored copy of every item, in the part of its person
    pub mirrored: bool,
    /// Add coefficients through time of the sequences
    pub sequences: bool,
    /// Seed of the split
    pub seed: u64,
}

impl Default for SetSettings {
    fn default() -> Self {
        Self {
            validation: 0.1,
            test: 0.1,
            stratify: None,
            align: Align::default(),
            weights: "area".to_owned(),
            modes: None,
            items: Which::default(),
            mirrored: false,
            sequences: false,
            seed: 1,
        }
    }
}

impl SetSettings {
    pub(super) fn check(&self, problems: &mut Problems) {
        let held_out = self.validation + self.test;
        let range = "less than 1 together with the share of validation: someone must train";
        problems.within("test", held_out < 1.0, self.test, range);
    }

    /// The checked job.
    pub(super) fn job(
        &self,
        cohort: &Cohort,
        given: Option<&BTreeMap<String, Part>>,
        dimensions: Option<&Dimensions>,
    ) -> Result<MlJob, TaskError> {
        Ok(MlJob {
            align: align_params(self.align, &self.weights, cohort.template())?,
            max_modes: self.modes,
            items: self.items,
            validation: self.validation,
            test: self.test,
            stratify: self.stratify.clone(),
            given: given.cloned(),
            mirrored: self.mirrored,
            sequences: self.sequences,
            dimensions: dimensions.cloned(),
            seed: self.seed,
        })
    }
}

/// Item -> part, from a table with the columns item and split.
pub(super) fn read_parts(path: &Path) -> Result<BTreeMap<String, Part>, TaskError> {
    let table = read_table_by(path, "item")?;
    let words = table.text("split").map_err(|source| TaskError::in_file(path, source))?;
    let mut parts = BTreeMap::new();
    for (item, word) in table.ids.iter().zip(words) {
        let part = Part::named(&word).ok_or_else(|| TaskError::Nothing {
            what: format!("{}: item {item}: `{word}` is no part", path.display()),
            advice: "it is train, validation or test".to_owned(),
        })?;
        parts.insert(item.clone(), part);
    }
    Ok(parts)
}
