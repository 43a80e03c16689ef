//! Choices that several tasks have in common, as a person writes them.

use formkin_align::{AlignParams, Removes, Weighting};
use formkin_cohort::Cohort;
use formkin_geometry::Template;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::TaskError;

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

impl Which {
    /// The items it names, as indices into the accepted items of the cohort.
    ///
    /// # Errors
    /// [`TaskError::Nothing`] where the cohort has no accepted item.
    pub fn of(self, cohort: &Cohort) -> Result<Vec<usize>, TaskError> {
        let stills = cohort.stills();
        let chosen = match self {
            Self::Stills if !stills.is_empty() => stills,
            _ => (0..cohort.accepted().len()).collect(),
        };
        if chosen.is_empty() {
            return Err(TaskError::Nothing {
                what: format!("{} has no accepted item", cohort.path().display()),
                advice: "see items.csv in it for why each file was set aside".into(),
            });
        }
        Ok(chosen)
    }
}

/// A number for each person, in order of first appearance, one an item.
#[must_use]
pub fn people_of(cohort: &Cohort, items: &[usize]) -> Vec<usize> {
    let mut numbers = std::collections::BTreeMap::new();
    items
        .iter()
        .map(|&i| {
            let next = numbers.len();
            *numbers.entry(cohort.items()[i].participant.as_str()).or_insert(next)
        })
        .collect()
}

/// The parameters of an alignment; `weights` is `area`, `plain`, or a region of the template.
///
/// # Errors
/// [`TaskError::Setting`] where the template has no such region.
pub fn align_params(align: Align, weights: &str, template: &Template) -> Result<AlignParams, TaskError> {
    Ok(AlignParams {
        removes: align.into(),
        weighting: weighting("weights", weights, template)?,
        ..AlignParams::default()
    })
}

/// `area`, `plain`, or a region of the template.
fn weighting(setting: &'static str, word: &str, template: &Template) -> Result<Weighting, TaskError> {
    match word {
        "area" => Ok(Weighting::Area),
        "plain" => Ok(Weighting::Plain),
        name => match template.regions.get(name) {
            Some(vertices) => Ok(Weighting::Region { vertices: vertices.clone() }),
            None => Err(unknown(setting, name, &format!("area, plain, or {}", regions(template)))),
        },
    }
}

/// The vertices of a region of the template.
///
/// # Errors
/// [`TaskError::Setting`] with the regions that there are.
pub fn region(setting: &'static str, name: &str, template: &Template) -> Result<Vec<u32>, TaskError> {
    template.regions.get(name).cloned().ok_or_else(|| unknown(setting, name, &regions(template)))
}

/// A landmark or the vertices of a region of the template.
///
/// # Errors
/// [`TaskError::Setting`] with the landmarks and regions that there are.
pub fn place(setting: &'static str, name: &str, template: &Template) -> Result<Vec<u32>, TaskError> {
    if let Some(&vertex) = template.landmarks.get(name) {
        return Ok(vec![vertex]);
    }
    template.regions.get(name).cloned().ok_or_else(|| {
        let names = template.landmarks.keys().chain(template.regions.keys());
        unknown(setting, name, &names.map(String::as_str).collect::<Vec<_>>().join(", "))
    })
}

/// The names of the regions of a template.
fn regions(template: &Template) -> String {
    template.regions.keys().map(String::as_str).collect::<Vec<_>>().join(", ")
}

fn unknown(setting: &'static str, value: &str, known: &str) -> TaskError {
    TaskError::Setting { setting, value: value.to_owned(), known: known.to_owned() }
}
