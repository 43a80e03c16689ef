//! What is asked for.

use std::collections::BTreeMap;
use std::path::PathBuf;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::{Method, PredictJob};

/// The files of the command.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct PredictSources {
    /// The space
    #[schemars(extend("position" = 1))]
    pub space: PathBuf,
}

/// What is asked for.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct PredictSettings {
    /// A dimension or another number of a person, in the unit of the space; may be given again
    #[schemars(extend("value" = "NAME=VALUE"))]
    pub dimension: BTreeMap<String, f64>,
    /// A level of a column of words; may be given again
    #[schemars(extend("value" = "COLUMN=LEVEL"))]
    pub level: BTreeMap<String, String>,
    /// Technical error of measurement of a given value, as an SD; exact where absent
    #[schemars(extend("value" = "NAME=SD"))]
    pub error: BTreeMap<String, f64>,
    /// Partial least squares with so many components, in place of the conditional normal distribution
    #[schemars(extend("value" = "COMPONENTS"))]
    pub pls: Option<usize>,
}

impl PredictSettings {
    pub(super) fn job(&self) -> PredictJob {
        PredictJob {
            values: self.dimension.clone(),
            levels: self.level.clone(),
            errors: self.error.clone(),
            method: self
                .pls
                .map_or(Method::ConditionalNormal, |components| Method::PartialLeastSquares { components }),
        }
    }
}
