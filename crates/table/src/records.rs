//! The one reader of CSV: records of cells, with the lines on which they begin.

use crate::TableError;

/// The records of a CSV file: the first is the header.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Records {
    /// The header; without cells where the file is empty.
    pub header: Record,
    /// The records below it. They may have more or fewer cells than the header: [`Records::uneven`] finds those.
    pub rows: Vec<Record>,
}

/// One record.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Record {
    /// The line of the file on which it begins, from 1.
    pub line: u64,
    /// Its cells.
    pub cells: Vec<String>,
}

impl Record {
    /// A cell; blank where the record has fewer.
    #[must_use]
    pub fn cell(&self, at: usize) -> &str {
        self.cells.get(at).map_or("", String::as_str)
    }

    /// Whether all its cells are blank.
    #[must_use]
    pub fn is_blank(&self) -> bool {
        self.cells.iter().all(|c| c.trim().is_empty())
    }
}

impl Records {
    /// The place of the column with this header.
    #[must_use]
    pub fn column(&self, header: &str) -> Option<usize> {
        self.header.cells.iter().position(|c| c == header)
    }

    /// The first record that has more or fewer cells than the header.
    #[must_use]
    pub fn uneven(&self) -> Option<&Record> {
        self.rows.iter().find(|r| r.cells.len() != self.header.cells.len())
    }
}

/// The records of a CSV file in UTF-8, with or without a byte order mark: cells between commas, in quotation marks where they hold a comma,
/// a quotation mark (doubled) or a line break. Blanks at the ends of a cell are not part of it; blank lines are no records. `name` is what
/// errors call the file.
///
/// # Errors
/// [`TableError::Table`] where it is not UTF-8.
pub fn records(csv: impl AsRef<[u8]>, name: &str) -> Result<Records, TableError> {
    read(csv.as_ref(), name, b',', csv::Trim::All)
}

/// As [`records`], of cells that another mark separates, such as a semicolon or a tab.
///
/// # Errors
/// As [`records`].
pub fn records_by(mark: u8, csv: impl AsRef<[u8]>, name: &str) -> Result<Records, TableError> {
    read(csv.as_ref(), name, mark, csv::Trim::All)
}

/// As [`records`], with every cell as it stands, blanks included: for files that this program wrote itself.
///
/// # Errors
/// As [`records`].
pub fn exact_records(csv: impl AsRef<[u8]>, name: &str) -> Result<Records, TableError> {
    read(csv.as_ref(), name, b',', csv::Trim::None)
}

fn read(bytes: &[u8], name: &str, mark: u8, trim: csv::Trim) -> Result<Records, TableError> {
    let fault = |reason: String| TableError::Table { table: name.to_owned(), reason };
    let bytes = bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes);
    let text = std::str::from_utf8(bytes)
        .map_err(|e| fault(format!("byte {} is not UTF-8: save it as UTF-8", e.valid_up_to())))?;
    let mut reader = csv::ReaderBuilder::new()
        .has_headers(false)
        .flexible(true)
        .delimiter(mark)
        .trim(trim)
        .from_reader(text.as_bytes());
    let mut found = Records::default();
    let (mut line, mut counted) = (1, 0);
    let mut first = true;
    for record in reader.records() {
        let record = record.map_err(|e| fault(format!("it is not CSV: {e}")))?;
        let start = record.position().map_or(0, |p| usize::try_from(p.byte()).unwrap_or(0));
        // a record begins behind the blank lines before it
        let blank = bytes[start.min(bytes.len())..].iter().take_while(|c| matches!(c, b'\n' | b'\r')).count();
        let start = (start + blank).min(bytes.len());
        line += bytes[counted..start].iter().filter(|&&c| c == b'\n').count() as u64;
        counted = start;
        let record = Record { line, cells: record.iter().map(str::to_owned).collect() };
        if first {
            found.header = record;
            first = false;
        } else if !(record.cells.len() == 1 && found.header.cells.len() > 1 && record.is_blank()) {
            found.rows.push(record);
        }
    }
    Ok(found)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn records_know_their_lines() {
        let text = "\u{feff}a,b\r\n\r\n 1 ,\"x\ny\"\r\n  \n\"q \"\"r\"\"\",\n\n\n3\n";
        let found = records(text, "t").unwrap();
        assert_eq!(found.header, Record { line: 1, cells: vec!["a".into(), "b".into()] });
        let rows: Vec<(u64, Vec<&str>)> =
            found.rows.iter().map(|r| (r.line, r.cells.iter().map(String::as_str).collect())).collect();
        assert_eq!(rows, [(3, vec!["1", "x\ny"]), (6, vec!["q \"r\"", ""]), (9, vec!["3"])]);
        assert_eq!((found.column("b"), found.column("c")), (Some(1), None));
        assert_eq!(found.uneven().map(|r| r.line), Some(9));
        assert_eq!((found.rows[2].cell(0), found.rows[2].cell(1)), ("3", ""));
    }

    #[test]
    fn blanks_are_kept_where_they_are_asked_for() {
        assert_eq!(records("a\n\" x\"\n", "t").unwrap().rows[0].cells, ["x"]);
        assert_eq!(exact_records("a\n\" x\"\n", "t").unwrap().rows[0].cells, [" x"]);
        assert_eq!(exact_records("a\n\"\"\n", "t").unwrap().rows[0].cells, [""]);
        assert_eq!(records_by(b';', "a;b\n1,5;2\n", "t").unwrap().rows[0].cells, ["1,5", "2"]);
        assert_eq!(records("", "t").unwrap(), Records::default());
        assert!(
            records(b"a\n\xff\n", "t.csv").unwrap_err().to_string().contains("t.csv: byte 2 is not UTF-8")
        );
    }
}
