//! A table as it is handed over, as the bytes of files.

use crate::{Sheet, TableError, csv_writer, parquet_reader, parquet_writer};

impl Sheet {
    /// The table as CSV: UTF-8, commas, a header line, quotation marks where a cell needs them, lines ended by a line feed.
    /// A word that a spreadsheet would take for a formula is left as it is: data is not changed.
    ///
    /// # Errors
    /// [`TableError::Rows`] for columns of unequal length, [`TableError::Twice`] for two columns with one header.
    pub fn to_csv(&self) -> Result<Vec<u8>, TableError> {
        self.check()?;
        csv_writer::write(self)
    }

    /// As [`Sheet::to_csv`], as text.
    ///
    /// # Errors
    /// As [`Sheet::to_csv`].
    pub fn csv_text(&self) -> Result<String, TableError> {
        String::from_utf8(self.to_csv()?).map_err(|e| TableError::Csv { reason: e.to_string() })
    }

    /// The table as Parquet: UTF-8, nullable DOUBLE, INT64 and BOOLEAN columns, one row group, Snappy, with key-value `metadata`.
    /// A further entry `columns` is a JSON list of `{"name": header, "unit": .., "meaning": ..}`.
    ///
    /// # Errors
    /// As [`Sheet::to_csv`]; [`TableError::Parquet`] where the writer fails.
    pub fn to_parquet(&self, metadata: &[(String, String)]) -> Result<Vec<u8>, TableError> {
        self.check()?;
        parquet_writer::write(self, metadata, true)
    }

    /// A table read from the bytes of a Parquet file, and the file's key-value metadata. Columns that are neither words,
    /// numbers nor flags are written out as words.
    ///
    /// # Errors
    /// [`TableError::Parquet`] for bytes that are no Parquet file.
    pub fn from_parquet(bytes: Vec<u8>) -> Result<(Self, Vec<(String, String)>), TableError> {
        parquet_reader::read(bytes)
    }
}
