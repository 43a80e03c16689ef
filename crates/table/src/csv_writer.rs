//! The one writer of CSV.

use crate::{Sheet, TableError};

/// The bytes of a checked sheet as CSV.
pub(crate) fn write(sheet: &Sheet) -> Result<Vec<u8>, TableError> {
    let fault = |e: csv::Error| TableError::Csv { reason: e.to_string() };
    let mut writer = csv::Writer::from_writer(Vec::new());
    if sheet.columns().is_empty() {
        return Ok(Vec::new());
    }
    writer.write_record(sheet.columns().iter().map(|c| c.header())).map_err(fault)?;
    for row in 0..sheet.rows() {
        writer.write_record(sheet.columns().iter().map(|c| c.cell(row))).map_err(fault)?;
    }
    writer.into_inner().map_err(|e| TableError::Csv { reason: e.to_string() })
}
