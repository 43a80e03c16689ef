//! The one reader of Parquet.

use std::collections::BTreeMap;

use parquet::basic::Type as PhysicalType;
use parquet::file::reader::{FileReader, SerializedFileReader};
use parquet::record::Field;
use parquet::schema::types::Type;
use serde_json::Value;

use crate::parquet_writer::COLUMNS;
use crate::unit::split;
use crate::{NumberFormat, Sheet, TableError, Values};

/// Unit and meaning of the columns by header, as the file tells them.
type Described = BTreeMap<String, (Option<String>, String)>;

/// The sheet and the metadata in the bytes of a Parquet file.
pub(crate) fn read(bytes: Vec<u8>) -> Result<(Sheet, Vec<(String, String)>), TableError> {
    let wrong = |e: parquet::errors::ParquetError| TableError::Parquet { reason: e.to_string() };
    let reader = SerializedFileReader::new(bytes::Bytes::from(bytes)).map_err(wrong)?;
    let file = reader.metadata().file_metadata();
    let metadata: Vec<(String, String)> = file
        .key_value_metadata()
        .into_iter()
        .flatten()
        .map(|p| (p.key.clone(), p.value.clone().unwrap_or_default()))
        .collect();
    let fields = file.schema().get_fields();
    let mut columns: Vec<Values> = fields.iter().map(|f| empty(f)).collect();
    for row in reader.get_row_iter(None).map_err(wrong)? {
        let row = row.map_err(wrong)?;
        for (values, (_, field)) in columns.iter_mut().zip(row.get_column_iter()) {
            push(values, field);
        }
    }
    let described = metadata.iter().find(|(k, _)| k == COLUMNS).map(|(_, v)| described(v));
    let described = described.unwrap_or_default();
    let mut sheet = Sheet::new();
    for (field, values) in fields.iter().zip(columns) {
        let (name, unit, meaning) = named(field.name(), &values, &described);
        sheet = sheet.with(name, unit, meaning, values);
    }
    Ok((sheet, metadata))
}

/// A column of the type that a field of the file has.
fn empty(field: &Type) -> Values {
    if !field.is_primitive() {
        return Values::Text(Vec::new());
    }
    match field.get_physical_type() {
        PhysicalType::BOOLEAN => Values::Flag(Vec::new()),
        PhysicalType::INT32 | PhysicalType::INT64 => Values::Whole(Vec::new()),
        PhysicalType::FLOAT | PhysicalType::DOUBLE => {
            Values::Number { values: Vec::new(), format: NumberFormat::Shortest }
        }
        _ => Values::Text(Vec::new()),
    }
}

fn push(values: &mut Values, field: &Field) {
    match values {
        Values::Flag(v) => v.push(match field {
            Field::Bool(b) => Some(*b),
            _ => None,
        }),
        Values::Whole(v) => v.push(whole(field)),
        Values::Number { values, .. } => values.push(match field {
            Field::Double(x) => Some(*x),
            Field::Float(x) => Some(f64::from(*x)),
            _ => None,
        }),
        Values::Text(v) => v.push(match field {
            Field::Null => String::new(),
            Field::Str(s) => s.clone(),
            Field::Bytes(b) => String::from_utf8_lossy(b.data()).into_owned(),
            other => other.to_string(),
        }),
    }
}

fn whole(field: &Field) -> Option<i64> {
    match field {
        Field::Byte(x) => Some(i64::from(*x)),
        Field::Short(x) => Some(i64::from(*x)),
        Field::Int(x) | Field::Date(x) => Some(i64::from(*x)),
        Field::Long(x) | Field::TimestampMillis(x) | Field::TimestampMicros(x) => Some(*x),
        Field::UByte(x) => Some(i64::from(*x)),
        Field::UShort(x) => Some(i64::from(*x)),
        Field::UInt(x) => Some(i64::from(*x)),
        Field::ULong(x) => i64::try_from(*x).ok(),
        _ => None,
    }
}

fn described(json: &str) -> Described {
    let Ok(Value::Array(columns)) = serde_json::from_str(json) else { return Described::new() };
    let word = |c: &Value, key: &str| c[key].as_str().map(str::to_owned);
    columns
        .iter()
        .filter_map(|c| Some((word(c, "name")?, (word(c, "unit"), word(c, "meaning").unwrap_or_default()))))
        .collect()
}

/// Name, unit and meaning of a header: as the file tells them, or from the header's ending.
fn named<'a>(
    header: &'a str,
    values: &Values,
    described: &'a Described,
) -> (&'a str, Option<&'a str>, &'a str) {
    if let Some((unit, meaning)) = described.get(header) {
        let name = unit.as_ref().and_then(|u| header.strip_suffix(u.as_str())?.strip_suffix('_'));
        return match name {
            Some(name) => (name, unit.as_deref(), meaning),
            None => (header, None, meaning),
        };
    }
    match (values, split(header)) {
        (Values::Number { .. } | Values::Whole(_), (name, Some((unit, _)))) => (name, Some(unit), ""),
        _ => (header, None, ""),
    }
}
