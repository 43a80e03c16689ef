//! Tables in and out: typed columns with name, unit and meaning. The only reader and writer of CSV and Parquet.
//!
//! | module | what it holds |
//! |---|---|
//! | [`sheet`] | a table as it is handed over, written as CSV or Parquet |
//! | [`mod@records`] | the cells of a CSV file, with their lines |
//! | [`table`] | a table of people or items as it is read, with units from its headers |
//! | [`parquet_table`] | words and numbers as Parquet |
//! | [`mod@unit`] | units that headers end with |
//! | [`near`] | names near a misspelt one |
//! | [`wording`] | messages of the TOML reader in plain words |
//! | [`file_name`](mod@file_name) | file names from people's words |
//! | [`error`] | what can be wrong with a table |

mod csv_writer;
pub mod error;
pub mod file_name;
pub mod near;
mod parquet_reader;
pub mod parquet_table;
mod parquet_writer;
pub mod records;
pub mod sheet;
mod sheet_files;
pub mod table;
pub mod unit;
pub mod wording;

pub use error::TableError;
pub use file_name::{FileNames, file_name};
pub use records::{Record, Records, exact_records, records, records_by};
pub use sheet::{Column, NumberFormat, Sheet, Values};
pub use table::{LABELS, NumberColumn, Table, TextColumn};
