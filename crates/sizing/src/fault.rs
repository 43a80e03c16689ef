//! What keeps a table from being a chart, or one of allowances.

use thiserror::Error;

/// Why a table is no size chart, or one for other people.
#[derive(Debug, Clone, PartialEq, Error)]
#[non_exhaustive]
pub enum ChartFault {
    /// A dimension with lower limits alone.
    #[error("there is `{low}` and no `{dimension}_high`; add the upper limits")]
    NoUpperLimits {
        /// The column of lower limits.
        low: String,
        /// The dimension.
        dimension: String,
    },
    /// Limits in two units.
    #[error("`{low}` and `{high}` have different units")]
    Units {
        /// The column of lower limits.
        low: String,
        /// The column of upper limits.
        high: String,
    },
    /// No sizes or no limits.
    #[error("it needs a row a size and columns such as chest_girth_low_mm and chest_girth_high_mm")]
    Empty,
    /// A size without limits.
    #[error("size {size} has no limits of `{dimension}`; fill them in")]
    NoLimits {
        /// The size.
        size: String,
        /// The dimension.
        dimension: String,
    },
    /// Limits upside down.
    #[error("size {size}: {}, {}, {} of `{dimension}` do not ascend", .values[0], .values[1], .values[2])]
    NotAscending {
        /// The size.
        size: String,
        /// The dimension.
        dimension: String,
        /// Lower limit, centre, upper limit.
        values: [f64; 3],
    },
    /// Two sizes of one name.
    #[error("two sizes are called {size}; rename one")]
    Twice {
        /// The name.
        size: String,
    },
    /// A table without the groups of the chart.
    #[error("it has sizes for {}, and the table has no column that holds these words and no others; name one with `by` in a plan", .groups.join(", "))]
    NoGroupColumn {
        /// The groups of the chart.
        groups: Vec<String>,
    },
    /// New people without the groups of the chart.
    #[error("it has sizes for {}, and the new people have no column that holds these words and no others; name the column of their group (--by COLUMN, or `by` in a plan)", .groups.join(", "))]
    NoGroupColumnOfNew {
        /// The groups of the chart.
        groups: Vec<String>,
    },
    /// A group of people without a size.
    #[error("it has no size for `{group}`; it has sizes for {}", .groups.join(", "))]
    NoSizeFor {
        /// The group.
        group: String,
        /// The groups of the chart.
        groups: Vec<String>,
    },
}

/// Why a table is none of allowances.
#[derive(Debug, Clone, PartialEq, Error)]
#[non_exhaustive]
pub enum AllowanceFault {
    /// No column of allowances.
    #[error(
        "there is no column `allowance`, `grows`, `shrinks`, `increase_p95` or `increase_max` without gaps"
    )]
    NoColumn,
    /// An allowance below 0.
    #[error("`{column}` of `{dimension}` is {value}; what grows or shrinks does so by 0 or more")]
    Negative {
        /// The column.
        column: String,
        /// The dimension.
        dimension: String,
        /// The value.
        value: f64,
    },
    /// Units that do not go together.
    #[error("`{column}` is in {own}, and the plan's `{dimension}` in {plan}")]
    Units {
        /// The column.
        column: String,
        /// Its unit.
        own: String,
        /// The control dimension.
        dimension: String,
        /// The unit of the plan.
        plan: String,
    },
    /// No row for a control dimension.
    #[error("it has no row for a control dimension ({})", .controls.join(", "))]
    NoRow {
        /// The control dimensions.
        controls: Vec<String>,
    },
}
