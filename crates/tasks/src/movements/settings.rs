//! What is asked for.

use formkin_motion::shared::{Origin, SharedParams};
use formkin_motion::soft::compare::CompareParams;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::signals::Pair;

/// What is asked for.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct MovementsSettings {
    /// Pairs of captures of one person, without and with a garment: `{ reference = "..", garment = ".." }`
    pub compare: Vec<Pair>,
    /// One motion space over all captures
    pub shared: Option<SharedSettings>,
    /// Seed of the intervals of comparisons
    pub seed: u64,
}

impl Default for MovementsSettings {
    fn default() -> Self {
        Self { compare: Vec::new(), shared: None, seed: CompareParams::default().seed }
    }
}

/// How one motion space over all captures is made.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct SharedSettings {
    /// What each capture is taken relative to
    pub origin: OriginChoice,
    /// Most modes to keep
    #[schemars(range(min = 1))]
    pub modes: usize,
    /// Most frames of all captures together: beyond, every capture is thinned evenly by the same step
    #[schemars(range(min = 2))]
    pub most_frames: usize,
}

impl Default for SharedSettings {
    fn default() -> Self {
        let SharedParams { origin, modes, most_frames } = SharedParams::default();
        Self { origin: origin.into(), modes, most_frames }
    }
}

impl From<SharedSettings> for SharedParams {
    fn from(SharedSettings { origin, modes, most_frames }: SharedSettings) -> Self {
        Self { origin: origin.into(), modes, most_frames }
    }
}

/// What a capture is taken relative to.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum OriginChoice {
    /// Its own mean
    Mean,
    /// Its own first frame
    FirstFrame,
}

impl From<Origin> for OriginChoice {
    fn from(origin: Origin) -> Self {
        match origin {
            Origin::Mean => Self::Mean,
            Origin::FirstFrame => Self::FirstFrame,
        }
    }
}

impl From<OriginChoice> for Origin {
    fn from(origin: OriginChoice) -> Self {
        match origin {
            OriginChoice::Mean => Self::Mean,
            OriginChoice::FirstFrame => Self::FirstFrame,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::facts::Sequence;
    use crate::fields::Nothing;
    use crate::movements::Movements;
    use crate::problem::Given;
    use crate::values::check_values;
    use crate::{Facts, Problems, Task};

    #[test]
    fn defaults_are_those_of_the_motion_space() {
        assert_eq!(SharedParams::from(SharedSettings::default()), SharedParams::default());
    }

    #[test]
    fn a_motion_space_without_modes_and_a_pair_without_a_garment_are_refused() {
        let values = serde_json::json!({ "shared": { "modes": 0 }, "compare": [{ "reference": "a" }] });
        let mut problems = Problems::new(Given::Section("movements".into()));
        check_values(
            &crate::fields::fields::<MovementsSettings>(),
            &serde_json::json!({
                "compare": values["compare"], "shared": values["shared"], "seed": 1,
            }),
            "",
            &mut problems,
        );
        let said: Vec<String> = problems.found.iter().map(ToString::to_string).collect();
        assert!(said.iter().any(|s| s.starts_with("movements.shared.modes: it is 0")), "{said:?}");
        assert!(said.iter().any(|s| s.contains("garment: it is missing")), "{said:?}");
    }

    #[test]
    fn pairs_are_of_captures_that_are_there() {
        let capture = Sequence {
            id: "C003_bare".into(),
            participant: "C003".into(),
            frames: 90,
            timed: true,
            times_s: Some((0.0, 1.0)),
        };
        let facts = Facts { captures: Some(vec![capture]), ..Facts::default() };
        let pair = Pair { reference: "C003_bare".into(), garment: "C003_suit".into() };
        let settings = MovementsSettings { compare: vec![pair], ..MovementsSettings::default() };
        let mut problems = Problems::new(Given::Section("movements".into()));
        Movements::check(&Nothing {}, &settings, &facts, &mut problems);
        assert!(
            problems.found[0].to_string().starts_with("movements.compare: there is no capture `C003_suit`")
        );
    }
}
