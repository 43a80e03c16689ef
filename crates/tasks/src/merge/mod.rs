//! Spaces of several laboratories joined from their files alone.
//!
//! | file | what it holds |
//! |---|---|
//! | `settings` | what is asked for |
//! | `section` | what a reader is shown |

mod section;
mod settings;

use formkin_report::document::{Front, Section};
use formkin_shape::merge::{LOST, Merged, merge};
use serde_json::{Value, json};

pub use settings::{MergeInputs, MergeSettings, MergeSources};

use crate::{Delivery, Facts, InStudy, Problems, Progress, Store, Target, Task, TaskError};

/// Spaces of several laboratories joined from their files alone.
#[derive(Debug, Clone, Copy)]
pub struct Merge;

impl Task for Merge {
    const NAME: &'static str = "merge";
    const ABOUT: &'static str = "Join spaces of several laboratories from their files alone";
    const EXAMPLES: &'static str = "Example:
  formkin merge north.safetensors south.safetensors --into both.safetensors

Only the files of spaces are read; people must not be in two of them.";
    const TARGETS: &'static [Target] = &[Target::File {
        option: "into",
        value: "S.safetensors",
        about: "The space to write",
        required: true,
        name: "merged.safetensors",
    }];
    const IN_STUDY: InStudy = InStudy::Never;

    type Sources = MergeSources;
    type Settings = MergeSettings;
    type Inputs = MergeInputs;
    type Outcome = Merged;

    fn check(sources: &MergeSources, _: &MergeSettings, _: &Facts, problems: &mut Problems) {
        sources.check(problems);
    }

    fn open(sources: &MergeSources, _: &MergeSettings) -> Result<MergeInputs, TaskError> {
        MergeInputs::open(sources)
    }

    fn run(settings: &MergeSettings, inputs: &MergeInputs, _: Progress<'_>) -> Result<Merged, TaskError> {
        Ok(merge(inputs.spaces(), settings.modes)?)
    }

    fn object(_: &MergeSettings, inputs: &MergeInputs, made: &Merged) -> Result<Value, TaskError> {
        let space = &made.space;
        Ok(json!({
            "spaces": inputs.paths(),
            "people": space.people,
            "items": space.items,
            "modes": space.modes.len(),
            "variances_mm2": space.variances_mm2,
            "total_variance_mm2": space.total_variance_mm2,
            "bound": made.bound,
            "lost": LOST,
        }))
    }

    fn deliver<'a>(
        _: &'a MergeSettings,
        _: &'a MergeInputs,
        made: &'a Merged,
    ) -> Result<Delivery<'a>, TaskError> {
        let bytes = || Ok(made.space.to_safetensors());
        Ok(Delivery::new().made("merged.safetensors", "The merged shape space", bytes))
    }

    fn section(
        _: &MergeSettings,
        inputs: &MergeInputs,
        made: &Merged,
        _: &Store,
    ) -> Result<Vec<Section>, TaskError> {
        Ok(section::sections(inputs, made))
    }

    fn front(_: &MergeSettings, _: &MergeInputs, made: &Merged) -> Result<Option<Front>, TaskError> {
        Ok(Some(section::front(made)))
    }
}
