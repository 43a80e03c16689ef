//! The table of participants: a CSV file with a row a person, or a row an item.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use formkin_table::records_by;

use crate::CohortError;
use crate::error::Place;
use crate::items_csv::is_reserved;

/// Names of the column that holds the participant.
const PARTICIPANT: [&str; 5] = ["participant", "participant_id", "person", "subject", "id"];
/// Names of the column that names an item, a file or a capture.
const ITEM: [&str; 3] = ["item", "file", "capture"];

/// A row about a person or an item.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Row {
    pub(crate) line: usize,
    /// Empty where the table has no column of participants.
    pub(crate) participant: String,
    /// The item, file or capture; empty where the table has no such column.
    pub(crate) item: String,
    /// Empty where the table has no column `session`.
    pub(crate) session: String,
    pub(crate) groups: BTreeMap<String, String>,
}

/// The table.
#[derive(Debug, Default)]
pub(crate) struct Participants {
    pub(crate) file: PathBuf,
    pub(crate) rows: Vec<Row>,
    by_item: BTreeMap<String, usize>,
    /// (participant, session); the session is empty where the table has none.
    by_participant: BTreeMap<(String, String), usize>,
    has_item_column: bool,
}

impl Participants {
    /// Reads the table. Fields are separated by commas, semicolons or tabs, whichever the header has most of.
    pub(crate) fn read(path: &Path) -> Result<Self, CohortError> {
        let bytes = std::fs::read(path).map_err(CohortError::io(path, "read"))?;
        let bytes = bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(&bytes);
        let wrong = |at: Place, problem: String| {
            CohortError::syntax(path, at, problem, "give a CSV table with a header line")
        };
        let read = records_by(delimiter(bytes), bytes, "the table");
        let read = read.map_err(|e| wrong(Place::Line(1), e.to_string()))?;
        let header: Vec<String> = read.header.cells.iter().map(|c| unquoted(c).to_owned()).collect();
        let column =
            |names: &[&str]| names.iter().find_map(|n| header.iter().position(|c| c.eq_ignore_ascii_case(n)));
        let participant = column(&PARTICIPANT);
        let item = column(&ITEM);
        let session = column(&["session"]);
        if participant.is_none() && item.is_none() {
            return Err(CohortError::syntax(
                path,
                Place::Line(1),
                format!("the columns are {}", header.join(", ")),
                "one of them must be called `participant` (a row a person) or `item`, `file` or `capture` (a row an item)",
            ));
        }
        if let Some(twice) = header.iter().enumerate().find(|(i, c)| header[..*i].contains(c)) {
            return Err(wrong(Place::Line(1), format!("the column `{}` comes twice", twice.1)));
        }
        let mut table = Self { file: path.to_owned(), has_item_column: item.is_some(), ..Self::default() };
        for record in &read.rows {
            let line = usize::try_from(record.line).unwrap_or(usize::MAX);
            if record.cells.len() != header.len() {
                return Err(CohortError::syntax(
                    path,
                    Place::Line(line),
                    format!("{} cells, and the header has {}", record.cells.len(), header.len()),
                    "separate cells by one mark alone (comma, semicolon or tab), and write decimals with a point",
                ));
            }
            if record.is_blank() {
                continue;
            }
            if let Some((at, cell)) = record.cells.iter().enumerate().find(|(_, cell)| is_decimal_comma(cell))
            {
                return Err(CohortError::syntax(
                    path,
                    Place::Line(line),
                    format!(
                        "`{cell}` in the column `{}` has a decimal comma",
                        header.get(at).map_or("", String::as_str)
                    ),
                    "write decimals with a point",
                ));
            }
            let field = |at: Option<usize>| at.map_or("", |at| record.cell(at)).to_owned();
            let special = [participant, item, session];
            let groups = header
                .iter()
                .enumerate()
                .filter(|(at, c)| !special.contains(&Some(*at)) && !c.is_empty())
                .map(|(at, c)| {
                    let name = if is_reserved(c) { format!("table_{c}") } else { c.clone() };
                    (name, field(Some(at)))
                })
                .collect();
            let row = Row {
                line,
                participant: field(participant),
                item: field(item),
                session: field(session),
                groups,
            };
            table.add(row)?;
        }
        if table.rows.is_empty() {
            return Err(wrong(Place::Line(1), "there is a header and no row".to_owned()));
        }
        Ok(table)
    }

