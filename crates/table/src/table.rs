//! A table of people or items, one row each: dimensions and whatever else is known of them.

use std::collections::{BTreeMap, BTreeSet};
use std::io::Read;

use serde::{Deserialize, Serialize};

use crate::near::advice;
use crate::unit::{join, split};
use crate::{NumberFormat, Record, Records, Sheet, TableError, records};

/// Headers of columns that say which person, session and capture a row is of: numbers there are names, not amounts.
pub const LABELS: [&str; 5] = ["item", "participant", "session", "capture", "source"];

/// A table with one row an item or person. Numbers carry the unit that their header ends with; a blank cell is a missing
/// value.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct Table {
    /// The header of the column of identifiers.
    pub id: String,
    /// The identifiers, all different.
    pub ids: Vec<String>,
    /// Columns of numbers, in order.
    pub numbers: Vec<NumberColumn>,
    /// Columns of words, in order.
    pub texts: Vec<TextColumn>,
}

/// A column of numbers.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct NumberColumn {
    /// Its name without the unit: `chest_girth` of the header `chest_girth_mm`.
    pub name: String,
    /// Its unit; `None` where the header ends with none.
    pub unit: Option<String>,
    /// One value a row; `None` where it is missing.
    pub values: Vec<Option<f64>>,
}

impl NumberColumn {
    /// A column of numbers under a header, whose ending is its unit where it is one.
    #[must_use]
    pub fn under(header: &str, values: Vec<Option<f64>>) -> Self {
        let (name, unit) = split(header);
        Self { name: name.to_owned(), unit: unit.map(|(unit, _)| unit.to_owned()), values }
    }

    /// Its header: name and unit.
    #[must_use]
    pub fn header(&self) -> String {
        join(&self.name, self.unit.as_deref())
    }
}

/// A column of words.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct TextColumn {
    /// Its header.
    pub name: String,
    /// One value a row; empty where it is missing.
    pub values: Vec<String>,
}

impl Table {
    /// Reads a table in CSV: UTF-8, commas, decimal points, one header line. The identifiers are in the column `id`, or in
    /// the first where none is named; they must be there and differ. A column whose header ends with a unit, or more than
    /// half of whose cells are numbers, is a column of numbers, and every other cell in it is an error; blank
    /// cells are missing values. Blanks at the ends of a cell are not part of it, within quotation marks neither. The columns in [`LABELS`] name rows, and stay words whatever they hold. `name` is what errors call the table, such as its file name.
    ///
    /// # Errors
    /// [`TableError::Table`], [`TableError::Line`] and [`TableError::Cell`] with line and column of the first fault.
    pub fn read_csv(input: impl Read, name: &str, id: Option<&str>) -> Result<Self, TableError> {
        let whole = |reason: String| TableError::Table { table: name.to_owned(), reason };
        let mut bytes = Vec::new();
        let mut input = input;
        input.read_to_end(&mut bytes).map_err(|e| whole(format!("it cannot be read: {e}")))?;
        Self::of_records(records(&bytes, name)?, name, id)
    }

    /// As [`Table::read_csv`], of text in memory.
    ///
    /// # Errors
    /// As [`Table::read_csv`].
    pub fn parse_csv(text: &str, name: &str, id: Option<&str>) -> Result<Self, TableError> {
        Self::of_records(records(text, name)?, name, id)
    }

    fn of_records(found: Records, name: &str, id: Option<&str>) -> Result<Self, TableError> {
        let whole = |reason: String| TableError::Table { table: name.to_owned(), reason };
        if found.header.cells.is_empty() {
            return Err(whole("it is empty; a header line is needed".to_owned()));
        }
        let headers = check_headers(found.header.cells.clone(), name)?;
        if let Some(record) = found.uneven() {
            return Err(TableError::Line {
                table: name.to_owned(),
                line: record.line,
                reason: format!("{} cells, but the header has {}", record.cells.len(), headers.len()),
            });
        }
        let rows = found.rows;
        if rows.is_empty() {
            return Err(whole("it has a header, but no rows".to_owned()));
        }
        let id_column = match id {
            None => 0,
            Some(id) => headers.iter().position(|h| h == id).ok_or_else(|| {
                let near = advice(id, headers.iter().map(String::as_str));
                whole(format!("it has no column `{id}`; {near}"))
            })?,
        };
        let mut table = Self {
            id: headers[id_column].clone(),
            ids: check_ids(&rows, id_column, &headers[id_column], name)?,
            ..Self::default()
        };
        for (c, header) in headers.iter().enumerate().filter(|(c, _)| *c != id_column) {
            match numbers(&rows, c, header, name)? {
                Some(column) => table.numbers.push(column),
                None => table.texts.push(TextColumn {
                    name: header.clone(),
                    values: rows.iter().map(|r| r.cells[c].clone()).collect(),
                }),
            }
        }
        table.check_names(name)?;
        Ok(table)
    }

