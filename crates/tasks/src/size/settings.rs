//! What is asked for.

use std::path::PathBuf;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// What `allowances` says where the study's own movements are meant.
pub const MOVEMENTS: &str = "movements";

/// The files.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct SizeSources {
    /// A CSV table, one row a person, units in the headers; meshes are not needed
    #[schemars(extend("position" = 1, "value" = "CSV", "study" = true))]
    pub table: Option<PathBuf>,
    /// The plan
    #[schemars(extend("value" = "TOML", "study" = true))]
    pub plan: Option<PathBuf>,
    /// A size chart that exists: it is tried on the people, beside the plan's sizes or, without a plan, in their place
    #[schemars(extend("value" = "CSV", "study" = true))]
    pub chart: Option<PathBuf>,
    /// A table of new people: their sizes, second choices, what is tight and what is loose
    #[schemars(extend("value" = "CSV", "study" = true))]
    pub assign: Option<PathBuf>,
    /// How much dimensions grow and shrink in movement: a table, or `movements` for those of the same study
    #[schemars(extend("value" = "CSV", "study" = true, "words" = ["movements"]))]
    pub allowances: Option<PathBuf>,
    /// A shape space that knows the control dimensions: a mannequin of every size is made and measured, into DIR/sizes
    #[schemars(extend("value" = "SAFETENSORS"))]
    pub space: Option<PathBuf>,
    /// Shape coefficients of the people in that space: what `shape = ["mode_001_sd", ...]` in the plan means
    #[schemars(extend("value" = "PARQUET"))]
    pub coefficients: Option<PathBuf>,
}

/// What is asked for beside the files.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct SizeSettings {
    /// The column of the new people that says their group, where the chart has several and no other column says so
    #[schemars(extend("value" = "COLUMN"))]
    pub by: Option<String>,
}

impl SizeSources {
    /// Whether the allowances are those of the study's own movements.
    pub(super) fn of_movements(&self) -> bool {
        self.allowances.as_ref().is_some_and(|a| a.as_os_str() == MOVEMENTS)
    }

    /// The files that a size system is made from, for messages.
    pub(super) fn shown(&self) -> String {
        let files = [&self.plan, &self.chart, &self.table];
        let shown: Vec<String> = files.into_iter().flatten().map(|p| p.display().to_string()).collect();
        shown.join(", ")
    }

    /// The files that new people are given sizes by, for messages.
    pub(super) fn shown_of_new(&self) -> String {
        let files = [self.chart.as_ref().or(self.table.as_ref()), self.assign.as_ref()];
        let shown: Vec<String> = files.into_iter().flatten().map(|p| p.display().to_string()).collect();
        shown.join(", ")
    }
}
