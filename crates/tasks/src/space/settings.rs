//! What is asked for.

use std::path::PathBuf;

use formkin_geometry::Template;
use formkin_shape::{CriteriaParams, QualityParams, SpaceParams};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::choices::{Align, Which, align_params};
use crate::{Facts, Problems, TaskError};

/// The files of the command, and what it predicts from.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct SpaceSources {
    /// The cohort
    #[schemars(extend("position" = 1, "needed" = true))]
    pub cohort: PathBuf,
    /// Definitions of dimensions: they are taken, and the space can predict bodies from them
    #[schemars(extend("value" = "TOML"))]
    pub dimensions: Option<PathBuf>,
    /// A dimension or column from which predictions are cross-validated; may be given again
    #[schemars(extend("value" = "NAME"))]
    pub predict_from: Vec<String>,
}

/// What is asked for.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct SpaceSettings {
    /// What alignment removes
    pub align: Align,
    /// Vertex weights: `area`, `plain`, or a region of the template
    pub weights: String,
    /// Most modes to keep
    #[schemars(range(min = 1), extend("value" = "K"))]
    pub modes: usize,
    /// Folds of the cross-validation, grouped by participant
    #[schemars(range(min = 2))]
    pub folds: usize,
    /// Held-out error at which there are modes enough
    #[schemars(extend("unit" = "mm", "exclusiveMinimum" = 0))]
    pub target_mm: f64,
    /// People held out, fold by fold, to find the error of the modes
    #[schemars(extend("without" = "Leave the cross-validation out"))]
    pub cross_validation: bool,
    /// Seed of folds, nulls and draws
    pub seed: u64,
    /// Which items the space is built from
    pub items: Which,
    /// Other criteria of how many modes, their stability, and errors of vertices
    #[schemars(extend(
        "without" = "Leave out the other criteria of how many modes, their stability, and errors of vertices"
    ))]
    pub criteria: bool,
    /// Nulls of the parallel analysis
    #[schemars(range(min = 200, max = 100_000), extend("rare" = true))]
    pub nulls: usize,
    /// Draws of people for the stability of modes, 20 or more; 0 leaves it out
    #[schemars(range(max = 100_000), extend("rare" = true))]
    pub draws: usize,
    /// Also find compactness, generalisation and specificity: every person is left out in turn
    pub quality: bool,
    /// With quality, distances between surfaces too
    #[schemars(extend(
        "rare" = true,
        "without" = "With --quality: leave out distances between surfaces, which take most of the time"
    ))]
    pub surfaces: bool,
    /// Modes in the glTF file
    #[schemars(range(min = 1), extend("rare" = true, "value" = "K"))]
    pub glb_modes: usize,
}

/// Most modes that a space of people keeps unless it is asked for more.
const MODES: usize = 60;
/// Modes in the glTF file.
const GLB_MODES: usize = 5;
/// Fewest draws that say something of stability.
const FEWEST_DRAWS: usize = 20;

impl Default for SpaceSettings {
    fn default() -> Self {
        let SpaceParams { folds, target_mm, seed, cross_validate, .. } = SpaceParams::default();
        let CriteriaParams { nulls, draws, .. } = CriteriaParams::default();
        Self {
            align: Align::default(),
            weights: "area".to_owned(),
            modes: MODES,
            folds,
            target_mm,
            cross_validation: cross_validate,
            seed,
            items: Which::default(),
            criteria: true,
            nulls,
            draws,
            quality: false,
            surfaces: QualityParams::default().surfaces,
            glb_modes: GLB_MODES,
        }
    }
}

impl SpaceSources {
    pub(super) fn check(&self, problems: &mut Problems) {
        if !self.predict_from.is_empty() && self.dimensions.is_none() {
            problems.wrong("predict_from", "it needs dimensions to predict from", "add --dimensions");
        }
    }
}

impl SpaceSettings {
    pub(super) fn check(&self, facts: &Facts, problems: &mut Problems) {
        if let Some(regions) = facts.regions() {
            let names = ["area", "plain"].into_iter().chain(regions.iter().copied());
            problems.name("weights", "weighting or region", &self.weights, names);
        }
        let enough = self.draws == 0 || self.draws >= FEWEST_DRAWS;
        problems.within("draws", enough, self.draws, "0 for none, or 20 to 100000");
    }

    pub(super) fn params(&self, template: &Template) -> Result<SpaceParams, TaskError> {
        Ok(SpaceParams {
            align: align_params(self.align, &self.weights, template)?,
            max_modes: Some(self.modes),
            folds: self.folds,
            target_mm: self.target_mm,
            seed: self.seed,
            cross_validate: self.cross_validation,
        })
    }

    pub(super) fn criteria_params(&self, template: &Template) -> Option<CriteriaParams> {
        self.criteria.then(|| CriteriaParams {
            nulls: self.nulls,
            draws: self.draws,
            seed: self.seed,
            regions: template.regions.clone(),
            ..CriteriaParams::default()
        })
    }

    pub(super) fn quality_params(&self) -> Option<QualityParams> {
        let params =
            || QualityParams { seed: self.seed, surfaces: self.surfaces, ..QualityParams::default() };
        self.quality.then(params)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::problem::Given;

    fn said(settings: &SpaceSettings, facts: &Facts) -> Vec<String> {
        let mut problems = Problems::new(Given::Section("space".into()));
        settings.check(facts, &mut problems);
        problems.found.iter().map(ToString::to_string).collect()
    }

    #[test]
    fn weights_must_be_known_and_draws_enough() {
        let settings = SpaceSettings { weights: "torsso".into(), draws: 7, ..SpaceSettings::default() };
        let nameless = Facts { nameless: true, ..Facts::default() };
        let found = said(&settings, &nameless);
        assert!(found[0].starts_with("space.weights: there is no weighting or region `torsso`"), "{found:?}");
        assert_eq!(found[1], "space.draws: it is 7; it must be 0 for none, or 20 to 100000");
        assert_eq!(said(&settings, &Facts::default()).len(), 1, "what is not known is not held against it");
        assert!(said(&SpaceSettings { draws: 0, ..SpaceSettings::default() }, &nameless).is_empty());
    }

    #[test]
    fn predictions_on_a_command_line_need_dimensions() {
        let sources = SpaceSources { predict_from: vec!["stature".into()], ..SpaceSources::default() };
        let mut problems = Problems::new(Given::Command);
        sources.check(&mut problems);
        assert_eq!(
            problems.found[0].to_string(),
            "--predict-from: it needs dimensions to predict from; add --dimensions"
        );
        let sources = SpaceSources { dimensions: Some("d.toml".into()), ..sources };
        let mut problems = Problems::new(Given::Command);
        sources.check(&mut problems);
        assert!(problems.found.is_empty());
    }
}