    fn add(&mut self, row: Row) -> Result<(), CohortError> {
        let number = self.rows.len();
        let before = if self.has_item_column {
            if row.item.is_empty() { None } else { self.by_item.insert(row.item.clone(), number) }
        } else {
            self.by_participant.insert((row.participant.clone(), row.session.clone()), number)
        };
        if let Some(first) = before {
            let key = if self.has_item_column { row.item } else { row.participant };
            return Err(CohortError::DuplicateRow {
                file: self.file.clone(),
                key,
                first_line: self.rows[first].line,
                second_line: row.line,
            });
        }
        if self.has_item_column && !row.participant.is_empty() {
            // further rows of the same person keep the first
            let key = (row.participant.clone(), String::new());
            self.by_participant.entry(key).or_insert(number);
        }
        self.rows.push(row);
        Ok(())
    }

    /// The row that names one of these names in its column of items.
    pub(crate) fn item(&self, names: &[&str]) -> Option<usize> {
        names.iter().find_map(|n| self.by_item.get(*n).copied())
    }

    /// The participant of a name: the longest one listed that the name equals, or begins with before a mark that is neither
    /// letter nor digit.
    pub(crate) fn participant_of(&self, name: &str) -> Option<&str> {
        self.by_participant
            .keys()
            .map(|(p, _)| p.as_str())
            .filter(|p| !p.is_empty())
            .filter(|p| {
                name.strip_prefix(p)
                    .is_some_and(|rest| rest.chars().next().is_none_or(|c| !c.is_alphanumeric()))
            })
            .max_by_key(|p| p.len())
    }

    /// The row of a participant: that of the session where there is one, or the one without session.
    pub(crate) fn row(&self, participant: &str, session: &str) -> Option<usize> {
        let get = |s: &str| self.by_participant.get(&(participant.to_owned(), s.to_owned())).copied();
        get(session).or_else(|| get(""))
    }

    /// Whether a row is about a file of this name alone: it names the item, or a participant of exactly this name.
    pub(crate) fn names_individually(&self, stem: &str, name: &str) -> bool {
        self.by_item.contains_key(stem)
            || self.by_item.contains_key(name)
            || self.by_participant.keys().any(|(p, _)| p == stem)
    }
}

/// A header without the quotation marks around it, which stay where a blank stands before them.
fn unquoted(header: &str) -> &str {
    header.strip_prefix('"').and_then(|h| h.strip_suffix('"')).unwrap_or(header)
}

/// `64,4` or `-0,5`: a number as it is written in half of the world, which would be taken for a word.
fn is_decimal_comma(cell: &str) -> bool {
    let cell = cell.strip_prefix(['-', '+']).unwrap_or(cell);
    let digits = |part: &str| !part.is_empty() && part.bytes().all(|c| c.is_ascii_digit());
    cell.split_once(',').is_some_and(|(whole, part)| digits(whole) && digits(part))
}

