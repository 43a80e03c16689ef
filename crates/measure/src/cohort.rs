//! Dimensions of many bodies.

use formkin_geometry::{ShapeSource, Template};
use formkin_table::{NumberColumn, Table};
use rayon::prelude::*;

use crate::{Dimensions, MeasureError, Measured, Taker};

/// Shapes measured between two reports of progress.
const CHUNK: usize = 32;

/// Takes every dimension of every shape of a source: one row a shape, in its order, one value a definition. Shapes are read as
/// they are needed, several at once; the result does not depend on the number of threads. Traces are left out, since
/// those of a large cohort would not fit in memory: take single bodies with [`Taker`] for pictures. `progress`
/// hears (done, of).
///
/// # Errors
/// [`MeasureError::UnknownName`] where the template lacks a name, [`MeasureError::VertexCount`], [`MeasureError::Source`].
pub fn take_all(
    dimensions: &Dimensions,
    template: &Template,
    source: &dyn ShapeSource,
    progress: &(dyn Fn(usize, usize) + Sync),
) -> Result<Vec<Vec<Measured>>, MeasureError> {
    dimensions.check(template)?;
    let vertices = template.mesh.topology().vertices();
    if source.vertices() != vertices {
        return Err(MeasureError::VertexCount { shapes: source.vertices(), template: vertices });
    }
    let taker = Taker::new(dimensions, template);
    let shapes = source.shapes();
    let mut rows = Vec::with_capacity(shapes);
    while rows.len() < shapes {
        let first = rows.len();
        let last = (first + CHUNK).min(shapes);
        let chunk: Vec<Result<Vec<Measured>, MeasureError>> = (first..last)
            .into_par_iter()
            .map_init(
                || vec![[0.0; 3]; vertices],
                |shape, i| {
                    source.read_block(i, shape)?;
                    let mut row = taker.take(shape);
                    for measured in &mut row {
                        measured.trace = Vec::new();
                    }
                    Ok(row)
                },
            )
            .collect();
        for row in chunk {
            rows.push(row?);
        }
        progress(rows.len(), shapes);
    }
    Ok(rows)
}

/// Measured rows as a table: one column a definition, named and with its unit.
///
/// # Errors
/// [`MeasureError::Count`] where there are not as many identifiers as rows, or a row has another length than the definitions.
pub fn tabulate(
    dimensions: &Dimensions,
    id: &str,
    ids: Vec<String>,
    rows: &[Vec<Measured>],
) -> Result<Table, MeasureError> {
    let definitions = &dimensions.definitions;
    if ids.len() != rows.len() {
        return Err(MeasureError::Count {
            what: "identifiers of rows",
            expected: rows.len(),
            found: ids.len(),
        });
    }
    if let Some(row) = rows.iter().find(|r| r.len() != definitions.len()) {
        return Err(MeasureError::Count {
            what: "dimensions of a row",
            expected: definitions.len(),
            found: row.len(),
        });
    }
    let numbers = definitions
        .iter()
        .enumerate()
        .map(|(d, definition)| NumberColumn {
            name: definition.name.clone(),
            unit: definition.unit.clone(),
            values: rows.iter().map(|row| row[d].value).collect(),
        })
        .collect();
    Ok(Table { id: id.to_owned(), ids, numbers, texts: Vec::new() })
}