    /// As [`Table::parse_csv`], of a table that has several rows a person and so no column of identifiers: rows are named by their number
    /// in a column `row`.
    ///
    /// # Errors
    /// As [`Table::read_csv`].
    pub fn parse_csv_rows(text: &str, name: &str) -> Result<Self, TableError> {
        let mut found = records(text, name)?;
        if !found.header.cells.is_empty() {
            found.header.cells.insert(0, "row".to_owned());
        }
        for (i, record) in found.rows.iter_mut().enumerate() {
            record.cells.insert(0, (i + 1).to_string());
        }
        Self::of_records(found, name, None)
    }

    /// Two headers with one name in different units would make the name ambiguous.
    fn check_names(&self, name: &str) -> Result<(), TableError> {
        let mut seen: BTreeMap<&str, String> = BTreeMap::new();
        for column in &self.numbers {
            if let Some(other) = seen.insert(&column.name, column.header()) {
                return Err(TableError::Table {
                    table: name.to_owned(),
                    reason: format!(
                        "columns `{other}` and `{}` give the same name; rename one of them",
                        column.header()
                    ),
                });
            }
        }
        Ok(())
    }

    /// The table as CSV: identifiers, words, then numbers with their units in the headers. Numbers are written with as
    /// many digits as give the same number back; missing values are blank.
    ///
    /// # Errors
    /// [`TableError::Rows`] for columns of unequal length, [`TableError::Twice`] for two columns with one header.
    pub fn to_csv(&self) -> Result<String, TableError> {
        Sheet::from(self).csv_text()
    }

    /// Number of rows.
    #[must_use]
    pub fn rows(&self) -> usize {
        self.ids.len()
    }

    /// The column of numbers with this name, with or without its unit: `chest_girth` or `chest_girth_mm`.
    ///
    /// # Errors
    /// [`TableError::Column`] where there is none, with names near it, or where the column holds words.
    pub fn number(&self, name: &str) -> Result<&NumberColumn, TableError> {
        if let Some(column) = self.numbers.iter().find(|c| c.name == name || c.header() == name) {
            return Ok(column);
        }
        let reason = match self.texts.iter().find(|c| c.name == name) {
            Some(column) => {
                let example = column.values.iter().find(|v| v.trim().parse::<f64>().is_err());
                format!(
                    "it holds words, such as `{}`; numbers are needed",
                    example.map_or("", String::as_str)
                )
            }
            None => {
                let near = advice(name, self.numbers.iter().map(|c| c.name.as_str()));
                format!("the table has no such column of numbers; {near}")
            }
        };
        Err(TableError::Column { column: name.to_owned(), reason })
    }

    /// That no person of the column `participant`, where there is one, has several of these rows: rows of one person are no people more.
    ///
    /// # Errors
    /// [`TableError::Column`] with the person.
    pub fn one_row_a_person(&self, rows: impl Iterator<Item = usize>) -> Result<(), TableError> {
        let Ok(people) = self.text("participant") else { return Ok(()) };
        let mut seen = BTreeSet::new();
        for row in rows {
            let person = people[row].trim();
            if !person.is_empty() && !seen.insert(person) {
                return Err(TableError::Column {
                    column: "participant".to_owned(),
                    reason: format!(
                        "`{person}` has several rows, and rows of one person are no people more: keep one row a person (`formkin measure --per person` makes such a table)"
                    ),
                });
            }
        }
        Ok(())
    }

