//! Choices that several tasks have in common, as a person writes them.

use formkin_align::{AlignParams, Removes, Weighting};
use formkin_geometry::Template;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::TaskError;
use crate::choose::{self, Items};

/// What alignment removes.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Align {
    /// Translation and rotation; size stays
    #[default]
    Rigid,
    /// Translation, rotation and scale
    Similarity,
    /// Translation and heading only; the floor stays the floor
    Standing,
}

impl From<Align> for Removes {
    fn from(align: Align) -> Self {
        match align {
            Align::Rigid => Self::Rigid,
            Align::Similarity => Self::Similarity,
            Align::Standing => Self::Standing,
        }
    }
}

/// Which items take part.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Which {
    /// Still poses; all items where there are none
    #[default]
    Stills,
    /// Every item, frames too
    All,
}

impl From<Which> for Items {
    fn from(which: Which) -> Self {
        match which {
            Which::Stills => Self::Stills,
            Which::All => Self::All,
        }
    }
}

/// The parameters of an alignment; `weights` is `area`, `plain`, or a region of the template.
///
/// # Errors
/// [`TaskError::Setting`] where the template has no such region.
pub fn align_params(align: Align, weights: &str, template: &Template) -> Result<AlignParams, TaskError> {
    Ok(AlignParams {
        removes: align.into(),
        weighting: weighting(weights, template)?,
        ..AlignParams::default()
    })
}

/// `area`, `plain`, or a region of the template.
///
/// # Errors
/// [`TaskError::Setting`] where the template has no such region.
pub fn weighting(weights: &str, template: &Template) -> Result<Weighting, TaskError> {
    choose::weighting("weights", weights, template)
}
