//! What is asked for.

use std::collections::BTreeMap;
use std::path::PathBuf;

use formkin_measure::agreement::{LimitType, RepeatsParams};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::Problems;

/// The files.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct AgreeSources {
    /// Dimensions from scans and the same by hand: two CSV tables, one row a person, units in the headers
    #[schemars(extend("position" = 1, "value" = "SCAN.csv HAND.csv"))]
    pub tables: Vec<PathBuf>,
    /// One table with several rows a person, for the error of one way of measuring
    #[schemars(extend("value" = "TABLE.csv"))]
    pub repeats: Option<PathBuf>,
    /// Definitions, which say the type of each dimension
    #[schemars(extend("value" = "TOML"))]
    pub dimensions: Option<PathBuf>,
}

/// What is asked for beside the files.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct AgreeSettings {
    /// The column of the table of repeats that says whose row it is
    #[schemars(extend("value" = "COLUMN"))]
    pub participant: String,
    /// The column of the table of repeats that says which trial it is
    #[schemars(extend("value" = "COLUMN"))]
    pub session: String,
    /// The type of a dimension, such as neck_girth=small-girth; may be given again
    #[serde(rename = "type")]
    #[schemars(extend("value" = "NAME=TYPE"))]
    pub types: BTreeMap<String, String>,
    /// Only this dimension; may be given again
    #[schemars(extend("value" = "NAME"))]
    pub only: Vec<String>,
}

impl Default for AgreeSettings {
    fn default() -> Self {
        let RepeatsParams { participant, session, only } = RepeatsParams::default();
        Self { participant, session, types: BTreeMap::new(), only }
    }
}

impl AgreeSettings {
    pub(super) fn check(&self, sources: &AgreeSources, problems: &mut Problems) {
        let tables = sources.tables.len();
        match &sources.repeats {
            Some(_) if tables > 0 => {
                let advice = "give two tables to compare, or one of repeats with --repeats";
                problems.wrong("repeats", "it cannot be used with two tables", advice);
            }
            None if tables != 2 => {
                let wrong = match tables {
                    0 => "there is no table, and two are needed".to_owned(),
                    1 => "there is one table, and two are needed".to_owned(),
                    n => format!("there are {n} tables, and two are needed"),
                };
                problems.wrong("", wrong, "the scan's and the one by hand; or one of repeats with --repeats");
            }
            _ => {}
        }
        for (name, kind) in &self.types {
            if let Err(e) = LimitType::parse(kind) {
                problems.wrong("type", format!("{name}={kind}"), e);
            }
        }
    }

    /// The types, of those words that are some.
    pub(super) fn limit_types(&self) -> BTreeMap<String, LimitType> {
        let of = |(name, kind): (&String, &String)| Some((name.clone(), LimitType::parse(kind).ok()?));
        self.types.iter().filter_map(of).collect()
    }
}
