//! What a reader is shown: the map, coloured by a column that the reader picks.

use formkin_report::document::view::{Colouring, PeopleMap as Map, View};
use formkin_report::document::{Body, Section};
use formkin_report::format::{about, counted, fixed, percent, words};
use formkin_shape::MapMethod;

use super::{Colour, MapOutcome};
use crate::figures::name_and_unit;

/// The section, with its answer.
pub(super) fn section(made: &MapOutcome) -> Section {
    Section {
        id: "people-map".to_owned(),
        title: "A map of the people".to_owned(),
        answer: answer(made),
        body: body(made),
        ..Section::default()
    }
}

fn answer(made: &MapOutcome) -> Vec<String> {
    let (map, people) = (&made.map, made.participants.len());
    let mut lines = vec![match (map.method, map.bandwidth_mm, map.dimension) {
        (MapMethod::Diffusion, Some(b), Some(d)) => format!(
            "{people} people by {} coefficients; bandwidth {b:.1} mm RMS between bodies; people lie on about {d:.1} dimensions; axes: diffusion coordinates 1 and {}",
            map.modes, map.axes[1]
        ),
        _ => format!(
            "{people} people by the first 2 of {} coefficients, which hold {:.1} % of their variance",
            map.modes,
            100.0 * map.share.unwrap_or(0.0)
        ),
    }];
    if let (Some(kept), Some(chance)) = (map.neighbours_kept, map.neighbours_by_chance) {
        lines.push(format!(
            "of the 10 people nearest in mm {:.0} % are among the 10 nearest on the map (by chance {:.0} %)",
            100.0 * kept,
            100.0 * chance
        ));
    }
    lines.push(
        "a distance on the map is no distance in mm; who lies together is alike, who lies apart may differ in anything"
            .into(),
    );
    lines.extend(map.notes.iter().map(|n| format!("note: {n}")));
    lines
}

fn body(made: &MapOutcome) -> Body {
    let map = &made.map;
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
    body.view(View::People(Map {
        id: "people".to_owned(),
        title: "The people, by shape".to_owned(),
        description: "One mark a person; like people lie near each other.".to_owned(),
        x: x.to_owned(),
        y: y.to_owned(),
        places: map.positions.clone(),
        names: made.participants.clone(),
        columns: made.columns.iter().map(colouring).collect(),
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
    body
}

fn colouring((name, column): &(String, Colour)) -> Colouring {
    match column {
        Colour::Words(values) => Colouring::Words { name: words(name, None), values: values.clone() },
        Colour::Numbers(values) => Colouring::Numbers { name: shown(name), values: values.clone() },
    }
}

fn shown(name: &str) -> String {
    let (name, unit) = name_and_unit(name);
    if unit.is_empty() { name } else { format!("{name}, {unit}") }
}
