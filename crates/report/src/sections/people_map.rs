//! A map of people, coloured by a column that the reader picks.

use formkin_shape::MapMethod;

use crate::document::Body;
use crate::document::view::{Colouring, PeopleMap, View};
use crate::format::{about, counted, fixed, percent, words};
use crate::{MapColumn, ShapePart};

/// The section; nothing without a map.
pub(crate) fn section(part: &ShapePart<'_>) -> Option<Body> {
    let Some((map, names)) = part.map else { return None };
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
    body.view(View::People(PeopleMap {
        id: "people".to_owned(),
        title: "The people, by shape".to_owned(),
        description: "One mark a person; like people lie near each other.".to_owned(),
        x: x.to_owned(),
        y: y.to_owned(),
        places: map.positions.clone(),
        names: names.to_vec(),
        columns: part.map_columns.iter().map(colouring).collect(),
        even: map.method == MapMethod::Coefficients,
        numbers,
    }));
    if let (Some(kept), Some(chance)) = (map.neighbours_kept, map.neighbours_by_chance) {
        body.note(&format!(
            "Of the ten people nearest to somebody in millimetres, {} are among the ten nearest on the map; places by chance would give {}. Two coordinates cannot hold what many modes hold: look for \
             who lies apart, and test groups with a test.",
            percent(kept),
            percent(chance)
        ));
    }
    body.remarks(&map.notes);
    Some(body)
}

fn colouring(column: &MapColumn<'_>) -> Colouring {
    match column {
        MapColumn::Words { name, values } => {
            Colouring::Words { name: words(name, None), values: values.to_vec() }
        }
        MapColumn::Numbers { name, values } => {
            Colouring::Numbers { name: shown(name), values: values.to_vec() }
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
