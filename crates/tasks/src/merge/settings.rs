//! What is asked for.

use std::path::PathBuf;

use formkin_shape::Space;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::bodies::read_space;
use crate::{Problems, TaskError};

/// The files of the command.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct MergeSources {
    /// Two or more spaces on the same triangles, aligned and weighted in the same way
    #[schemars(extend("position" = 1, "value" = "S.safetensors", "needed" = true))]
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

/// The spaces.
#[derive(Debug)]
pub struct MergeInputs {
    paths: Vec<PathBuf>,
    spaces: Vec<Space>,
}

impl MergeInputs {
    pub(super) fn open(sources: &MergeSources) -> Result<Self, TaskError> {
        let spaces = sources.spaces.iter().map(|p| read_space(p)).collect::<Result<_, _>>()?;
        Ok(Self { paths: sources.spaces.clone(), spaces })
    }

    pub(super) fn paths(&self) -> &[PathBuf] {
        &self.paths
    }

    pub(super) fn spaces(&self) -> &[Space] {
        &self.spaces
    }

    /// Every space with its name.
    pub(super) fn named(&self) -> impl Iterator<Item = (String, &Space)> {
        self.paths.iter().map(|p| p.display().to_string()).zip(&self.spaces)
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
