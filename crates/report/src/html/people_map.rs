//! A map of people, coloured by a column that the reader picks.

use std::collections::BTreeSet;

use formkin_shape::MapMethod;
use serde::Serialize;

use super::body::Body;
use super::views::Views;
use crate::charts::{Cloud, escape};
use crate::format::{about, counted, fixed, percent, words};
use crate::{MapColumn, ReportError, ShapePart};

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

/// The section; nothing without a map.
pub(crate) fn section(part: &ShapePart<'_>, views: &mut Views<'_>) -> Result<Option<Body>, ReportError> {
    let Some((map, names)) = part.map else { return Ok(None) };
    let mut body = Body::default();
    let people = counted(map.positions.len(), "person", "people");
    let (x, y, numbers) = match map.method {
        MapMethod::Coefficients => {
            body.paragraph(&format!(
                "{people} by their first two shape coefficients, which hold {} of the variance of shape. Distances on this map are millimetres (root mean square over the skin), of these two \
                 modes alone: people who lie together may differ in all others.",
                percent(map.share.unwrap_or(0.0))
            ));
            ("first coefficient, mm", "second coefficient, mm", true)
        }
        MapMethod::Diffusion => {
            body.paragraph(&format!(
                "{people}, laid out so that people who can be reached from each other by many short steps between like bodies lie together (a diffusion map of {} shape coefficients). The axes have \
                 no unit, and a distance on this map is not a distance in millimetres.",
                map.modes
            ));
            body.note(&format!(
                "Steps are short against {} mm (root mean square between two bodies): the distance at which the number of neighbours grows fastest, or the larger one at which nobody is without \
                 five neighbours. The eigenvalues of the axes are {}; {}.",
                about(map.bandwidth_mm.unwrap_or(0.0), 1),
                map.eigenvalues.iter().map(|l| fixed(*l, 2)).collect::<Vec<_>>().join(" and "),
                map.dimension.map_or_else(String::new, |d| format!(
                    "people lie on about {} dimensions, of which the map shows two",
                    fixed(d, 1)
                ))
            ));
            if map.axes[1] > 2 {
                body.note(&format!(
                    "The second axis is diffusion coordinate {}: those before it follow from the first axis (a bend of it) and say nothing new.",
                    map.axes[1]
                ));
            }
            ("first axis, no unit", "second axis, no unit", false)
        }
    };
    let columns: Vec<SentColumn> = part.map_columns.iter().map(sent).collect();
    let first = columns.iter().position(|c| c.groups.is_some()).unwrap_or(0);
    let groups = columns.get(first).filter(|c| c.groups.is_some()).map_or_else(
        || vec![Some(0); names.len()],
        |c| c.values.iter().map(|v| v.map(|x| x as usize)).collect(),
    );
    let title = "The people, by shape";
    let drawings = Cloud {
        id: "people-map",
        title,
        description: "One mark a person; like people lie near each other.",
        x,
        y,
        points: &map.positions,
        groups,
        names,
        even: map.method == MapMethod::Coefficients,
        numbers,
    }
    .drawings();
    let options: String = columns
        .iter()
        .enumerate()
        .map(|(i, c)| {
            let chosen = if i == first { " selected" } else { "" };
            format!("<option{chosen}>{}</option>", escape(&c.name))
        })
        .collect();
    let keys: String = columns.get(first).and_then(|c| c.groups.as_ref()).map_or_else(String::new, |g| {
        g.iter()
            .enumerate()
            .map(|(k, w)| {
                format!("<li class=\"s{}\"><span class=\"quiet\">{}</span></li>", k % 6 + 1, escape(w))
            })
            .collect()
    });
    let picker = if columns.is_empty() {
        String::new()
    } else {
        format!(
            "<p class=\"pick-column\"><label for=\"people-map-column\">Colour by</label> <select id=\"people-map-column\" autocomplete=\"off\" disabled>{options}</select></p>"
        )
    };
    if columns.is_empty() {
        body.markup(&format!("<figure class=\"figure\"><figcaption><span>{}</span></figcaption><div class=\"drawings\">{drawings}</div></figure>\n", escape(title)));
    } else {
        body.markup(&format!(
            "<div data-people-map=\"formkin-people\">{picker}<figure class=\"figure\"><figcaption><span>{}</span></figcaption><ul class=\"keys\" data-map-keys aria-live=\"polite\">{keys}</ul><div class=\"drawings\">{drawings}</div></figure></div>\n",
            escape(title)
        ));
        views.data("formkin-people", &Sent { people: names, columns })?;
    }
    if let (Some(kept), Some(chance)) = (map.neighbours_kept, map.neighbours_by_chance) {
        body.note(&format!(
            "Of the ten people nearest to somebody in millimetres, {} are among the ten nearest on the map; places by chance would give {}. Two coordinates cannot hold what many modes hold: look for \
             who lies apart, and test groups with a test.",
            percent(kept),
            percent(chance)
        ));
    }
    body.list("remarks", &map.notes);
    Ok(Some(body))
}

fn sent(column: &MapColumn<'_>) -> SentColumn {
    match column {
        MapColumn::Words { name, values } => {
            let groups: BTreeSet<&String> = values.iter().flatten().collect();
            let groups: Vec<String> = groups.into_iter().cloned().collect();
            let number = |v: &Option<String>| {
                v.as_ref().and_then(|w| groups.iter().position(|g| g == w)).map(|k| k as f64)
            };
            SentColumn {
                name: words(name, None),
                values: values.iter().map(number).collect(),
                groups: Some(groups),
                low: 0.0,
                high: 0.0,
                decimals: 0,
            }
        }
        MapColumn::Numbers { name, values } => {
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
                name: shown(name),
                groups: None,
                values: values.iter().map(rounded).collect(),
                low,
                high,
                decimals,
            }
        }
    }
}

/// `chest_girth_mm` becomes `chest girth` and `mm`.
pub(crate) fn name_and_unit(name: &str) -> (String, String) {
    for unit in ["mm2", "mm3", "mm", "cm", "kg", "deg", "years"] {
        if let Some(bare) = name.strip_suffix(unit).and_then(|n| n.strip_suffix('_')) {
            return (bare.replace('_', " "), crate::format::unit(unit));
        }
    }
    (words(name, None), String::new())
}

fn shown(name: &str) -> String {
    let (name, unit) = name_and_unit(name);
    if unit.is_empty() { name } else { format!("{name}, {unit}") }
}
