//! What is asked for.

use std::path::PathBuf;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::choices::Which;
use crate::reading::read_dimensions;
use crate::{Facts, Problems};

/// The files of the command, and whether it only explains.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct MeasureSources {
    /// The cohort
    #[schemars(extend("position" = 1, "needed" = true))]
    pub cohort: PathBuf,
    /// The file of definitions
    #[schemars(extend("value" = "TOML", "study" = true))]
    pub dimensions: Option<PathBuf>,
    /// Show the definition of this dimension; with --into its picture on the template (SVG)
    #[schemars(extend("value" = "NAME"))]
    pub explain: Option<String>,
}

/// What has a row of the table.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Per {
    /// Every item has a row
    #[default]
    Item,
    /// Every person has a row: that of the first still pose
    Person,
}

/// What is asked for.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct MeasureSettings {
    /// Which items; every item where absent, and still poses in a study
    pub items: Option<Which>,
    /// One row an item, or one a person: the first still pose of each, as size systems need it
    pub per: Per,
    /// Summarise by this column of the table of people
    #[schemars(extend("value" = "COLUMN"))]
    pub by: Option<String>,
}

impl MeasureSettings {
    /// The items that are measured. A person is stood for by a still pose, never by a frame where there is a still pose.
    pub(super) fn which(&self) -> Which {
        match (self.per, self.items) {
            (Per::Person, _) => Which::Stills,
            (Per::Item, which) => which.unwrap_or(Which::All),
        }
    }

    pub(super) fn check(&self, sources: &MeasureSources, facts: &Facts, problems: &mut Problems) {
        let Some(path) = &sources.dimensions else {
            if problems.in_study() {
                problems.wrong("dimensions", "it is missing", "name the file of definitions");
            } else if sources.explain.is_some() {
                problems.wrong("explain", "it needs definitions", "add --dimensions");
            }
            return;
        };
        if problems.file("dimensions", path)
            && let Some(dimensions) = problems.refused("dimensions", read_dimensions(path))
            && let Some(template) = &facts.template
        {
            problems.refused("dimensions", dimensions.check(template));
        }
        if let (Some(by), Some(columns)) = (&self.by, &facts.columns) {
            problems.column("by", "column", by, columns, false);
        }
    }
}
