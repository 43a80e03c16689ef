//! A part of a surface -> the body that goes with it.

use std::collections::BTreeSet;

use formkin_geometry::{Point, Template};
use formkin_shape::complete::Calibration;
use formkin_shape::{CompleteParams, Completed, Space, complete};
use formkin_table::Table;
use serde::{Deserialize, Serialize};

use crate::TaskError;

/// What is asked for.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct CompleteJob {
    /// Settings of the completion.
    pub params: CompleteParams,
    /// Whether seen vertices keep their places in the mesh that is written.
    pub keep_seen: bool,
    /// How completions from the same vertices fared on people left out, where it was found out: SDs are multiplied by its factor.
    pub calibration: Option<Calibration>,
}

/// A completed mesh.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct CompleteOutcome {
    /// The completion.
    pub completed: Completed,
    /// The vertices that were not seen.
    pub missing: Vec<u32>,
    /// Root mean square half-width of 95 % intervals of coordinates over the missing vertices, in mm; none where none is missing.
    pub half_width_95_mm: Option<f64>,
    /// What a reader must know.
    pub notes: Vec<String>,
}

/// Completes a shape of which `seen` are known.
///
/// # Errors
/// What the completion refuses.
pub fn complete_shape(
    space: &Space,
    seen: &[(u32, Point)],
    job: &CompleteJob,
) -> Result<CompleteOutcome, TaskError> {
    let mut completed = complete(space, seen, &job.params)?;
    if let Some(c) = &job.calibration {
        completed.sd_mm.iter_mut().for_each(|sd| *sd = sd.map(|x| x * c.factor));
    }
    let there: BTreeSet<u32> = seen.iter().map(|(v, _)| *v).collect();
    let missing: Vec<u32> = (0..space.mean.len() as u32).filter(|v| !there.contains(v)).collect();
    let square: f64 =
        missing.iter().flat_map(|v| completed.sd_mm[*v as usize]).map(|sd| sd * sd).sum::<f64>();
    let half_width_95_mm =
        (!missing.is_empty()).then(|| completed.z_95 * (square / (3 * missing.len()) as f64).sqrt());
    let mut notes = Vec::new();
    match &job.calibration {
        None => notes.push(
            "Intervals are those of the model: --calibrate COHORT holds them against people left out.".to_owned(),
        ),
        Some(c) => notes.push(format!(
            "Of {} people left out, intervals of 95 % held {:.1} % of hidden coordinates; they are multiplied by {:.2}, which makes that 95 %.",
            c.people,
            100.0 * c.coverage_95,
            c.factor
        )),
    }
    if completed.outside {
        notes.push(format!(
            "The completed body lies {:.1} SD from the mean, further out than 99 % of people ({:.1}): no such body was in the space.",
            completed.mahalanobis, completed.limit
        ));
    }
    if job.params.noise_mm.is_none() && !space.probabilistic(Some(completed.coefficients_mm.len()))?.held_out
    {
        notes.push(
            "Nobody was held out of this space: what lies beyond its modes is taken from its own people, and intervals are too narrow.".to_owned(),
        );
    }
    let expected = (3.0 * (completed.noise_mm.powi(2) + completed.error_mm.powi(2))).sqrt();
    if completed.residual_rms_mm > 3.0 * expected {
        notes.push(format!(
            "The seen vertices lie {:.1} mm from the completed body, and {expected:.1} mm are expected: look for another pose, clothing, or another order of vertices; if it is error of measuring, give it (`--error-mm`).",
            completed.residual_rms_mm
        ));
    }
    if job.keep_seen {
        for (v, p) in seen {
            completed.positions[*v as usize] = *p;
        }
    }
    Ok(CompleteOutcome { completed, missing, half_width_95_mm, notes })
}

/// The vertices of a mesh that are seen: finite ones outside the named regions and the listed vertices.
///
/// # Errors
/// [`TaskError::Space`] for an unknown region or vertex.
pub fn seen_of_mesh(
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
pub fn seen_of_regions(
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
pub fn seen_of_landmarks(table: &Table, template: Option<&Template>) -> Result<Vec<(u32, Point)>, TaskError> {
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
