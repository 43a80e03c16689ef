//! Words of a study file or a command line, turned into checked settings.

use formkin_align::{Removes, Weighting};
use formkin_cohort::{Cohort, Unit, Up};
use formkin_geometry::Template;
use formkin_motion::ModeWeighting;

use crate::TaskError;

/// `rigid`, `similarity` or `standing`.
///
/// # Errors
/// [`TaskError::Setting`] for any other word.
pub fn removes(setting: &'static str, word: &str) -> Result<Removes, TaskError> {
    match word {
        "rigid" => Ok(Removes::Rigid),
        "similarity" => Ok(Removes::Similarity),
        "standing" => Ok(Removes::Standing),
        _ => Err(unknown(setting, word, "rigid, similarity, standing")),
    }
}

/// `area`, `plain`, or a region of the template.
///
/// # Errors
/// [`TaskError::Setting`] where the template has no such region.
pub fn weighting(setting: &'static str, word: &str, template: &Template) -> Result<Weighting, TaskError> {
    match word {
        "area" => Ok(Weighting::Area),
        "plain" => Ok(Weighting::Plain),
        name => match template.regions.get(name) {
            Some(vertices) => Ok(Weighting::Region { vertices: vertices.clone() }),
            None => Err(unknown(setting, name, &format!("area, plain, or {}", regions(template)))),
        },
    }
}

/// `area` or `plain`.
///
/// # Errors
/// [`TaskError::Setting`] for any other word.
pub fn mode_weighting(setting: &'static str, word: &str) -> Result<ModeWeighting, TaskError> {
    match word {
        "area" => Ok(ModeWeighting::Area),
        "plain" => Ok(ModeWeighting::Plain),
        _ => Err(unknown(setting, word, "area, plain")),
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
        let list = |names: Vec<&str>| if names.is_empty() { "none".to_owned() } else { names.join(", ") };
        let landmarks = list(template.landmarks.keys().map(String::as_str).collect());
        let regions = list(template.regions.keys().map(String::as_str).collect());
        let known = format!("the landmarks of the template ({landmarks}) and its regions ({regions})");
        unknown(setting, name, &known)
    })
}

/// The regions of a template, in words.
fn regions(template: &Template) -> String {
    let known: Vec<&str> = template.regions.keys().map(String::as_str).collect();
    format!("a region of the template ({})", known.join(", "))
}

/// `auto`, `mm`, `cm` or `m`.
///
/// # Errors
/// [`TaskError::Setting`] for any other word.
pub fn unit(setting: &'static str, word: &str) -> Result<Unit, TaskError> {
    [Unit::Auto, Unit::Mm, Unit::Cm, Unit::M]
        .into_iter()
        .find(|u| u.name() == word)
        .ok_or_else(|| unknown(setting, word, "auto, mm, cm, m"))
}

/// `auto`, `x`, `y` or `z`.
///
/// # Errors
/// [`TaskError::Setting`] for any other word.
pub fn up(setting: &'static str, word: &str) -> Result<Up, TaskError> {
    [Up::Auto, Up::X, Up::Y, Up::Z]
        .into_iter()
        .find(|u| u.name() == word)
        .ok_or_else(|| unknown(setting, word, "auto, x, y, z"))
}

/// Which items a piece of work takes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize, serde::Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Items {
    /// Still poses; all items where there are none.
    Stills,
    /// Still poses and frames.
    All,
}

impl Items {
    /// `stills` or `all`.
    ///
    /// # Errors
    /// [`TaskError::Setting`] for any other word.
    pub fn parse(setting: &'static str, word: &str) -> Result<Self, TaskError> {
        match word {
            "stills" => Ok(Self::Stills),
            "all" => Ok(Self::All),
            _ => Err(unknown(setting, word, "stills, all")),
        }
    }

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

fn unknown(setting: &'static str, value: &str, known: &str) -> TaskError {
    TaskError::Setting { setting, value: value.to_owned(), known: known.to_owned() }
}
