//! Mean and first modes of a space as glTF morph targets.

use std::path::PathBuf;

use formkin_report::document::Section;
use formkin_report::format::counted;
use formkin_shape::Space;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use serde_json::{Value, json};

use super::said;
use crate::bodies::read_space;
use crate::fields::Nothing;
use crate::space::space_glb;
use crate::{Delivery, InStudy, Progress, Store, Target, Task, TaskError};

/// Mean and first modes of a space as glTF morph targets.
#[derive(Debug, Clone, Copy)]
pub struct Glb;

/// The file of the command.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct GlbSources {
    /// The space
    #[schemars(extend("position" = 1, "needed" = true))]
    pub space: PathBuf,
}

/// What is asked for.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct GlbSettings {
    /// How many modes
    #[schemars(range(min = 1), extend("value" = "K"))]
    pub modes: usize,
}

impl Default for GlbSettings {
    fn default() -> Self {
        Self { modes: crate::space::SpaceSettings::default().glb_modes }
    }
}

impl GlbSettings {
    fn shown(&self, space: &Space) -> usize {
        space.modes.len().min(self.modes)
    }
}

impl Task for Glb {
    const NAME: &'static str = "export glb";
    const ABOUT: &'static str = "Mean and first modes of a space as glTF morph targets";
    const TARGETS: &'static [Target] = &[Target::File {
        option: "into",
        value: "FILE.glb",
        about: "The file to write",
        required: true,
        name: "space.glb",
    }];
    const IN_STUDY: InStudy = InStudy::Never;

    type Sources = GlbSources;
    type Settings = GlbSettings;
    type Inputs = Space;
    type Outcome = Nothing;

    fn open(sources: &GlbSources, _: &GlbSettings) -> Result<Space, TaskError> {
        read_space(&sources.space)
    }

    fn run(_: &GlbSettings, _: &Space, _: Progress<'_>) -> Result<Nothing, TaskError> {
        Ok(Nothing {})
    }

    fn object(settings: &GlbSettings, space: &Space, _: &Nothing) -> Result<Value, TaskError> {
        Ok(json!({ "modes": settings.shown(space), "vertices": space.mean.len() }))
    }

    fn deliver<'a>(
        settings: &'a GlbSettings,
        space: &'a Space,
        _: &'a Nothing,
    ) -> Result<Delivery<'a>, TaskError> {
        let what = "Mean and first modes as glTF morph targets";
        Ok(Delivery::new().made("space.glb", what, || space_glb(space, settings.modes)))
    }

    fn section(
        settings: &GlbSettings,
        space: &Space,
        _: &Nothing,
        _: &Store,
    ) -> Result<Vec<Section>, TaskError> {
        let modes = counted(settings.shown(space), "mode", "modes");
        Ok(said("glb", "A space as a body", format!("the mean and {modes}, each one standard deviation")))
    }
}
