//! What is asked for.

use std::path::PathBuf;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// The files of the command.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct JointsSources {
    /// The cohort, on a template with joints
    #[schemars(extend("position" = 1))]
    pub cohort: PathBuf,
}

/// What is asked for.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct JointsSettings {
    /// The frames of this capture in place of the still poses
    #[schemars(extend("value" = "ID"))]
    pub capture: Option<String>,
}
