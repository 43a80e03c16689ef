//! Tables of dimensions -> agreement and repeatability.

use formkin_measure::agreement::{
    CompareParams, Comparison, Repeatability, RepeatsParams, compare, repeatability,
};
use formkin_table::Table;

use crate::TaskError;

/// Compares scan with hand.
///
/// # Errors
/// Tables that share no person or no dimension, or a dimension asked for that one of them lacks.
pub fn agree(scan: &Table, hand: &Table, params: &CompareParams) -> Result<Comparison, TaskError> {
    Ok(compare(scan, hand, params)?)
}

/// Repeatability of a table with several rows a person, given as CSV text.
///
/// # Errors
/// A table that is no CSV, lacks a column, or measures nobody twice.
pub fn repeats(text: &str, name: &str, params: &RepeatsParams) -> Result<Vec<Repeatability>, TaskError> {
    let table = Table::parse_csv_rows(text.trim_start_matches('\u{feff}'), name)?;
    Ok(repeatability(&table, params)?)
}
