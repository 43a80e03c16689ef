//! What is asked for.

use formkin_shape::{MapMethod, MapParams};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// How people are laid out.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Method {
    /// Where many short steps between like people lead
    #[default]
    Diffusion,
    /// The first two coefficients, in mm
    Coefficients,
}

impl From<Method> for MapMethod {
    fn from(method: Method) -> Self {
        match method {
            Method::Diffusion => Self::Diffusion,
            Method::Coefficients => Self::Coefficients,
        }
    }
}

/// What is asked for.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct MapSettings {
    /// How people are laid out
    pub method: Method,
    /// A column to colour by and to write, may be given again; all that have numbers or a few groups where absent
    #[schemars(extend("value" = "COLUMN"))]
    pub colour: Option<Vec<String>>,
    /// Coefficients that take part; all where absent
    #[schemars(range(min = 1), extend("value" = "K"))]
    pub modes: Option<usize>,
    /// Bodies nearer than this to each other are neighbours; chosen from the people where absent
    #[schemars(extend("unit" = "mm", "exclusiveMinimum" = 0))]
    pub bandwidth_mm: Option<f64>,
    /// Seed of which people a diffusion of more than 2,000 is worked out from
    pub seed: u64,
}

impl Default for MapSettings {
    fn default() -> Self {
        let MapParams { modes, bandwidth_mm, seed, .. } = MapParams::default();
        Self { method: Method::default(), colour: None, modes, bandwidth_mm, seed }
    }
}

impl MapSettings {
    pub(super) fn params(&self) -> MapParams {
        let Self { method, modes, bandwidth_mm, seed, .. } = *self;
        MapParams { method: method.into(), modes, bandwidth_mm, seed, ..MapParams::default() }
    }
}
