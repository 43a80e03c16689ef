//! The one writer of Parquet.

use std::sync::Arc;

use parquet::basic::{Compression, LogicalType, Repetition, Type as PhysicalType};
use parquet::data_type::{BoolType, ByteArray, ByteArrayType, DataType, DoubleType, Int64Type};
use parquet::errors::ParquetError;
use parquet::file::metadata::KeyValue;
use parquet::file::properties::WriterProperties;
use parquet::file::writer::{SerializedFileWriter, SerializedRowGroupWriter};
use parquet::schema::types::Type;
use serde_json::json;

use crate::{Column, Sheet, TableError, Values};

/// The key of the metadata under which names, units and meanings of the columns lie.
pub(crate) const COLUMNS: &str = "columns";

/// The bytes of a checked sheet as Parquet; `described` adds the entry [`COLUMNS`] to the metadata.
pub(crate) fn write(
    sheet: &Sheet,
    metadata: &[(String, String)],
    described: bool,
) -> Result<Vec<u8>, TableError> {
    let mut pairs: Vec<KeyValue> =
        metadata.iter().map(|(k, v)| KeyValue::new(k.clone(), v.clone())).collect();
    if described {
        let columns: Vec<_> = sheet
            .columns()
            .iter()
            .map(|c| json!({"name": c.header(), "unit": c.unit(), "meaning": c.meaning()}))
            .collect();
        pairs.push(KeyValue::new(COLUMNS.to_owned(), serde_json::Value::Array(columns).to_string()));
    }
    file(sheet, pairs).map_err(|e| TableError::Parquet { reason: e.to_string() })
}

fn file(sheet: &Sheet, pairs: Vec<KeyValue>) -> Result<Vec<u8>, ParquetError> {
    let fields =
        sheet.columns().iter().map(|c| field(c).map(Arc::new)).collect::<Result<Vec<_>, ParquetError>>()?;
    let schema = Arc::new(Type::group_type_builder("table").with_fields(fields).build()?);
    let properties = WriterProperties::builder()
        .set_compression(Compression::SNAPPY)
        .set_created_by(concat!("formkin ", env!("CARGO_PKG_VERSION")).to_owned())
        .set_key_value_metadata(Some(pairs))
        .build();
    let mut file = SerializedFileWriter::new(Vec::new(), schema, Arc::new(properties))?;
    let mut rows = file.next_row_group()?;
    for column in sheet.columns() {
        match column.values() {
            Values::Text(v) => {
                let words: Vec<ByteArray> = v.iter().map(|s| ByteArray::from(s.as_str())).collect();
                put::<ByteArrayType>(&mut rows, &words, None)?;
            }
            Values::Number { values, .. } => {
                let finite = values.iter().map(|v| v.filter(|v| v.is_finite()));
                optional::<DoubleType>(&mut rows, finite)?;
            }
            Values::Whole(v) => optional::<Int64Type>(&mut rows, v.iter().copied())?,
            Values::Flag(v) => optional::<BoolType>(&mut rows, v.iter().copied())?,
        }
    }
    rows.close()?;
    file.into_inner()
}

fn field(column: &Column) -> Result<Type, ParquetError> {
    let (physical, repetition, logical) = match column.values() {
        Values::Text(_) => (PhysicalType::BYTE_ARRAY, Repetition::REQUIRED, Some(LogicalType::String)),
        Values::Number { .. } => (PhysicalType::DOUBLE, Repetition::OPTIONAL, None),
        Values::Whole(_) => (PhysicalType::INT64, Repetition::OPTIONAL, None),
        Values::Flag(_) => (PhysicalType::BOOLEAN, Repetition::OPTIONAL, None),
    };
    Type::primitive_type_builder(&column.header(), physical)
        .with_repetition(repetition)
        .with_logical_type(logical)
        .build()
}

fn optional<T: DataType>(
    rows: &mut SerializedRowGroupWriter<'_, Vec<u8>>,
    values: impl Iterator<Item = Option<T::T>> + Clone,
) -> Result<(), ParquetError> {
    let levels: Vec<i16> = values.clone().map(|v| i16::from(v.is_some())).collect();
    let present: Vec<T::T> = values.flatten().collect();
    put::<T>(rows, &present, Some(&levels))
}

fn put<T: DataType>(
    rows: &mut SerializedRowGroupWriter<'_, Vec<u8>>,
    values: &[T::T],
    levels: Option<&[i16]>,
) -> Result<(), ParquetError> {
    let mut column = rows.next_column()?.ok_or_else(|| ParquetError::General("no column left".into()))?;
    column.typed::<T>().write_batch(values, levels, None)?;
    column.close()
}
