//! What can be wrong with a table.

use thiserror::Error;

/// What can be wrong with a table.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
#[non_exhaustive]
pub enum TableError {
    /// A cell of a table is wrong.
    #[error("{table}, line {line}, column `{column}`: {reason}")]
    Cell {
        /// The name of the table.
        table: String,
        /// The line, from 1; the header is line 1.
        line: u64,
        /// The header of the column.
        column: String,
        /// What is wrong and what to do.
        reason: String,
    },
    /// A line of a table is wrong.
    #[error("{table}, line {line}: {reason}")]
    Line {
        /// The name of the table.
        table: String,
        /// The line, from 1; the header is line 1.
        line: u64,
        /// What is wrong and what to do.
        reason: String,
    },
    /// A table is wrong as a whole.
    #[error("{table}: {reason}")]
    Table {
        /// The name of the table.
        table: String,
        /// What is wrong and what to do.
        reason: String,
    },
    /// A table has no such column, or the column holds something else.
    #[error("column `{column}`: {reason}")]
    Column {
        /// The name asked for.
        column: String,
        /// What is wrong and what to do.
        reason: String,
    },
    /// Columns of one table differ in length.
    #[error("column `{column}` has {found} values where the table has {expected} rows")]
    Rows {
        /// The header of the column.
        column: String,
        /// Its number of values.
        found: usize,
        /// The number of rows.
        expected: usize,
    },
    /// Two columns of a table that is handed over have one header.
    #[error("two columns of the table would be called `{column}`; rename what gives one of them its name")]
    Twice {
        /// The header.
        column: String,
    },
    /// A CSV file cannot be made.
    #[error("the CSV table: {reason}")]
    Csv {
        /// Why.
        reason: String,
    },
    /// A Parquet file cannot be made, or is none.
    #[error("the Parquet table: {reason}")]
    Parquet {
        /// Why.
        reason: String,
    },
}
