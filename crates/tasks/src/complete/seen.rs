//! What is seen of a body: of a mesh, of regions, of landmarks.

use std::collections::BTreeSet;
use std::path::Path;

use formkin_geometry::{Point, Template};
use formkin_table::Table;

use crate::TaskError;
use crate::reading::read_text;

/// The vertices of a mesh that are seen: finite ones outside the named regions and the listed vertices.
///
/// # Errors
/// [`TaskError::Space`] for an unknown region or vertex.
pub(super) fn seen_of_mesh(
    positions: &[Point],
    template: Option<&Template>,
    regions: &[String],
    vertices: &[u32],
) -> Result<Vec<(u32, Point)>, TaskError> {
    let mut missing = vec![false; positions.len()];
    for name in regions {
        for &v in region(template, name)? {
            missing[v as usize] = true;
        }
    }
    for &v in vertices {
        match missing.get_mut(v as usize) {
            Some(gone) => *gone = true,
            None => return Err(TaskError::Space { reason: format!("there is no vertex {v}") }),
        }
    }
    let all = positions.iter().zip(&missing).enumerate();
    Ok(all
        .filter(|(_, (p, gone))| !**gone && p.iter().all(|x| x.is_finite()))
        .map(|(v, (p, _))| (v as u32, *p))
        .collect())
}

/// The vertices of a mesh within named regions alone.
///
/// # Errors
/// [`TaskError::Space`] for an unknown region.
pub(super) fn seen_of_regions(
    positions: &[Point],
    template: Option<&Template>,
    regions: &[String],
) -> Result<Vec<(u32, Point)>, TaskError> {
    let mut seen = BTreeSet::new();
    for name in regions {
        seen.extend(region(template, name)?.iter().copied());
    }
    Ok(seen.into_iter().map(|v| (v, positions[v as usize])).collect())
}

fn region<'t>(template: Option<&'t Template>, name: &str) -> Result<&'t [u32], TaskError> {
    let no = |reason: String| TaskError::Space { reason };
    let template = template.ok_or_else(|| no(no_names()))?;
    template.regions.get(name).map(Vec::as_slice).ok_or_else(|| {
        let known: Vec<&str> = template.regions.keys().map(String::as_str).collect();
        no(format!("it knows no region `{name}`; it knows {}", known.join(", ")))
    })
}

/// Landmarks of a table with the columns `x_mm`, `y_mm`, `z_mm`, one row a landmark, whose identifiers are names of the template or numbers of vertices.
///
/// # Errors
/// [`TaskError::Space`] for an unknown landmark or a column that is not there.
pub(super) fn seen_of_landmarks(
    table: &Table,
    template: Option<&Template>,
) -> Result<Vec<(u32, Point)>, TaskError> {
    let no = |reason: String| TaskError::Space { reason };
    let column = |name: &str| {
        table
            .numbers
            .iter()
            .find(|c| c.name == name && c.unit.as_deref() == Some("mm"))
            .ok_or_else(|| no(format!("the table of landmarks has no column {name}_mm")))
    };
    let columns = [column("x")?, column("y")?, column("z")?];
    let mut seen = Vec::new();
    for (row, id) in table.ids.iter().enumerate() {
        let vertex = match (id.trim().parse::<u32>(), template) {
            (Ok(v), _) => v,
            (Err(_), None) => return Err(no(no_names())),
            (Err(_), Some(t)) => *t.landmarks.get(id.trim()).ok_or_else(|| {
                let known: Vec<&str> = t.landmarks.keys().map(String::as_str).collect();
                no(format!("it knows no landmark `{id}`; it knows {}", known.join(", ")))
            })?,
        };
        let place = columns.map(|c| c.values[row]);
        // a blank coordinate: the landmark was not seen
        if let [Some(x), Some(y), Some(z)] = place {
            seen.push((vertex, [x, y, z]));
        }
    }
    Ok(seen)
}

fn no_names() -> String {
    "it carries no names of landmarks and regions: build it with `formkin space --dimensions FILE`, or give numbers of vertices".to_owned()
}

/// Numbers of vertices, between blanks, commas or line ends.
///
/// # Errors
/// [`TaskError::Read`]; [`TaskError::Space`] for words that are no numbers, and where there are none.
pub(super) fn read_numbers(path: &Path) -> Result<Vec<u32>, TaskError> {
    let text = read_text(path)?;
    let no = |what: String| TaskError::Nothing {
        what: format!("{}: {what}", path.display()),
        advice: "write the numbers of the vertices that are missing, from 0".to_owned(),
    };
    let words = text.split(|c: char| c.is_whitespace() || c == ',').filter(|w| !w.is_empty());
    let number = |w: &str| {
        let shown: String = w.chars().take(40).collect();
        w.parse().map_err(|_| no(format!("`{shown}` is no number of a vertex")))
    };
    let found = words.map(number).collect::<Result<Vec<u32>, TaskError>>()?;
    if found.is_empty() { Err(no("it holds no numbers of vertices".to_owned())) } else { Ok(found) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_not_finite_or_listed_is_missing() {
        let positions = vec![[0.0; 3], [f64::NAN; 3], [1.0; 3], [2.0; 3]];
        let seen = seen_of_mesh(&positions, None, &[], &[2]).unwrap();
        assert_eq!(seen, [(0, [0.0; 3]), (3, [2.0; 3])]);
        assert!(seen_of_mesh(&positions, None, &[], &[4]).is_err());
        assert!(seen_of_mesh(&positions, None, &["hand".into()], &[]).is_err());
    }

    #[test]
    fn landmarks_come_by_number() {
        let text = "landmark,x_mm,y_mm,z_mm\n5,1,2,3\n7,4,,6\n";
        let table = Table::parse_csv(text, "landmarks.csv", None).unwrap();
        assert_eq!(seen_of_landmarks(&table, None).unwrap(), [(5, [1.0, 2.0, 3.0])]);
    }
}
