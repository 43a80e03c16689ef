//! A table as Parquet: text columns, then number columns.

use std::sync::Arc;

use parquet::basic::{Compression, LogicalType, Repetition, Type as PhysicalType};
use parquet::data_type::{ByteArray, ByteArrayType, DoubleType};
use parquet::errors::ParquetError;
use parquet::file::metadata::KeyValue;
use parquet::file::properties::WriterProperties;
use parquet::file::writer::SerializedFileWriter;
use parquet::schema::types::Type;

use crate::StudyError;

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
/// [`StudyError::Parquet`] where the columns differ in length or the writer fails.
pub fn parquet_table(
    texts: &[TextColumn<'_>],
    numbers: &[NumberColumn],
    metadata: &[(&str, String)],
) -> Result<Vec<u8>, StudyError> {
    write(texts, numbers, metadata).map_err(|e| StudyError::Parquet { reason: e.to_string() })
}

fn write(
    texts: &[TextColumn<'_>],
    numbers: &[NumberColumn],
    metadata: &[(&str, String)],
) -> Result<Vec<u8>, ParquetError> {
    let mut fields = Vec::with_capacity(texts.len() + numbers.len());
    for text in texts {
        fields.push(Arc::new(
            Type::primitive_type_builder(text.name, PhysicalType::BYTE_ARRAY)
                .with_repetition(Repetition::REQUIRED)
                .with_logical_type(Some(LogicalType::String))
                .build()?,
        ));
    }
    for number in numbers {
        fields.push(Arc::new(
            Type::primitive_type_builder(&number.name, PhysicalType::DOUBLE)
                .with_repetition(Repetition::OPTIONAL)
                .build()?,
        ));
    }
    let schema = Arc::new(Type::group_type_builder("table").with_fields(fields).build()?);
    let pairs = metadata.iter().map(|(k, v)| KeyValue::new((*k).to_owned(), v.clone())).collect();
    let properties = WriterProperties::builder()
        .set_compression(Compression::SNAPPY)
        .set_created_by(concat!("formkin ", env!("CARGO_PKG_VERSION")).to_owned())
        .set_key_value_metadata(Some(pairs))
        .build();
    let mut file = SerializedFileWriter::new(Vec::new(), schema, Arc::new(properties))?;
    let mut rows = file.next_row_group()?;
    for text in texts {
        let values: Vec<ByteArray> = text.values.iter().map(|&s| ByteArray::from(s)).collect();
        let mut column = rows.next_column()?.ok_or_else(|| ParquetError::General("no column left".into()))?;
        column.typed::<ByteArrayType>().write_batch(&values, None, None)?;
        column.close()?;
    }
    for number in numbers {
        let present: Vec<f64> = number.values.iter().copied().filter(|x| !x.is_nan()).collect();
        let levels: Vec<i16> = number.values.iter().map(|x| i16::from(!x.is_nan())).collect();
        let mut column = rows.next_column()?.ok_or_else(|| ParquetError::General("no column left".into()))?;
        column.typed::<DoubleType>().write_batch(&present, Some(&levels), None)?;
        column.close()?;
    }
    rows.close()?;
    file.into_inner()
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
        let file = SerializedFileReader::new(bytes_of(bytes)).unwrap();
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

    fn bytes_of(bytes: Vec<u8>) -> bytes::Bytes {
        bytes::Bytes::from(bytes)
    }
}
