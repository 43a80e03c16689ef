//! A definition in words, and taken on the template.

use formkin_geometry::Template;
use formkin_table::TableError;
use formkin_table::near::advice;

use crate::definition::{Cut, Definition, Direction, Extent, Extreme, Kind, Level, Line, Place, Slab};
use crate::{Dimensions, MeasureError, Measured, Taker};

/// The definition of this name, and its value and trace on the template.
///
/// # Errors
/// [`TableError::Column`] where there is none, with names near it.
pub fn explained<'d>(
    dimensions: &'d Dimensions,
    name: &str,
    template: &Template,
) -> Result<(&'d Definition, Measured), MeasureError> {
    let at = dimensions.position(name).ok_or_else(|| TableError::Column {
        column: name.to_owned(),
        reason: format!(
            "there is no such dimension; {}",
            advice(name, dimensions.definitions.iter().map(|d| d.name.as_str()))
        ),
    })?;
    let mut row = Taker::new(dimensions, template).take(template.mesh.positions());
    Ok((&dimensions.definitions[at], row.swap_remove(at)))
}

/// How a kind of dimension is taken, in a sentence.
#[must_use]
pub fn how(kind: &Kind) -> String {
    let and = |places: &[Place]| places.iter().map(place).collect::<Vec<_>>().join(" and ");
    match kind {
        Kind::Height { at, from: None } => {
            format!("vertical distance of {} above the lowest vertex", place(at))
        }
        Kind::Height { at, from: Some(from) } => {
            format!("vertical distance of {} above {}", place(at), place(from))
        }
        Kind::Distance { between } => format!("straight distance between {}", and(between)),
        Kind::Breadth { extent } => format!("extent from side to side {}", of(extent)),
        Kind::Depth { extent } => format!("extent from front to back {}", of(extent)),
        Kind::Girth { cut, line } => match line {
            Line::Tape => format!("taut tape (convex hull) around the section {}", section(cut)),
            Line::Contour => format!("length of the section itself {}", section(cut)),
        },
        Kind::Path { through, path, bridged } => {
            let way = match path {
                Some(path) => format!("along the template's path `{path}`"),
                None => format!("through {}", and(through)),
            };
            if *bridged {
                format!("taut tape over hollows, {way}")
            } else {
                format!("local geodesic over the skin, straight on the unfolded surface, {way}")
            }
        }
        Kind::Area { region, slab } => {
            format!("area of the skin{}{}", regions(" of", region), within(slab.as_ref()))
        }
        Kind::Volume { region, slab: None } if region.is_empty() => {
            "volume within the whole surface".to_owned()
        }
        Kind::Volume { region, slab } => {
            format!("volume{}{}", regions(" of", region), within(slab.as_ref()))
        }
        Kind::Angle { at, between } => {
            format!("angle at {} between the directions to {}", place(at), and(between))
        }
        Kind::Derived { formula } => format!("from other dimensions: {formula}"),
    }
}

fn place(place: &Place) -> String {
    match place {
        Place::Landmark(name) => format!("`{name}`"),
        Place::Joint(name) => format!("the centre of joint `{name}`"),
        Place::Middle(list) => {
            format!("the middle of {}", list.iter().map(self::place).collect::<Vec<_>>().join(" and "))
        }
        Place::Furthest { direction, region } => {
            let word = match direction {
                Direction::Up => "highest",
                Direction::Down => "lowest",
                Direction::Front => "foremost",
                Direction::Back => "rearmost",
                Direction::Left => "leftmost",
                Direction::Right => "rightmost",
            };
            format!("the {word} vertex{}", regions(" of", region))
        }
    }
}

fn regions(before: &str, names: &[String]) -> String {
    if names.is_empty() { String::new() } else { format!("{before} {}", names.join(" and ")) }
}

fn within(slab: Option<&Slab>) -> String {
    slab.map_or_else(String::new, |Slab { ends: [a, b], axis }| {
        let planes = match axis {
            None => "horizontal planes".to_owned(),
            Some([from, to]) => format!("planes across the line from {} to {}", place(from), place(to)),
        };
        format!(" between the {planes} through {} and {}", place(a), place(b))
    })
}

fn of(extent: &Extent) -> String {
    match extent {
        Extent::Places([a, b]) => format!("from {} to {}", place(a), place(b)),
        Extent::Regions(names) if names.is_empty() => "of the whole body".to_owned(),
        Extent::Regions(names) => format!("of {}", names.join(" and ")),
        Extent::Section(cut) => format!("of the section {}", section(cut)),
    }
}

fn section(cut: &Cut) -> String {
    let level = match &cut.level {
        Level::At { place: p, offset_mm } if *offset_mm == 0.0 => format!("at {}", place(p)),
        Level::At { place: p, offset_mm } => format!("{offset_mm} mm along the normal from {}", place(p)),
        Level::Between { ends: [a, b], fraction } => {
            format!("at {fraction} of the way from {} to {}", place(a), place(b))
        }
        Level::Search { ends: [a, b], which, step_mm } => {
            let which = if *which == Extreme::Largest { "largest" } else { "least" };
            format!(
                "where it is {which} between {} and {}, looked for every {step_mm} mm and refined",
                place(a),
                place(b)
            )
        }
    };
    let plane = match (&cut.axis, cut.plane.as_deref()) {
        (_, Some([a, b, c])) => {
            format!(", in the plane through {}, {} and {}", place(a), place(b), place(c))
        }
        (None, None) => ", horizontal".to_owned(),
        (Some([a, b]), None) => format!(", across the line from {} to {}", place(a), place(b)),
    };
    let around = cut.around.as_ref().map_or_else(String::new, |p| format!(", the piece around {}", place(p)));
    format!("{level}{plane}{}{}{around}", regions(", of", &cut.region), regions(", without", &cut.without))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::doll::{FILE, doll};

    #[test]
    fn every_kind_is_said_in_words_and_a_wrong_name_is_refused() {
        let (dims, template) = (Dimensions::from_toml(FILE).unwrap(), doll());
        for d in &dims.definitions {
            let (found, measured) = explained(&dims, &d.name, &template).unwrap();
            assert!(how(&found.kind).len() > 10 && measured.value.is_some(), "{}", d.name);
        }
        let wrong = explained(&dims, "waist_girht", &template).unwrap_err().to_string();
        assert!(wrong.contains("`waist_girth`"), "{wrong}");
    }
}
