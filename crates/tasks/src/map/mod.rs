//! A map of people: two numbers a person, so that like people lie near each other.
//!
//! | file | what it holds |
//! |---|---|
//! | `settings` | what is asked for |
//! | `run` | people to places, with the columns to colour by |
//! | `section` | what a reader is shown |

mod run;
mod section;
mod settings;

use formkin_report::document::Section;
use formkin_table::NumberFormat::{Fixed, Shortest};
use formkin_table::Sheet;
use serde_json::{Value, json};

pub use run::{Colour, MapOutcome, lay_out};
pub use settings::{MapSettings, Method};

use crate::people::{PeopleInputs, PeopleSources};
use crate::{Delivery, Facts, InStudy, Need, Problems, Progress, Store, Target, Task, TaskError};

/// The delivered table.
const TABLE: &str = "people-map.csv";

/// A map of people.
#[derive(Debug, Clone, Copy)]
pub struct Map;

impl Task for Map {
    const NAME: &'static str = "map";
    const ABOUT: &'static str =
        "A map of people: two numbers a person, so that like people lie near each other";
    const EXAMPLES: &'static str = "Example:
  formkin map crew.safetensors --coefficients crew.parquet --table people.csv --into map.csv

A distance on the map is no distance in mm.";
    const TARGETS: &'static [Target] = &[Target::File {
        option: "into",
        value: "CSV",
        about: "The CSV table to write",
        required: false,
        name: TABLE,
    }];
    const IN_STUDY: InStudy = InStudy::Tried;

    type Sources = PeopleSources;
    type Settings = MapSettings;
    type Inputs = PeopleInputs;
    type Outcome = MapOutcome;

    fn check(sources: &PeopleSources, settings: &MapSettings, facts: &Facts, problems: &mut Problems) {
        sources.check(problems);
        if let Some(columns) = &facts.columns {
            for name in settings.colour.iter().flatten() {
                problems.column("colour", "column", name, columns, false);
            }
        }
    }

    fn open(sources: &PeopleSources, _: &MapSettings) -> Result<PeopleInputs, TaskError> {
        PeopleInputs::open(sources)
    }

    fn needs() -> Vec<Need> {
        PeopleInputs::needs()
    }

    fn gather(_: &PeopleSources, _: &MapSettings, store: &Store) -> Result<Option<PeopleInputs>, TaskError> {
        PeopleInputs::of(store)
    }

    fn run(settings: &MapSettings, inputs: &PeopleInputs, _: Progress<'_>) -> Result<MapOutcome, TaskError> {
        lay_out(&inputs.people, settings)
    }

    fn object(_: &MapSettings, _: &PeopleInputs, made: &MapOutcome) -> Result<Value, TaskError> {
        let mut object = serde_json::to_value(&made.map).map_err(TaskError::json(Self::NAME))?;
        object["people"] = json!(made.participants.len());
        object["participants"] = json!(made.participants);
        let column = |(name, c): &(String, Colour)| {
            let kind = if matches!(c, Colour::Numbers(_)) { "numbers" } else { "groups" };
            json!({ "column": name, "kind": kind })
        };
        object["columns"] = made.columns.iter().map(column).collect();
        Ok(object)
    }

    fn deliver<'a>(
        _: &'a MapSettings,
        _: &'a PeopleInputs,
        made: &'a MapOutcome,
    ) -> Result<Delivery<'a>, TaskError> {
        let what = "A map of people: two numbers a person, and their columns";
        Ok(Delivery::new().sheet(TABLE, what, table(made)))
    }

    fn section(
        _: &MapSettings,
        _: &PeopleInputs,
        made: &MapOutcome,
        _: &Store,
    ) -> Result<Vec<Section>, TaskError> {
        Ok(vec![section::section(made)])
    }
}

/// One row a person: participant, both coordinates, the columns.
fn table(made: &MapOutcome) -> Sheet {
    let unit = made.map.eigenvalues.is_empty().then_some("mm");
    let axis = |k: usize| made.map.positions.iter().map(move |at| at[k]);
    let mut sheet = Sheet::new()
        .text("participant", "Pseudonym of the person", made.participants.iter().cloned())
        .number("map_1", unit, "Place along the map", Fixed(6), axis(0))
        .number("map_2", unit, "Place up the map", Fixed(6), axis(1));
    for (name, column) in &made.columns {
        let what = "As known of the person";
        sheet = match column {
            Colour::Words(words) => {
                sheet.text(name, what, words.iter().map(|w| w.clone().unwrap_or_default()))
            }
            Colour::Numbers(numbers) => {
                sheet.optional_number(name, None, what, Shortest, numbers.iter().copied())
            }
        };
    }
    sheet
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::facts::Column;
    use crate::problem::Given;

    #[test]
    fn columns_that_are_not_there_are_named() {
        let facts =
            Facts { columns: Some(vec![Column { name: "sex".into(), numbers: false }]), ..Facts::default() };
        let settings = MapSettings { colour: Some(vec!["sexx".into()]), ..MapSettings::default() };
        let mut problems = Problems::new(Given::Section("map".into()));
        Map::check(&PeopleSources::default(), &settings, &facts, &mut problems);
        let said: Vec<String> = problems.found.iter().map(ToString::to_string).collect();
        assert_eq!(said, ["map.colour: there is no column `sexx`; did you mean `sex`?"]);
    }
}
