//! Two tables to agreement, one of repeats to repeatability.

use std::path::PathBuf;

use formkin_measure::agreement::{
    CompareParams, Comparison, Repeatability, RepeatsParams, compare, repeatability,
};
use formkin_measure::{Dimensions, MeasureError};
use formkin_table::Table;
use serde::{Deserialize, Serialize};

use super::{AgreeSettings, AgreeSources};
use crate::TaskError;
use crate::reading::{read_dimensions, read_table, read_text};

/// The tables.
#[derive(Debug)]
pub struct AgreeInputs {
    /// What they are.
    pub tables: Measurings,
    /// Definitions, which say the type of each dimension.
    pub dimensions: Option<Dimensions>,
    /// The names of the files, for messages.
    pub files: String,
}

/// One way of measuring or two.
#[derive(Debug)]
pub enum Measurings {
    /// By scan and by hand, one row a person.
    Two {
        /// The scan's.
        scan: Table,
        /// The one by hand.
        hand: Table,
    },
    /// Several rows a person.
    Repeats(Table),
}

/// What came out.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub enum AgreeOutcome {
    /// Scan against hand.
    Compared(Comparison),
    /// Repeats against each other.
    Repeated(Vec<Repeatability>),
}

impl AgreeInputs {
    pub(super) fn open(sources: &AgreeSources) -> Result<Self, TaskError> {
        let (tables, files) = match (&sources.repeats, sources.tables.as_slice()) {
            (Some(path), _) => {
                let (text, name) = (read_text(path)?, path.display().to_string());
                let table = Table::parse_csv_rows(text.trim_start_matches('\u{feff}'), &name)?;
                (Measurings::Repeats(table), name)
            }
            (None, [scan, hand]) => {
                let files = format!("{}, {}", scan.display(), hand.display());
                (Measurings::Two { scan: read_table(scan)?, hand: read_table(hand)? }, files)
            }
            (None, _) => {
                return Err(TaskError::Nothing {
                    what: "there are no two tables to compare".to_owned(),
                    advice: "give the scan's and the one by hand".to_owned(),
                });
            }
        };
        let dimensions = sources.dimensions.as_deref().map(read_dimensions).transpose()?;
        Ok(Self { tables, dimensions, files })
    }
}

/// Compares scan with hand, or repeats with each other.
pub(super) fn run(settings: &AgreeSettings, inputs: &AgreeInputs) -> Result<AgreeOutcome, TaskError> {
    let made = match &inputs.tables {
        Measurings::Two { scan, hand } => {
            let params = CompareParams {
                types: settings.limit_types(),
                dimensions: inputs.dimensions.clone(),
                only: settings.only.clone(),
            };
            compare(scan, hand, &params).map(AgreeOutcome::Compared)
        }
        Measurings::Repeats(table) => {
            let AgreeSettings { participant, session, only, .. } = settings.clone();
            repeatability(table, &RepeatsParams { participant, session, only }).map(AgreeOutcome::Repeated)
        }
    };
    made.map_err(|e: MeasureError| TaskError::In {
        path: PathBuf::from(&inputs.files),
        source: Box::new(e.into()),
    })
}
