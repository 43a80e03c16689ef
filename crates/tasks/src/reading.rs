//! Files that a task takes in: definitions, plans, charts, tables.

use std::fs::File;
use std::path::Path;

use formkin_measure::Dimensions;
use formkin_sizing::{Chart, Plan};
use formkin_table::Table;

use crate::TaskError;

/// Reads a file of definitions of dimensions.
///
/// # Errors
/// [`TaskError::Read`], or what the definitions say wrong, with the file.
pub fn read_dimensions(path: &Path) -> Result<Dimensions, TaskError> {
    let text = read_text(path)?;
    Dimensions::from_toml(&text)
        .map_err(|e| TaskError::In { path: path.to_owned(), source: Box::new(e.into()) })
}

/// Reads the plan of a size system.
///
/// # Errors
/// [`TaskError::Read`], or what the plan says wrong, with the file.
pub fn read_plan(path: &Path) -> Result<Plan, TaskError> {
    let text = read_text(path)?;
    Plan::from_toml(&text).map_err(|e| TaskError::In { path: path.to_owned(), source: Box::new(e.into()) })
}

/// Reads a size chart.
///
/// # Errors
/// [`TaskError::Read`], or what is wrong with the chart, with the file.
pub fn read_chart(path: &Path) -> Result<Chart, TaskError> {
    Chart::of(&read_table(path)?)
        .map_err(|e| TaskError::In { path: path.to_owned(), source: Box::new(e.into()) })
}

/// Reads a table of people.
///
/// # Errors
/// [`TaskError::Read`], or what is wrong with the table.
pub fn read_table(path: &Path) -> Result<Table, TaskError> {
    let file = File::open(path).map_err(|source| TaskError::Read { path: path.to_owned(), source })?;
    Ok(Table::read_csv(file, &path.display().to_string(), None)?)
}

/// Reads a table whose identifiers are in the column `id`.
///
/// # Errors
/// [`TaskError::Read`], or what is wrong with the table.
pub fn read_table_by(path: &Path, id: &str) -> Result<Table, TaskError> {
    let text = read_text(path)?;
    Ok(Table::parse_csv(&text, &path.display().to_string(), Some(id))?)
}

/// Reads a text.
///
/// # Errors
/// [`TaskError::Read`].
pub fn read_text(path: &Path) -> Result<String, TaskError> {
    std::fs::read_to_string(path).map_err(|source| TaskError::Read { path: path.to_owned(), source })
}
