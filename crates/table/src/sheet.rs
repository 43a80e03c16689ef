//! A table as it is handed over.

use crate::TableError;
use crate::unit::join;

/// A table as it is handed over: typed columns with name, unit and meaning, one row an entry.
///
/// ```
/// use formkin_table::{NumberFormat, Sheet};
/// let sheet = Sheet::new()
///     .text("person", "Who", ["A", "B, the second"])
///     .number("stature", Some("mm"), "Height of the head", NumberFormat::Fixed(1), [1701.25, f64::NAN]);
/// assert_eq!(sheet.to_csv().unwrap(), b"person,stature_mm\nA,1701.2\n\"B, the second\",\n");
/// ```
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Sheet {
    columns: Vec<Column>,
}

/// One column of a [`Sheet`].
#[derive(Debug, Clone, PartialEq)]
pub struct Column {
    name: String,
    unit: Option<String>,
    meaning: String,
    values: Values,
}

/// What a column holds, one value a row.
#[derive(Debug, Clone, PartialEq)]
pub enum Values {
    /// Words; empty where missing.
    Text(Vec<String>),
    /// Numbers; `None` where missing. A number that is not finite is missing in files.
    Number {
        /// One a row.
        values: Vec<Option<f64>>,
        /// How CSV writes them; Parquet holds them in full.
        format: NumberFormat,
    },
    /// Whole numbers; `None` where missing.
    Whole(Vec<Option<i64>>),
    /// Yes or no, written `true` and `false`; `None` where missing.
    Flag(Vec<Option<bool>>),
}

/// How CSV writes a number.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub enum NumberFormat {
    /// As many digits as give the same number back.
    #[default]
    Shortest,
    /// This many digits after the point.
    Fixed(usize),
    /// At most this many digits after the point, without zeros at the end.
    Rounded(usize),
    /// This many digits after the point of the mantissa, with an exponent: `1.25e-7`.
    Scientific(usize),
}

impl NumberFormat {
    /// The number as CSV writes it; blank where it is not finite.
    #[must_use]
    pub fn written(self, value: f64) -> String {
        match self {
            _ if !value.is_finite() => String::new(),
            Self::Shortest => value.to_string(),
            Self::Fixed(digits) => format!("{value:.digits$}"),
            Self::Rounded(digits) => {
                let scale = 10f64.powi(i32::try_from(digits).unwrap_or(i32::MAX));
                let rounded = (value * scale).round() / scale + 0.0; // -0 becomes 0
                if rounded.is_finite() { rounded.to_string() } else { value.to_string() }
            }
            Self::Scientific(digits) => format!("{value:.digits$e}"),
        }
    }
}

impl Column {
    /// Its name without the unit.
    #[must_use]
    pub fn name(&self) -> &str {
        &self.name
    }

    /// Its unit, such as `mm`.
    #[must_use]
    pub fn unit(&self) -> Option<&str> {
        self.unit.as_deref()
    }

    /// What it holds, in words.
    #[must_use]
    pub fn meaning(&self) -> &str {
        &self.meaning
    }

    /// Its values.
    #[must_use]
    pub fn values(&self) -> &Values {
        &self.values
    }

    /// Its header: name and unit.
    #[must_use]
    pub fn header(&self) -> String {
        join(&self.name, self.unit())
    }

    /// Number of values.
    #[must_use]
    pub fn rows(&self) -> usize {
        match &self.values {
            Values::Text(v) => v.len(),
            Values::Number { values, .. } => values.len(),
            Values::Whole(v) => v.len(),
            Values::Flag(v) => v.len(),
        }
    }

    /// The value of a row as CSV writes it; blank where it is missing.
    #[must_use]
    pub fn cell(&self, row: usize) -> String {
        match &self.values {
            Values::Text(v) => v.get(row).cloned().unwrap_or_default(),
            Values::Number { values, format } => {
                values.get(row).copied().flatten().map(|v| format.written(v)).unwrap_or_default()
            }
            Values::Whole(v) => v.get(row).copied().flatten().map(|v| v.to_string()).unwrap_or_default(),
            Values::Flag(v) => v.get(row).copied().flatten().map(|v| v.to_string()).unwrap_or_default(),
        }
    }
}

