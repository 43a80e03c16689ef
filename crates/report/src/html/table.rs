//! Tables.

use askama::Template;

use crate::ReportError;

/// A table of the page: numbers to the right with even figures, in a box of its own that scrolls.
#[derive(Debug, Clone, Default, Template)]
#[template(path = "table.html")]
pub(crate) struct Table {
    /// Shown above it; may be empty.
    pub(crate) caption: String,
    /// What it is called for those who do not see it.
    pub(crate) label: String,
    pub(crate) columns: Vec<Column>,
    pub(crate) rows: Vec<Row>,
}

/// A column.
#[derive(Debug, Clone, Default)]
pub(crate) struct Column {
    pub(crate) title: String,
    pub(crate) unit: String,
    pub(crate) numeric: bool,
}

/// A row; of class `group` it is a heading over the rows that follow.
#[derive(Debug, Clone, Default)]
pub(crate) struct Row {
    pub(crate) class: &'static str,
    pub(crate) cells: Vec<Cell>,
}

/// A cell.
#[derive(Debug, Clone, Default)]
pub(crate) struct Cell {
    pub(crate) text: String,
    /// Said beside it in a quieter voice.
    pub(crate) quiet: String,
    /// Why it is as it is; shown on hovering, and elsewhere in words.
    pub(crate) reason: String,
    pub(crate) class: &'static str,
    /// Drawn as a small flag of this kind.
    pub(crate) flag: &'static str,
}

impl Table {
    /// A table without rows.
    pub(crate) fn new(caption: impl Into<String>, columns: Vec<Column>) -> Self {
        let caption = caption.into();
        Self { label: caption.clone(), caption, columns, rows: Vec::new() }
    }

    /// A table without a caption; it is called so for those who do not see it.
    pub(crate) fn unnamed(label: impl Into<String>, columns: Vec<Column>) -> Self {
        Self { label: label.into(), caption: String::new(), columns, rows: Vec::new() }
    }

    /// Adds a row.
    pub(crate) fn row(&mut self, cells: Vec<Cell>) {
        self.rows.push(Row { class: "", cells });
    }

    /// Adds a heading over the rows that follow.
    pub(crate) fn group(&mut self, text: impl Into<String>) {
        self.rows.push(Row { class: "group", cells: vec![cell(text)] });
    }

    /// As markup; nothing for a table without rows.
    pub(crate) fn markup(&self) -> Result<String, ReportError> {
        if self.rows.is_empty() {
            return Ok(String::new());
        }
        Ok(self.render()?)
    }
}

/// A column of text.
pub(crate) fn text(title: impl Into<String>) -> Column {
    Column { title: title.into(), unit: String::new(), numeric: false }
}

/// A column of numbers.
pub(crate) fn number(title: impl Into<String>, unit: impl Into<String>) -> Column {
    Column { title: title.into(), unit: unit.into(), numeric: true }
}

/// A plain cell.
pub(crate) fn cell(text: impl Into<String>) -> Cell {
    Cell { text: text.into(), ..Cell::default() }
}

impl Cell {
    /// With something beside it in a quieter voice.
    pub(crate) fn quiet(mut self, text: impl Into<String>) -> Self {
        self.quiet = text.into();
        self
    }

    /// In this class.
    pub(crate) fn class(mut self, class: &'static str) -> Self {
        self.class = class;
        self
    }

    /// As a flag of this kind.
    pub(crate) fn flag(mut self, kind: &'static str) -> Self {
        self.flag = kind;
        self
    }

    /// With the reason why it is as it is.
    pub(crate) fn reason(mut self, text: impl Into<String>) -> Self {
        self.reason = text.into();
        self
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_a_user_wrote_cannot_become_markup() {
        let mut t = Table::new("<i>", vec![text("item"), number("length", "mm")]);
        t.group("<script>");
        t.row(vec![cell("<script>alert(1)</script>"), cell("12").quiet("<b>").reason("\"><b>")]);
        let out = t.markup().unwrap();
        assert!(!out.contains("<script>") && !out.contains("<b>") && !out.contains("<i>"));
        assert!(out.contains("class=\"num \""));
    }

    #[test]
    fn no_rows_no_table() {
        assert_eq!(Table::new("x", vec![text("a")]).markup().unwrap(), "");
    }
}
