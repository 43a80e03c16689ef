//! `items.csv`: one row an item, with the place of its positions.

use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

use formkin_table::{NumberFormat, Sheet, exact_records};

use crate::CohortError;
use crate::item::{Item, Status};

/// Columns before the group columns.
const HEAD: [&str; 6] = ["item", "participant", "session", "capture", "frame", "time_s"];
/// Columns after the group columns.
const TAIL: [&str; 5] = ["source", "status", "reason", "positions", "row"];

/// Whether a column of the table of participants has the name of a column of ours.
pub(crate) fn is_reserved(column: &str) -> bool {
    HEAD.contains(&column) || TAIL.contains(&column)
}

/// Where the positions of an accepted item are: a file of the folder `positions` and a row of it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Stored {
    pub(crate) file: String,
    pub(crate) row: usize,
}

/// An item and its place.
pub(crate) type Placed = (Item, Option<Stored>);

/// The content of the file. Items that were set aside have no place.
pub(crate) fn to_csv(items: &[Placed]) -> Result<Vec<u8>, CohortError> {
    let all = || items.iter().map(|(item, _)| item);
    let place = || items.iter().map(|(_, stored)| stored.as_ref());
    let mut sheet = Sheet::new()
        .text("item", "The item", all().map(|i| i.item.as_str()))
        .text("participant", "Whose it is", all().map(|i| i.participant.as_str()))
        .text("session", "The session", all().map(|i| i.session.as_str()))
        .text("capture", "The capture", all().map(|i| i.capture.as_str()))
        .optional_whole("frame", None, "The frame of the capture", all().map(|i| i.frame.map(|f| f as usize)))
        .optional_number("time", Some("s"), "Time stamp", NumberFormat::Shortest, all().map(|i| i.time_s));
    let groups: BTreeSet<&String> = all().flat_map(|i| i.groups.keys()).collect();
    for group in groups {
        let values = all().map(|i| i.groups.get(group).map_or("", String::as_str));
        sheet = sheet.text(group, "From the table of participants", values);
    }
    let status = |i: &Item| match &i.status {
        Status::Accepted => ("accepted", String::new()),
        Status::Quarantined { reason } => ("quarantined", reason.clone()),
    };
    sheet
        .text("source", "The file it came from", all().map(|i| i.source.as_str()))
        .text("status", "Whether it is in the cohort", all().map(|i| status(i).0))
        .text("reason", "Why it was set aside", all().map(|i| status(i).1))
        .text(
            "positions",
            "The file of its positions",
            place().map(|s| s.map_or_else(String::new, |s| format!("positions/{}", s.file))),
        )
        .optional_whole("row", None, "Its row in that file", place().map(|s| s.map(|s| s.row)))
        .to_csv()
        .map_err(|e| CohortError::Setting { setting: "items.csv", reason: format!("cannot be written: {e}") })
}

/// Reads the file.
pub(crate) fn read(path: &Path) -> Result<Vec<Placed>, CohortError> {
    let damaged = |reason: String| CohortError::NotACohort { path: path.to_owned(), reason };
    let bytes = std::fs::read(path).map_err(CohortError::io(path, "read"))?;
    let table = exact_records(&bytes, "items.csv").map_err(|e| damaged(e.to_string()))?;
    let columns = &table.header.cells;
    let mut place = BTreeMap::new();
    for name in HEAD.into_iter().chain(TAIL) {
        let at = table.column(name).ok_or_else(|| damaged(format!("no column `{name}`")))?;
        place.insert(name, at);
    }
    if let Some(record) = table.uneven() {
        return Err(damaged(format!(
            "items.csv, line {}: {} cells, but the header has {}",
            record.line,
            record.cells.len(),
            columns.len()
        )));
    }
    let mut items = Vec::new();
    for (i, record) in table.rows.iter().enumerate() {
        let text = |name: &str| place.get(name).map_or("", |&at| record.cell(at));
        let wrong = |name: &str| damaged(format!("row {}: `{}` is no {name}", i + 1, text(name)));
        let frame = match text("frame") {
            "" => None,
            f => Some(f.parse().map_err(|_| wrong("frame"))?),
        };
        let time_s = match text("time_s") {
            "" => None,
            t => Some(t.parse().map_err(|_| wrong("time_s"))?),
        };
        let status = match text("status") {
            "accepted" => Status::Accepted,
            "quarantined" => Status::Quarantined { reason: text("reason").to_owned() },
            _ => return Err(wrong("status")),
        };
        let stored = match (&status, text("positions")) {
            (Status::Quarantined { .. }, _) => None,
            (Status::Accepted, positions) => {
                let file = positions
                    .strip_prefix("positions/")
                    .filter(|f| !f.is_empty() && !f.contains(['/', '\\']))
                    .ok_or_else(|| wrong("positions"))?;
                Some(Stored { file: file.to_owned(), row: text("row").parse().map_err(|_| wrong("row"))? })
            }
        };
        let groups = columns
            .iter()
            .enumerate()
            .filter(|(_, c)| !is_reserved(c))
            .map(|(at, c)| (c.clone(), record.cell(at).to_owned()))
            .collect();
        let item = Item {
            item: text("item").to_owned(),
            participant: text("participant").to_owned(),
            session: text("session").to_owned(),
            capture: text("capture").to_owned(),
            frame,
            time_s,
            groups,
            source: text("source").to_owned(),
            status,
        };
        items.push((item, stored));
    }
    Ok(items)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn items_come_back() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("items.csv");
        let still = Item {
            item: "A1, \"left\"".into(),
            participant: "A1".into(),
            session: "s2".into(),
            capture: "A1".into(),
            frame: None,
            time_s: None,
            groups: [("sex".to_owned(), "f".to_owned()), ("age".to_owned(), "31".to_owned())].into(),
            source: "scans/A1.ply".into(),
            status: Status::Accepted,
        };
        let frame = Item { frame: Some(7), time_s: Some(0.1 + 0.2), ..still.clone() };
        let aside = Item { status: Status::Quarantined { reason: "no, \"that\"".into() }, ..still.clone() };
        let all = vec![
            (still, Some(Stored { file: "stills.npy".into(), row: 0 })),
            (frame, Some(Stored { file: "walk.npy".into(), row: 3 })),
            (aside, None),
        ];
        std::fs::write(&path, to_csv(&all).unwrap()).unwrap();
        assert_eq!(read(&path).unwrap(), all);
        for (from, to) in [("positions/walk", "positions/../walk"), ("item,", "itom,"), (",7,", ",x,")] {
            let text = String::from_utf8(to_csv(&all).unwrap()).unwrap().replace(from, to);
            std::fs::write(&path, text).unwrap();
            assert!(matches!(read(&path), Err(CohortError::NotACohort { .. })), "{to}");
        }
    }
}