/// The mark that separates cells: of comma, semicolon and tab the one that the header has most of outside quotation marks.
fn delimiter(bytes: &[u8]) -> u8 {
    let mut quoted = false;
    let mut counts = [(b',', 0), (b';', 0), (b'\t', 0)];
    for &c in bytes {
        match c {
            b'"' => quoted = !quoted,
            b'\n' if !quoted => break,
            _ if quoted => {}
            c => counts.iter_mut().filter(|(mark, _)| *mark == c).for_each(|(_, n)| *n += 1),
        }
    }
    counts.into_iter().rev().max_by_key(|(_, n)| *n).map_or(b',', |(mark, _)| mark)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn table(text: &str) -> Result<Participants, CohortError> {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("people.csv");
        std::fs::write(&path, text).unwrap();
        Participants::read(&path)
    }

    #[test]
    fn people_are_found_by_the_longest_prefix() {
        for text in [
            "participant,sex,age\nC1,f,31\nC1_a,m,40\nC10,f,50\n",
            "\u{feff}Participant;sex;age\r\nC1;f;31\r\nC1_a;m;40\r\n;;\r\nC10;f;50",
        ] {
            let t = table(text).unwrap();
            assert_eq!(t.rows.len(), 3);
            assert_eq!(t.participant_of("C1_scan"), Some("C1"));
            assert_eq!(t.participant_of("C1_a_2"), Some("C1_a"));
            assert_eq!(t.participant_of("C10"), Some("C10"));
            assert_eq!(t.participant_of("C100"), None);
            let row = &t.rows[t.row("C10", "s2").unwrap()];
            assert_eq!((row.groups["sex"].as_str(), row.groups["age"].as_str()), ("f", "50"));
            assert!(t.names_individually("C10", "C10.ply") && !t.names_individually("C10_1", "C10_1.ply"));
        }
    }

    #[test]
    fn sessions_and_items_make_rows_of_their_own() {
        let t = table("participant,session,mass_kg\nC1,s1,70\nC1,s2,71\n").unwrap();
        assert_eq!(t.rows[t.row("C1", "s2").unwrap()].groups["mass_kg"], "71");
        assert_eq!(t.row("C1", "s3"), None);
        let t = table("file,participant,status\na.ply,C1,wet\nb.ply,C1,dry\n").unwrap();
        assert_eq!(t.rows[t.item(&["b", "b.ply"]).unwrap()].groups["table_status"], "dry");
    }

    #[test]
    fn names_with_marks_in_them_come_as_they_are() {
        let t =
            table("participant,\"crew; \"\"A\"\"; x; y\"\n\"C, \"\"1\"\"\",\"=1\n2\"\n\nC2,<b>\n").unwrap();
        assert_eq!((t.rows[0].participant.as_str(), t.rows[0].line), ("C, \"1\"", 2));
        assert_eq!(t.rows[0].groups["crew; \"A\"; x; y"], "=1\n2");
        assert_eq!((t.rows[1].groups["crew; \"A\"; x; y"].as_str(), t.rows[1].line), ("<b>", 5));
    }

    #[test]
    fn a_person_twice_is_an_error_with_both_lines() {
        let error = table("participant,sex\nC1,f\nC2,m\nC1,m\n").unwrap_err();
        assert!(
            matches!(&error, CohortError::DuplicateRow { key, first_line: 2, second_line: 4, .. } if key == "C1")
        );
        assert!(table("file\na\na\n").is_err());
        assert!(table("name,sex\nC1,f\n").unwrap_err().to_string().contains("name, sex"));
        assert!(table("participant,sex,sex\nC1,f,m\n").is_err());
        assert!(table("participant,sex\nC1\n").is_err());
        assert!(table("").is_err());
        assert!(table("participant,sex\n").unwrap_err().to_string().contains("no row"));
    }

    #[test]
    fn cells_are_separated_by_commas_semicolons_or_tabs_and_decimals_by_points() {
        for mark in [",", ";", "\t"] {
            let text = "participant|sex|mass_kg|note\nC1|f|64.4|\"a, b; c\"\nC2|m|80|-\n".replace('|', mark);
            let t = table(&text).unwrap();
            let row = &t.rows[t.row("C1", "").unwrap()];
            assert_eq!(
                (row.groups["mass_kg"].as_str(), row.groups["note"].as_str()),
                ("64.4", "a, b; c"),
                "{mark:?}"
            );
            let comma = table(&text.replace("64.4", "\"64,4\"")).unwrap_err().to_string();
            for words in ["line 2", "`64,4`", "`mass_kg`", "decimals with a point"] {
                assert!(comma.contains(words), "{mark:?}: {comma}");
            }
        }
        let comma = table("participant;mass_kg\nC1;-64,4\n").unwrap_err().to_string();
        assert!(comma.contains("-64,4"), "{comma}");
        // in a table of commas it makes a cell too many
        let comma = table("participant,mass_kg\nC1,64,4\n").unwrap_err().to_string();
        assert!(comma.contains("3 cells") && comma.contains("decimals with a point"), "{comma}");
    }
}