    /// One word a row of the column with this name; a column of numbers is written out (1, 2, ...), as groups may be coded.
    ///
    /// # Errors
    /// [`TableError::Column`] where there is none, with names near it.
    pub fn text(&self, name: &str) -> Result<Vec<String>, TableError> {
        if let Some(column) = self.texts.iter().find(|c| c.name == name) {
            return Ok(column.values.clone());
        }
        if name == self.id {
            return Ok(self.ids.clone());
        }
        if let Ok(column) = self.number(name) {
            return Ok(column.values.iter().map(|v| v.map(|v| v.to_string()).unwrap_or_default()).collect());
        }
        let names = self.texts.iter().map(|c| c.name.as_str());
        Err(TableError::Column {
            column: name.to_owned(),
            reason: format!("the table has no such column; {}", advice(name, names)),
        })
    }
}

fn check_headers(headers: Vec<String>, table: &str) -> Result<Vec<String>, TableError> {
    let line = |reason: String| Err(TableError::Line { table: table.to_owned(), line: 1, reason });
    if headers.len() == 1 && headers[0].contains([';', '\t']) {
        return line("the cells are not separated by commas; save it as comma-separated CSV".to_owned());
    }
    for (i, header) in headers.iter().enumerate() {
        if header.is_empty() {
            return line(format!("column {} has no header", i + 1));
        }
        if headers[..i].contains(header) {
            return line(format!("two columns are called `{header}`"));
        }
    }
    Ok(headers)
}

fn check_ids(rows: &[Record], column: usize, header: &str, table: &str) -> Result<Vec<String>, TableError> {
    let mut seen: BTreeMap<&str, u64> = BTreeMap::new();
    for Record { line, cells } in rows {
        let id = cells[column].as_str();
        let fault = |reason: String| {
            Err(TableError::Cell { table: table.to_owned(), line: *line, column: header.to_owned(), reason })
        };
        if id.is_empty() {
            return fault("the identifier is missing".to_owned());
        }
        if let Some(first) = seen.insert(id, *line) {
            return fault(format!("`{id}` is already on line {first}; identifiers must differ"));
        }
    }
    Ok(rows.iter().map(|r| r.cells[column].clone()).collect())
}

/// The column as numbers; `None` where it holds words.
fn numbers(
    rows: &[Record],
    column: usize,
    header: &str,
    table: &str,
) -> Result<Option<NumberColumn>, TableError> {
    let parse = |cell: &str| cell.parse::<f64>().ok().filter(|v| v.is_finite());
    let filled = rows.iter().filter(|r| !r.cells[column].is_empty()).count();
    let good = rows.iter().filter(|r| parse(&r.cells[column]).is_some()).count();
    let (name, unit) = split(header);
    let clear = unit.is_some_and(|(_, clear)| clear);
    if LABELS.contains(&header) || !(clear || 2 * good > filled) {
        return Ok(None);
    }
    let mut values = Vec::with_capacity(rows.len());
    for Record { line, cells } in rows {
        let cell = cells[column].as_str();
        let value = parse(cell);
        if value.is_none() && !cell.is_empty() {
            let hint = if cell.contains(',') && parse(&cell.replace(',', ".")).is_some() {
                "write decimals with a point"
            } else {
                "write a number, or leave it blank where it is missing"
            };
            return Err(TableError::Cell {
                table: table.to_owned(),
                line: *line,
                column: header.to_owned(),
                reason: format!("`{}` is not a finite number; {hint}", shortened(cell)),
            });
        }
        values.push(value);
    }
    Ok(Some(NumberColumn { name: name.to_owned(), unit: unit.map(|(u, _)| u.to_owned()), values }))
}

fn shortened(cell: &str) -> String {
    if cell.chars().count() > 40 {
        cell.chars().take(40).chain("...".chars()).collect()
    } else {
        cell.to_owned()
    }
}

impl From<&Table> for Sheet {
    /// Identifiers, words, then numbers.
    fn from(table: &Table) -> Self {
        let mut sheet = Self::new().text(&table.id, "Identifier of the row", table.ids.iter());
        for column in &table.texts {
            sheet = sheet.text(&column.name, "", column.values.iter());
        }
        for column in &table.numbers {
            let values = column.values.iter().copied();
            sheet = sheet.optional_number(
                &column.name,
                column.unit.as_deref(),
                "",
                NumberFormat::Shortest,
                values,
            );
        }
        sheet
    }
}

#[cfg(test)]
#[path = "table_tests.rs"]
mod tests;
