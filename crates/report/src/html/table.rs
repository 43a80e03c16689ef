//! Tables as markup.

use askama::Template;

use crate::document::table::{Cell, Column, Flag, Look, RowKind, Table};
use crate::error::ReportError;

#[derive(Template)]
#[template(path = "table.html")]
struct TableTemplate<'a> {
    caption: &'a str,
    label: &'a str,
    columns: &'a [Column],
    rows: Vec<RowMarkup<'a>>,
}

struct RowMarkup<'a> {
    class: &'static str,
    cells: Vec<CellMarkup<'a>>,
}

struct CellMarkup<'a> {
    text: &'a str,
    quiet: &'a str,
    reason: &'a str,
    class: &'static str,
    flag: &'static str,
    numeric: bool,
}

/// A table as markup; nothing for one without rows.
pub(super) fn markup(table: &Table) -> Result<String, ReportError> {
    if table.rows.is_empty() {
        return Ok(String::new());
    }
    let Table { caption, label, columns, rows } = table;
    let numeric = |i: usize| columns.get(i).is_some_and(|c| c.numeric);
    let rows = rows
        .iter()
        .map(|row| RowMarkup {
            class: row_class(row.kind),
            cells: row.cells.iter().enumerate().map(|(i, c)| cell(c, numeric(i))).collect(),
        })
        .collect();
    Ok(TableTemplate { caption, label, columns, rows }.render()?)
}

fn cell(cell: &Cell, numeric: bool) -> CellMarkup<'_> {
    let Cell { text, quiet, reason, look, flag } = cell;
    let flag = match flag {
        None => "",
        Some(Flag::Error) => "error",
        Some(Flag::Warning) => "warning",
        Some(Flag::Note) => "note",
    };
    CellMarkup { text, quiet, reason, class: cell_class(*look), flag, numeric }
}

fn cell_class(look: Look) -> &'static str {
    match look {
        Look::Plain => "",
        Look::Prose => "prose",
        Look::Keep => "keep",
        Look::Whole => "whole",
        Look::Value => "value",
        Look::Held => "held",
        Look::Faint => "quiet",
        Look::Suppressed => "suppressed",
    }
}

fn row_class(kind: RowKind) -> &'static str {
    match kind {
        RowKind::Plain => "",
        RowKind::Group => "group",
        RowKind::Total => "total",
        RowKind::Over => "over",
        RowKind::Sub => "sub",
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::document::table::{cell, number, text};

    #[test]
    fn what_a_user_wrote_cannot_become_markup() {
        let mut t = Table::new("<i>", vec![text("item<u>"), number("length", "mm<u>")]);
        t.group("<script>");
        t.row(vec![cell("<script>alert(1)</script>"), cell("12").quiet("<b>").reason("\"><b>")]);
        let out = markup(&t).unwrap();
        for tag in ["<script>", "<b>", "<i>", "<u>", "\"><b"] {
            assert!(!out.contains(tag), "{tag} in {out}");
        }
        assert!(out.contains("class=\"num \""));
    }

    #[test]
    fn no_rows_no_table_and_a_row_too_long_is_shown() {
        assert_eq!(markup(&Table::new("x", vec![text("a")])).unwrap(), "");
        let mut t = Table::new("x", vec![text("a")]);
        t.row(vec![cell("1"), cell("2")]);
        assert!(markup(&t).unwrap().contains(">2</td>"));
    }
}
