//! What is asked for.

use std::path::PathBuf;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::Problems;

/// The files of the command.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct MergeSources {
    /// Two or more spaces on the same triangles, aligned and weighted in the same way
    #[schemars(required, extend("position" = 1, "value" = "S.safetensors"))]
    pub spaces: Vec<PathBuf>,
}

/// What is asked for.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct MergeSettings {
    /// Most modes to keep; all where absent
    #[schemars(range(min = 1), extend("value" = "K"))]
    pub modes: Option<usize>,
}

impl MergeSources {
    pub(super) fn check(&self, problems: &mut Problems) {
        if self.spaces.len() < 2 {
            problems.wrong("", "there is one space alone to merge", "name two or more");
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::problem::Given;

    #[test]
    fn one_space_cannot_be_merged() {
        let said = |names: &[&str]| {
            let mut problems = Problems::new(Given::Command);
            MergeSources { spaces: names.iter().map(PathBuf::from).collect() }.check(&mut problems);
            problems.found.iter().map(ToString::to_string).collect::<Vec<_>>()
        };
        assert_eq!(said(&["north.safetensors"]), ["there is one space alone to merge; name two or more"]);
        assert!(said(&["north.safetensors", "south.safetensors"]).is_empty());
    }
}
