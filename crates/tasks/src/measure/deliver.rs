//! The object for programs, and the tables.

use formkin_geometry::Template;
use formkin_table::{Sheet, Table};
use serde_json::{Value, json};

use super::answer::words_of;
use super::drawing::draw;
use super::run::{Explained, MeasureInputs, MeasureOutcome};
use super::settings::{MeasureSettings, Per};
use crate::Delivery;

/// The table that is asked for: a row an item, or a row a person.
fn asked<'a>(settings: &MeasureSettings, made: &'a MeasureOutcome) -> &'a Table {
    match settings.per {
        Per::Item => &made.table,
        Per::Person => &made.people,
    }
}

/// The figures.
pub(super) fn object(settings: &MeasureSettings, inputs: &MeasureInputs, made: &MeasureOutcome) -> Value {
    if let Some(Explained { definition, on_template }) = &made.explained {
        return json!({ "definition": definition, "on_template": on_template });
    }
    let topology = inputs.cohort.template().mesh.topology();
    json!({
        "people": made.people.rows(),
        "items": made.table.rows(),
        "vertices": topology.vertices(),
        "triangles": topology.triangles().len(),
        "watertight": made.watertight,
        "measurements": rows(asked(settings, made)),
        "dimensions": made.summaries,
        "remarks": made.remarks,
        "handbook": made.handbook,
    })
}

/// One object a row: its name, then the numbers under their headers.
fn rows(table: &Table) -> Vec<Value> {
    (0..table.rows())
        .map(|row| {
            let mut object = json!({ &table.id: table.ids[row] });
            for column in &table.texts {
                object[&column.name] = json!(column.values[row]);
            }
            for column in &table.numbers {
                object[column.header()] = json!(column.values[row]);
            }
            object
        })
        .collect()
}

/// The tables; of an explained definition its picture.
pub(super) fn files<'a>(
    settings: &MeasureSettings,
    template: &'a Template,
    made: &'a MeasureOutcome,
) -> Delivery<'a> {
    if let Some(explained) = &made.explained {
        let what = "How a dimension is taken, on the template";
        return Delivery::new().made("dimensions.csv", what, move || {
            let Explained { definition, on_template } = explained;
            let words = words_of(definition);
            Ok(draw(definition, on_template, template, &definition.name, &words[..1]).into_bytes())
        });
    }
    let table = asked(settings, made);
    let rows = if settings.per == Per::Item { "one row an item" } else { "one row a person" };
    let files =
        Delivery::new().sheet("dimensions.csv", format!("Body dimensions, {rows}"), Sheet::from(table));
    match made.contours.numbers.is_empty() {
        true => files,
        false => files.sheet(
            "contours.csv",
            "Contours of the skin beside the taut tapes",
            Sheet::from(&made.contours),
        ),
    }
}