impl Sheet {
    /// A table without columns.
    #[must_use]
    pub fn new() -> Self {
        Self::default()
    }

    /// With a column at the end.
    #[must_use]
    pub fn with(mut self, name: &str, unit: Option<&str>, meaning: &str, values: Values) -> Self {
        self.columns.push(Column {
            name: name.to_owned(),
            unit: unit.map(str::to_owned),
            meaning: meaning.to_owned(),
            values,
        });
        self
    }

    /// With a column of words; an empty word is missing.
    #[must_use]
    pub fn text(
        self,
        name: &str,
        meaning: &str,
        values: impl IntoIterator<Item = impl Into<String>>,
    ) -> Self {
        self.with(name, None, meaning, Values::Text(values.into_iter().map(Into::into).collect()))
    }

    /// With a column of numbers; one that is not finite is missing in files.
    #[must_use]
    pub fn number(
        self,
        name: &str,
        unit: Option<&str>,
        meaning: &str,
        format: NumberFormat,
        values: impl IntoIterator<Item = f64>,
    ) -> Self {
        self.optional_number(name, unit, meaning, format, values.into_iter().map(Some))
    }

    /// With a column of numbers of which some are missing.
    #[must_use]
    pub fn optional_number(
        self,
        name: &str,
        unit: Option<&str>,
        meaning: &str,
        format: NumberFormat,
        values: impl IntoIterator<Item = Option<f64>>,
    ) -> Self {
        self.with(name, unit, meaning, Values::Number { values: values.into_iter().collect(), format })
    }

    /// With a column of whole numbers, such as counts.
    #[must_use]
    pub fn whole(
        self,
        name: &str,
        unit: Option<&str>,
        meaning: &str,
        values: impl IntoIterator<Item = usize>,
    ) -> Self {
        self.optional_whole(name, unit, meaning, values.into_iter().map(Some))
    }

    /// With a column of whole numbers of which some are missing.
    #[must_use]
    pub fn optional_whole(
        self,
        name: &str,
        unit: Option<&str>,
        meaning: &str,
        values: impl IntoIterator<Item = Option<usize>>,
    ) -> Self {
        let values = values.into_iter().map(|v| v.and_then(|v| i64::try_from(v).ok())).collect();
        self.with(name, unit, meaning, Values::Whole(values))
    }

    /// With a column of yes and no.
    #[must_use]
    pub fn flag(self, name: &str, meaning: &str, values: impl IntoIterator<Item = bool>) -> Self {
        self.with(name, None, meaning, Values::Flag(values.into_iter().map(Some).collect()))
    }

    /// Number of rows: of its longest column.
    #[must_use]
    pub fn rows(&self) -> usize {
        self.columns.iter().map(Column::rows).max().unwrap_or(0)
    }

    /// Its columns, in order.
    #[must_use]
    pub fn columns(&self) -> &[Column] {
        &self.columns
    }

    /// The column with this name or header.
    #[must_use]
    pub fn column(&self, name: &str) -> Option<&Column> {
        self.columns.iter().find(|c| c.name == name || c.header() == name)
    }

    pub(crate) fn check(&self) -> Result<(), TableError> {
        let expected = self.rows();
        let mut headers = std::collections::BTreeSet::new();
        for column in &self.columns {
            if column.rows() != expected {
                return Err(TableError::Rows { column: column.header(), found: column.rows(), expected });
            }
            if !headers.insert(column.header()) {
                return Err(TableError::Twice { column: column.header() });
            }
        }
        Ok(())
    }
}

#[cfg(test)]
#[path = "sheet_tests.rs"]
mod tests;
