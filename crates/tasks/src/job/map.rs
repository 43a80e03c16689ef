//! People -> a map of them, with the columns that it can be coloured by.

use formkin_shape::{MapParams, PeopleMap};
use serde::{Deserialize, Serialize};

use crate::TaskError;
use crate::job::rows::People;

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

/// Lays people out; `columns` are those to colour by, and where there are none all that have numbers or a few groups.
///
/// # Errors
/// Unknown columns, and what [`MapParams::lay_out`] refuses.
pub fn lay_out(
    people: &People,
    params: &MapParams,
    columns: Option<&[String]>,
) -> Result<MapOutcome, TaskError> {
    let map = params.lay_out(people.coefficients.view())?;
    let mut found = Vec::new();
    match columns {
        Some(names) => {
            for name in names {
                let colour = match people.numbers("a column of the map", name) {
                    Ok(numbers) => Colour::Numbers(numbers),
                    Err(_) => Colour::Words(people.groups("a column of the map", name)?),
                };
                found.push((name.clone(), colour));
            }
        }
        None => {
            let names = people.column_names();
            for name in &names {
                if ["item", "session", "capture", "mirrored"].contains(&name.as_str())
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
    if let Ok(numbers) = people.numbers("a column of the map", name) {
        let mut given = numbers.iter().flatten();
        let first = given.next()?;
        return given.any(|x| x != first).then_some(Colour::Numbers(numbers));
    }
    let words = people.groups("a column of the map", name).ok()?;
    let mut groups: Vec<&String> = words.iter().flatten().collect();
    groups.sort_unstable();
    groups.dedup();
    (2..=GROUPS).contains(&groups.len()).then_some(Colour::Words(words))
}

/// One row a person: participant, both coordinates, the columns.
#[must_use]
pub fn map_csv(made: &MapOutcome) -> String {
    let unit = if made.map.eigenvalues.is_empty() { "_mm" } else { "" };
    let mut out = String::new();
    let cell = |word: &str| -> String {
        if word.contains([',', '"', '\n']) {
            format!("\"{}\"", word.replace('"', "\"\""))
        } else {
            word.to_owned()
        }
    };
    out.push_str(&format!("participant,map_1{unit},map_2{unit}"));
    for (name, _) in &made.columns {
        out.push(',');
        out.push_str(&cell(name));
    }
    out.push('\n');
    for (i, (person, at)) in made.participants.iter().zip(&made.map.positions).enumerate() {
        out.push_str(&format!("{},{:.6},{:.6}", cell(person), at[0], at[1]));
        for (_, column) in &made.columns {
            out.push(',');
            match column {
                Colour::Words(words) => out.push_str(&words[i].as_deref().map_or_else(String::new, cell)),
                Colour::Numbers(numbers) => {
                    out.push_str(&numbers[i].map_or_else(String::new, |x| x.to_string()));
                }
            }
        }
        out.push('\n');
    }
    out
}
