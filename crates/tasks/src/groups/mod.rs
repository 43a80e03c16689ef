//! What comparisons of groups and regressions of shape have in common: people with what they lack left out, columns that say nothing refused,
//! files and words of a result.
//!
//! | file | what it holds |
//! |---|---|
//! | `among` | a result among people |
//! | `choose` | who takes part, and columns that say nothing |
//! | `files` | the map over the vertices, the coloured body |
//! | `words` | the table of the tests, the lines of the answer, the painted body |

mod among;
mod choose;
mod files;
mod words;

use formkin_shape::Space;
use serde::Serialize;
use serde_json::{Value, json};

use crate::{Facts, Problems, TaskError};

pub use among::Among;
pub(crate) use choose::{choose, members, named, numbered, telling};
pub(crate) use files::{delivery, moved, scene};
pub(crate) use words::{ANOVA, anova_table, coloured, painted, people, tail, tested};

/// Files that a folder of a result holds.
pub(crate) const NAMES: &[&str] = &["map.csv", "effect.glb", "result.json"];
/// Columns that are not there, and those that are asked about and held fixed at once. Each asked column is a field, a name, and whether numbers are
/// needed.
pub(crate) fn check_columns(
    asked: &[(&str, &str, bool)],
    covariates: &[String],
    facts: &Facts,
    problems: &mut Problems,
) {
    for (field, name, _) in asked {
        if covariates.iter().any(|c| c == name) {
            let key = problems.key(field);
            problems.wrong(
                "covariate",
                format!("`{name}` is the column of {key}"),
                "leave it out: what is asked about cannot be held fixed too",
            );
        }
    }
    let Some(columns) = &facts.columns else { return };
    for (field, name, numbers) in asked {
        problems.column(field, "column", name, columns, *numbers);
    }
    for name in covariates {
        problems.column("covariate", "column", name, columns, false);
    }
}

/// The figures of a result but those that have one value a vertex, which are in map.csv.
///
/// # Errors
/// [`TaskError::Json`] where they cannot be written as JSON.
pub(crate) fn object<T: Serialize>(space: &Space, made: &Among<T>, of: &str) -> Result<Value, TaskError> {
    let mut value = serde_json::to_value(&made.result).map_err(TaskError::json(of))?;
    let effects: Vec<f64> =
        serde_json::from_value(value["place"]["effect_mm"].clone()).map_err(TaskError::json(of))?;
    let (low, high) = effects.iter().fold((0.0f64, 0.0f64), |(l, h), e| (l.min(*e), h.max(*e)));
    if let Some(place) = value["place"].as_object_mut() {
        for key in ["effect_mm", "p", "q"] {
            place.remove(key);
        }
        place.insert("least_effect_mm".into(), json!(low));
        place.insert("greatest_effect_mm".into(), json!(high));
    }
    value["people_compared"] = json!(made.people);
    value["unstable_modes"] = json!(space.unstable_modes());
    value["stability_asked_modes"] = json!(space.stability_asked_modes());
    value["left_out"] = json!(made.left_out);
    value["notes"] = json!(made.notes);
    Ok(value)
}
