//! What can be wrong with a plan, or with a table for a plan.

use formkin_stats::StatsError;
use formkin_table::TableError;
use thiserror::Error;

use crate::fault::{AllowanceFault, ChartFault};

/// What can be wrong with a plan, or with a table for a plan.
#[derive(Debug, Clone, PartialEq, Error)]
#[non_exhaustive]
pub enum SizingError {
    /// The text is not a plan.
    #[error("this is not a size plan: {message}")]
    Toml {
        /// What the reader says, with the place.
        message: String,
    },
    /// The plan names no control dimension.
    #[error("the plan has no control dimension; add a [[control]] table with `dimension` and `tolerance`")]
    NoControl,
    /// A control dimension is there twice.
    #[error("control dimension `{dimension}` is in the plan twice; remove one")]
    RepeatedControl {
        /// The dimension.
        dimension: String,
    },
    /// A tolerance is zero, negative or not a number.
    #[error("control dimension `{dimension}`: tolerance `{side}` is {value}; it must be above 0")]
    Tolerance {
        /// The dimension.
        dimension: String,
        /// `below` or `above`.
        side: &'static str,
        /// The value given.
        value: f64,
    },
    /// Another setting is outside its range.
    #[error("{name} is {value}; it must be {range}")]
    Setting {
        /// The setting.
        name: String,
        /// The value given.
        value: f64,
        /// The range, in words.
        range: &'static str,
    },
    /// A method that the plan is not made for.
    #[error("method `{method}`: {reason}")]
    Method {
        /// The method.
        method: &'static str,
        /// What it needs.
        reason: &'static str,
    },
    /// Intervals that are none.
    #[error("intervals of control dimension `{dimension}`: {reason}")]
    Intervals {
        /// The dimension.
        dimension: String,
        /// What is wrong and what to do.
        reason: String,
    },
    /// A margin that does not suit the people.
    #[error("margin of column `{column}`: {reason}")]
    Margin {
        /// The column.
        column: String,
        /// What is wrong and what to do.
        reason: String,
    },
    /// A size chart that cannot be read.
    #[error("this is not a size chart: {0}")]
    Chart(#[from] ChartFault),
    /// A table of allowances that cannot be read.
    #[error("this is not a table of allowances: {0}")]
    Allowances(#[from] AllowanceFault),
    /// The table has no rows.
    #[error("the table has no rows: there is nobody to make sizes for")]
    NoPeople,
    /// The table lacks a column that the plan names, or the column holds words where numbers are needed.
    #[error("the plan's {role}: {source}")]
    Column {
        /// What the plan names it for.
        role: &'static str,
        /// What is wrong, with names near it.
        source: TableError,
    },
    /// A column has another length than the identifiers.
    #[error("column `{name}` has {found} values for {rows} rows")]
    Rows {
        /// The column.
        name: String,
        /// Rows of the table.
        rows: usize,
        /// Values in the column.
        found: usize,
    },
    /// A number is infinite or NaN.
    #[error("column `{name}` holds {value} at {id}; correct the value or leave the cell empty")]
    NotFinite {
        /// The column.
        name: String,
        /// The row.
        id: String,
        /// The value.
        value: f64,
    },
    /// A value or a tolerance that cannot be of people: the one is a thousand million times the other.
    #[error(
        "column `{name}` holds {value:e} at {id}, more than a thousand million times the tolerance of {tolerance:e}; correct the value, the tolerance or their units"
    )]
    OutOfScale {
        /// The column.
        name: String,
        /// The row.
        id: String,
        /// The value.
        value: f64,
        /// The smaller tolerance, in the column's unit.
        tolerance: f64,
    },
    /// The plan's unit cannot be turned into the column's.
    #[error(
        "control dimension `{dimension}` is in {column} in the table, and the plan's unit is `{unit}`; lengths are in mm, cm or m, and other units must be the same on both sides"
    )]
    Unit {
        /// The dimension.
        dimension: String,
        /// The column's unit.
        column: String,
        /// The plan's unit.
        unit: String,
    },
    /// A control dimension is the same for everyone of a group.
    #[error(
        "control dimension `{dimension}` is {value} for everyone in {group}; it cannot tell sizes apart: leave it out of the plan"
    )]
    Constant {
        /// The dimension.
        dimension: String,
        /// The group.
        group: String,
        /// The value.
        value: f64,
    },
    /// People lack a value that the sizes need, and the plan refuses them.
    #[error("{people} people lack `{column}`, first {id}; complete the table, or set missing = \"drop\"")]
    MissingValues {
        /// The column.
        column: String,
        /// How many people.
        people: usize,
        /// The first of them.
        id: String,
    },
    /// Nobody is left when people with missing values are left out.
    #[error(
        "all {people} people lack a value in `{column}` or another column that the sizes need: nobody is left"
    )]
    NobodyLeft {
        /// The column most of them lack.
        column: String,
        /// How many there were.
        people: usize,
    },
    /// A person has more than one row.
    #[error(
        "{participant} has {rows} rows; sizes need one row a person (frames and repeated captures are not people): choose one capture a person, or average them"
    )]
    RepeatedParticipant {
        /// The person.
        participant: String,
        /// How many rows.
        rows: usize,
    },
    /// A weight is not above zero.
    #[error("the weight of {id} is {value}; weights must be above 0")]
    Weight {
        /// The row.
        id: String,
        /// The value.
        value: f64,
    },
    /// A group has no number of sizes.
    #[error("sizes.count names no number for group `{group}`; it names {}", .named.join(", "))]
    NoCount {
        /// The group.
        group: String,
        /// The groups that have one.
        named: Vec<String>,
    },
    /// A number of sizes is given for a group that is not in the table.
    #[error("sizes.count names group `{group}`, which is not in the table; its groups are {}", .present.join(", "))]
    UnknownGroup {
        /// The group in the plan.
        group: String,
        /// The groups of the table.
        present: Vec<String>,
    },
    /// Numbers of sizes by group, and no group column.
    #[error("sizes.count gives a number by group, and the plan names no group column; add by = \"COLUMN\"")]
    NoGroupColumn,
    /// More sizes than people who differ.
    #[error(
        "{sizes} sizes are asked for in {group}, where there are {people} people ({distinct} who differ in the control dimensions), of whom {fitted} are fitted on in a fold; ask for fewer sizes"
    )]
    TooManySizes {
        /// The group.
        group: String,
        /// Sizes asked for.
        sizes: usize,
        /// People.
        people: usize,
        /// People who differ.
        distinct: usize,
        /// People left to fit on in the smallest fold.
        fitted: usize,
    },
    /// Fewer people than folds.
    #[error(
        "{group} has {people} people, and the plan asks for {folds} folds; use fewer folds, join groups, or measure more people"
    )]
    TooFewForFolds {
        /// The group.
        group: String,
        /// People.
        people: usize,
        /// Folds.
        folds: usize,
    },
    /// A computation failed.
    #[error("{group}: {source}")]
    Numbers {
        /// The group.
        group: String,
        /// What went wrong.
        source: StatsError,
    },
}
