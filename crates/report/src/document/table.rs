//! Tables: what is shown, cell by cell, as text.

/// A table: numbers to the right with even figures.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Table {
    /// Shown above it; may be empty.
    pub caption: String,
    /// What it is called for those who do not see it.
    pub label: String,
    /// The columns.
    pub columns: Vec<Column>,
    /// The rows. A row has a cell for every column, but for the headings between rows, which have one cell.
    pub rows: Vec<Row>,
}

/// A column.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Column {
    /// Its name.
    pub title: String,
    /// The unit of its numbers; may be empty.
    pub unit: String,
    /// Whether it holds numbers.
    pub numeric: bool,
}

/// A row.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Row {
    /// What it is.
    pub kind: RowKind,
    /// Its cells.
    pub cells: Vec<Cell>,
}

/// What a row is.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub enum RowKind {
    /// One of many.
    #[default]
    Plain,
    /// A heading over the rows that follow: one cell.
    Group,
    /// What holds for all rows.
    Total,
    /// What holds for all groups, over the rows of the groups.
    Over,
    /// A group, under the row of all.
    Sub,
}

/// A cell.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Cell {
    /// What it says.
    pub text: String,
    /// Said beside it in a quieter voice; may be empty.
    pub quiet: String,
    /// Why it is as it is; shown on hovering, and elsewhere in words. May be empty.
    pub reason: String,
    /// How it is set.
    pub look: Look,
    /// Drawn as a small flag.
    pub flag: Option<Flag>,
}

/// How a cell is set.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub enum Look {
    /// As any other.
    #[default]
    Plain,
    /// Sentences: a wide cell whose lines may break.
    Prose,
    /// A name that stays in view while the rest is scrolled.
    Keep,
    /// In one line, whatever its length.
    Whole,
    /// A value that may be long, such as a hash: it breaks anywhere.
    Value,
    /// What to rely on.
    Held,
    /// What not to rely on.
    Faint,
    /// A value that is not given.
    Suppressed,
}

/// A kind of flag.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Flag {
    /// What makes results wrong.
    Error,
    /// What a reader must look at.
    Warning,
    /// What is good to know.
    Note,
}

impl Table {
    /// A table without rows.
    #[must_use]
    pub fn new(caption: impl Into<String>, columns: Vec<Column>) -> Self {
        let caption = caption.into();
        Self { label: caption.clone(), caption, columns, rows: Vec::new() }
    }

    /// A table without a caption; it is called so for those who do not see it.
    #[must_use]
    pub fn unnamed(label: impl Into<String>, columns: Vec<Column>) -> Self {
        Self { label: label.into(), caption: String::new(), columns, rows: Vec::new() }
    }

    /// Adds a row.
    pub fn row(&mut self, cells: Vec<Cell>) {
        self.push(RowKind::Plain, cells);
    }

    /// Adds a row of what holds for all rows.
    pub fn total(&mut self, cells: Vec<Cell>) {
        self.push(RowKind::Total, cells);
    }

    /// Adds a heading over the rows that follow.
    pub fn group(&mut self, text: impl Into<String>) {
        self.push(RowKind::Group, vec![cell(text)]);
    }

    /// Adds a row of this kind.
    pub fn push(&mut self, kind: RowKind, cells: Vec<Cell>) {
        self.rows.push(Row { kind, cells });
    }
}

/// A column of text.
#[must_use]
pub fn text(title: impl Into<String>) -> Column {
    Column { title: title.into(), unit: String::new(), numeric: false }
}

/// A column of numbers.
#[must_use]
pub fn number(title: impl Into<String>, unit: impl Into<String>) -> Column {
    Column { title: title.into(), unit: unit.into(), numeric: true }
}

/// A plain cell.
#[must_use]
pub fn cell(text: impl Into<String>) -> Cell {
    Cell { text: text.into(), ..Cell::default() }
}

impl Cell {
    /// With something beside it in a quieter voice.
    #[must_use]
    pub fn quiet(mut self, text: impl Into<String>) -> Self {
        self.quiet = text.into();
        self
    }

    /// With the reason why it is as it is.
    #[must_use]
    pub fn reason(mut self, text: impl Into<String>) -> Self {
        self.reason = text.into();
        self
    }

    /// As a flag.
    #[must_use]
    pub fn flag(mut self, kind: Flag) -> Self {
        self.flag = Some(kind);
        self
    }

    /// As sentences.
    #[must_use]
    pub fn prose(self) -> Self {
        self.look(Look::Prose)
    }

    /// As a name that stays in view while the rest is scrolled.
    #[must_use]
    pub fn keep(self) -> Self {
        self.look(Look::Keep)
    }

    /// In one line.
    #[must_use]
    pub fn whole(self) -> Self {
        self.look(Look::Whole)
    }

    /// As a value that may break anywhere.
    #[must_use]
    pub fn value(self) -> Self {
        self.look(Look::Value)
    }

    /// As what to rely on.
    #[must_use]
    pub fn held(self) -> Self {
        self.look(Look::Held)
    }

    /// As what not to rely on.
    #[must_use]
    pub fn faint(self) -> Self {
        self.look(Look::Faint)
    }

    /// As a value that is not given.
    #[must_use]
    pub fn suppressed(self) -> Self {
        self.look(Look::Suppressed)
    }

    /// In this look.
    #[must_use]
    pub fn look(mut self, look: Look) -> Self {
        self.look = look;
        self
    }
}
