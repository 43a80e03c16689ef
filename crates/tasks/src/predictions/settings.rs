//! What is asked for.

use formkin_shape::predict::PredictionParams;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::{Facts, Problems};

/// What is asked for.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct PredictionsSettings {
    /// Dimensions and columns from which predictions are cross-validated; none are where it is empty
    pub from: Vec<String>,
    /// Seed of the folds
    pub seed: u64,
}

impl Default for PredictionsSettings {
    fn default() -> Self {
        Self { from: Vec::new(), seed: PredictionParams::default().seed }
    }
}

impl PredictionsSettings {
    pub(super) fn check(&self, facts: &Facts, problems: &mut Problems) {
        if !facts.measured && !self.from.is_empty() {
            let advice = "add [measure] with `dimensions`";
            problems.wrong("from", "it needs dimensions to predict from", advice);
        } else if let Some(columns) = &facts.columns {
            for name in &self.from {
                problems.column("from", "dimension or column", name, columns, false);
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::facts::Column;
    use crate::problem::Given;

    #[test]
    fn columns_must_be_there() {
        let settings = PredictionsSettings {
            from: vec!["statuer".into(), "sex".into()],
            ..PredictionsSettings::default()
        };
        let column = |name: &str, numbers| Column { name: name.into(), numbers };
        let facts = Facts {
            columns: Some(vec![column("stature", true), column("sex", false)]),
            measured: true,
            ..Facts::default()
        };
        let said = |facts: &Facts| {
            let mut problems = Problems::new(Given::Section("predictions".into()));
            settings.check(facts, &mut problems);
            problems.found.iter().map(ToString::to_string).collect::<Vec<_>>()
        };
        assert_eq!(
            said(&facts),
            ["predictions.from: there is no dimension or column `statuer`; did you mean `stature`?"]
        );
        assert_eq!(
            said(&Facts { measured: false, ..facts }),
            ["predictions.from: it needs dimensions to predict from; add [measure] with `dimensions`"]
        );
    }
}
