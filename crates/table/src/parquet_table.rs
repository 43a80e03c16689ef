//! Words and numbers as Parquet: text columns, then number columns.

use crate::{NumberFormat, Sheet, TableError, parquet_writer};

/// A text column.
pub struct TextColumn<'a> {
    /// Its header.
    pub name: &'a str,
    /// One a row.
    pub values: Vec<&'a str>,
}

/// A number column; `NaN` is a missing value.
pub struct NumberColumn {
    /// Its header, with the unit as suffix.
    pub name: String,
    /// One a row.
    pub values: Vec<f64>,
}

/// The bytes of a Parquet file: UTF-8 and nullable DOUBLE columns, one row group, Snappy, with key-value `metadata`.
///
/// # Errors
/// [`TableError::Rows`] where the columns differ in length, [`TableError::Twice`] where two have one header, [`TableError::Parquet`] where the
/// writer fails.
pub fn parquet_table(
    texts: &[TextColumn<'_>],
    numbers: &[NumberColumn],
    metadata: &[(&str, String)],
) -> Result<Vec<u8>, TableError> {
    let mut sheet = Sheet::new();
    for text in texts {
        sheet = sheet.text(text.name, "", text.values.iter().copied());
    }
    for number in numbers {
        let values = number.values.iter().copied();
        sheet = sheet.number(&number.name, None, "", NumberFormat::Shortest, values);
    }
    sheet.check()?;
    let metadata: Vec<(String, String)> =
        metadata.iter().map(|(k, v)| ((*k).to_owned(), v.clone())).collect();
    parquet_writer::write(&sheet, &metadata, false)
}

#[cfg(test)]
mod tests {
    use parquet::file::reader::{FileReader, SerializedFileReader};
    use parquet::record::RowAccessor;

    use super::*;

    #[test]
    fn a_table_comes_back() {
        let bytes = parquet_table(
            &[TextColumn { name: "item", values: vec!["C001", "C002"] }],
            &[NumberColumn { name: "mode_01_mm".into(), values: vec![1.5, f64::NAN] }],
            &[("people", "2".into())],
        )
        .unwrap();
        let file = SerializedFileReader::new(bytes::Bytes::from(bytes)).unwrap();
        let rows: Vec<_> = file.get_row_iter(None).unwrap().map(Result::unwrap).collect();
        assert_eq!(rows[0].get_string(0).unwrap(), "C001");
        assert_eq!(rows[0].get_double(1).unwrap(), 1.5);
        assert!(rows[1].get_double(1).is_err());
        let pairs = file.metadata().file_metadata().key_value_metadata().unwrap();
        assert!(pairs.iter().any(|p| p.key == "people" && p.value.as_deref() == Some("2")));
    }

    #[test]
    fn columns_of_other_lengths_are_an_error() {
        let made = parquet_table(
            &[TextColumn { name: "item", values: vec!["C001", "C002"] }],
            &[NumberColumn { name: "x_mm".into(), values: vec![1.5] }],
            &[],
        );
        assert!(made.is_err());
    }
}
