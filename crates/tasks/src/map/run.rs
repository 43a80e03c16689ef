//! People to places, with the columns that a map can be coloured by.

use formkin_shape::PeopleMap;
use serde::{Deserialize, Serialize};

use super::MapSettings;
use crate::TaskError;
use crate::people::People;

/// A column that a map can be coloured by.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub enum Colour {
    /// Groups; none where a person has no value.
    Words(Vec<Option<String>>),
    /// Numbers.
    Numbers(Vec<Option<f64>>),
}

/// A map with who is on it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct MapOutcome {
    /// The map.
    pub map: PeopleMap,
    /// Participants, in its order.
    pub participants: Vec<String>,
    /// Columns by name.
    pub columns: Vec<(String, Colour)>,
}

/// Most groups that colours can tell apart.
const GROUPS: usize = 6;

/// Lays people out; the columns to colour by are those asked for, or all that have numbers or a few groups.
///
/// # Errors
/// Unknown columns, and what [`MapParams::lay_out`](formkin_shape::MapParams::lay_out) refuses.
pub fn lay_out(people: &People, settings: &MapSettings) -> Result<MapOutcome, TaskError> {
    let map = settings.params().lay_out(people.coefficients.view())?;
    let mut found = Vec::new();
    match &settings.colour {
        Some(names) => {
            for name in names {
                let colour = match people.numbers("colour", name) {
                    Ok(numbers) => Colour::Numbers(numbers),
                    Err(_) => Colour::Words(people.groups("colour", name)?),
                };
                found.push((name.clone(), colour));
            }
        }
        None => {
            let names = people.column_names();
            for name in &names {
                if ["item", "session", "capture", "frame", "mirrored"].contains(&name.as_str())
                    || name.starts_with("mode_")
                {
                    continue;
                }
                if let Some(colour) = colour(people, name) {
                    found.push((name.clone(), colour));
                }
            }
            // a table's column is there with its unit and without: one of them is enough
            let with_unit = |name: &str, colour: &Colour| {
                found.iter().any(|(other, c)| {
                    c == colour && other.len() > name.len() && other.starts_with(&format!("{name}_"))
                })
            };
            let twice: Vec<String> =
                found.iter().filter(|(n, c)| with_unit(n, c)).map(|(n, _)| n.clone()).collect();
            found.retain(|(n, _)| !twice.contains(n));
        }
    }
    Ok(MapOutcome { map, participants: people.names.clone(), columns: found })
}

/// A column that tells something: numbers that differ, or two to six groups.
fn colour(people: &People, name: &str) -> Option<Colour> {
    if let Ok(numbers) = people.numbers("colour", name) {
        let mut given = numbers.iter().flatten();
        let first = given.next()?;
        return given.any(|x| x != first).then_some(Colour::Numbers(numbers));
    }
    let words = people.groups("colour", name).ok()?;
    let mut groups: Vec<&String> = words.iter().flatten().collect();
    groups.sort_unstable();
    groups.dedup();
    (2..=GROUPS).contains(&groups.len()).then_some(Colour::Words(words))
}
