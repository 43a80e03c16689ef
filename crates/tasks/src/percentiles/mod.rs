//! A population in percentiles, correlations and values out of the usual.
//!
//! | file | what it holds |
//! |---|---|
//! | `settings` | what is asked for |
//! | `section` | what a reader is shown |

mod section;
mod settings;
#[cfg(test)]
mod tests;

use formkin_measure::population::Population;
use formkin_report::document::Section;
use formkin_table::Table;
use serde_json::{Value, json};

pub use settings::{PercentilesSettings, PercentilesSources};

use crate::reading::read_table;
use crate::{Delivery, InStudy, Progress, Store, Target, Task, TaskError};

/// A population in percentiles, correlations and values out of the usual.
#[derive(Debug, Clone, Copy)]
pub struct Percentiles;

impl Task for Percentiles {
    const NAME: &'static str = "percentiles";
    const ABOUT: &'static str = "Percentiles, correlations and unusual values of a table of people";
    const EXAMPLES: &'static str = "Example:\n  formkin percentiles people.csv --by sex --into summary";
    const TARGETS: &'static [Target] = &[Target::Folder {
        option: "into",
        about: "The folder to write the four tables into",
        required: false,
    }];
    const NAMES: &'static [&'static str] = &[
        "percentiles.csv",
        "correlations.csv",
        "correlations-n.csv",
        "out-of-range.csv",
        "percentiles.json",
    ];
    const IN_STUDY: InStudy = InStudy::Never;

    type Sources = PercentilesSources;
    type Settings = PercentilesSettings;
    type Inputs = Table;
    type Outcome = Population;

    fn open(sources: &PercentilesSources, _: &PercentilesSettings) -> Result<Table, TaskError> {
        let table = read_table(&sources.table)?;
        if table.numbers.is_empty() {
            return Err(TaskError::Nothing {
                what: format!("{} has no column of numbers", sources.table.display()),
                advice: "percentiles are taken of numbers".to_owned(),
            });
        }
        Ok(table)
    }

    fn run(settings: &PercentilesSettings, table: &Table, _: Progress<'_>) -> Result<Population, TaskError> {
        Ok(settings.params().take(table)?)
    }

    fn object(_: &PercentilesSettings, _: &Table, made: &Population) -> Result<Value, TaskError> {
        Ok(json!(made))
    }

    fn deliver<'a>(
        _: &'a PercentilesSettings,
        _: &'a Table,
        made: &'a Population,
    ) -> Result<Delivery<'a>, TaskError> {
        Ok(Delivery::new()
            .sheet("percentiles.csv", "Percentiles of every dimension, by group", made.percentiles_sheet())
            .sheet("correlations.csv", "Correlations of any two dimensions", made.correlations_sheet())
            .sheet("correlations-n.csv", "How many people each correlation is of", made.correlation_n_sheet())
            .sheet("out-of-range.csv", "Values to look at", made.out_of_range_sheet()))
    }

    fn section(
        _: &PercentilesSettings,
        table: &Table,
        made: &Population,
        _: &Store,
    ) -> Result<Vec<Section>, TaskError> {
        Ok(section::sections(table.rows(), made))
    }

    fn cautions(_: &Table, made: &Population) -> Vec<String> {
        vec![made.caution.clone()]
    }
}
