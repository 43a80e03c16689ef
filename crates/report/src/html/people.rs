//! A map of people as markup, and the data that its script recolours it by.

use std::collections::BTreeSet;

use serde::Serialize;

use super::carrier::Carrier;
use crate::charts::{Cloud, escape};
use crate::document::view::{Colouring, PeopleMap};
use crate::error::ReportError;

/// What the script needs.
#[derive(Serialize)]
struct Sent<'a> {
    people: &'a [String],
    columns: Vec<SentColumn>,
}

/// A column: groups by number, or numbers.
#[derive(Serialize)]
struct SentColumn {
    name: String,
    groups: Option<Vec<String>>,
    values: Vec<Option<f64>>,
    low: f64,
    high: f64,
    decimals: usize,
}

/// The map, coloured by the first column of groups, with a picker where there are columns.
pub(super) fn markup(map: &PeopleMap, carrier: &mut Carrier) -> Result<String, ReportError> {
    let people = map.places.len();
    for column in &map.columns {
        let (Colouring::Words { name, .. } | Colouring::Numbers { name, .. }) = column;
        let values = match column {
            Colouring::Words { values, .. } => values.len(),
            Colouring::Numbers { values, .. } => values.len(),
        };
        if values != people {
            return Err(ReportError::Mismatch {
                part: format!("the map `{}`", map.id),
                reason: format!("the column `{name}` has {values} values for {people} people"),
            });
        }
    }
    let columns: Vec<SentColumn> = map.columns.iter().map(sent).collect();
    let first = columns.iter().position(|c| c.groups.is_some()).unwrap_or(0);
    let groups = columns
        .get(first)
        .filter(|c| c.groups.is_some())
        .map_or_else(|| vec![Some(0); people], |c| c.values.iter().map(|v| v.map(|x| x as usize)).collect());
    let id = escape(&map.id);
    let title = escape(&map.title);
    let drawings = Cloud {
        id: &format!("{}-map", map.id),
        title: &map.title,
        description: &map.description,
        x: &map.x,
        y: &map.y,
        points: &map.places,
        groups,
        names: &map.names,
        even: map.even,
        numbers: map.numbers,
    }
    .drawings();
    let caption = format!("<figcaption><span>{title}</span></figcaption>");
    let drawings = format!("<div class=\"drawings\">{drawings}</div>");
    if columns.is_empty() {
        return Ok(format!("<figure class=\"figure\">{caption}{drawings}</figure>\n"));
    }
    let picker = format!(
        "<p class=\"pick-column\"><label for=\"{id}-map-column\">Colour by</label> <select id=\"{id}-map-column\" autocomplete=\"off\" disabled>{}</select></p>",
        options(&columns, first)
    );
    let keys =
        format!("<ul class=\"keys\" data-map-keys aria-live=\"polite\">{}</ul>", keys(&columns, first));
    carrier.add(&format!("formkin-{}", map.id), &Sent { people: &map.names, columns })?;
    Ok(format!(
        "<div data-people-map=\"formkin-{id}\">{picker}<figure class=\"figure\">{caption}{keys}{drawings}</figure></div>\n"
    ))
}

fn options(columns: &[SentColumn], first: usize) -> String {
    let of = |(i, c): (usize, &SentColumn)| {
        let chosen = if i == first { " selected" } else { "" };
        format!("<option{chosen}>{}</option>", escape(&c.name))
    };
    columns.iter().enumerate().map(of).collect()
}

fn keys(columns: &[SentColumn], first: usize) -> String {
    let of = |(k, w): (usize, &String)| {
        format!("<li class=\"s{}\"><span class=\"quiet\">{}</span></li>", k % 6 + 1, escape(w))
    };
    let groups = columns.get(first).and_then(|c| c.groups.as_ref());
    groups.into_iter().flatten().enumerate().map(of).collect()
}

fn sent(column: &Colouring) -> SentColumn {
    match column {
        Colouring::Words { name, values } => {
            let groups: BTreeSet<&String> = values.iter().flatten().collect();
            let groups: Vec<String> = groups.into_iter().cloned().collect();
            let number = |v: &Option<String>| {
                v.as_ref().and_then(|w| groups.iter().position(|g| g == w)).map(|k| k as f64)
            };
            SentColumn {
                name: name.clone(),
                values: values.iter().map(number).collect(),
                groups: Some(groups),
                low: 0.0,
                high: 0.0,
                decimals: 0,
            }
        }
        Colouring::Numbers { name, values } => {
            let given = || values.iter().flatten().copied();
            let (low, high) =
                (given().fold(f64::INFINITY, f64::min), given().fold(f64::NEG_INFINITY, f64::max));
            let decimals = if high - low > 20.0 {
                0
            } else if high - low > 2.0 {
                1
            } else {
                2
            };
            let rounded = |v: &Option<f64>| v.map(|x| (x * 1000.0).round() / 1000.0);
            SentColumn {
                name: name.clone(),
                groups: None,
                values: values.iter().map(rounded).collect(),
                low,
                high,
                decimals,
            }
        }
    }
}
