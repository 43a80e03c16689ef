//! What can go wrong in a study.

use std::path::PathBuf;

use formkin_tasks::{Problem, TaskError};
use thiserror::Error;

/// What can go wrong in a study.
#[derive(Debug, Error)]
#[non_exhaustive]
pub enum StudyError {
    /// A file or folder cannot be written.
    #[error("{} cannot be written: {source}", path.display())]
    Write {
        /// The file or folder.
        path: PathBuf,
        /// Why.
        source: std::io::Error,
    },
    /// A file that no earlier run wrote is where a result belongs.
    #[error("{} is in the way and was not written by this study; move it, or use --force to write over it", path.display())]
    InTheWay {
        /// The file.
        path: PathBuf,
    },
    /// A study that cannot be run as it is written: everything that is wrong with it.
    #[error("study file {}: {}", path.display(), listed(problems))]
    Wrong {
        /// The file.
        path: PathBuf,
        /// What is wrong, and what to do.
        problems: Vec<Problem>,
    },
    /// A result that cannot be written down to be kept.
    #[error("the result of stage `{stage}` cannot be kept: {source}")]
    Kept {
        /// The stage.
        stage: String,
        /// Why.
        source: rmp_serde::encode::Error,
    },
    /// Figures that cannot be written as JSON.
    #[error("the figures of `{stage}` cannot be written: {source}")]
    Json {
        /// The stage.
        stage: String,
        /// Why.
        source: serde_json::Error,
    },
    /// What a task refuses.
    #[error(transparent)]
    Task(#[from] TaskError),
    /// Files on disk.
    #[error(transparent)]
    Cohort(#[from] formkin_cohort::CohortError),
    /// The report.
    #[error(transparent)]
    Report(#[from] formkin_report::ReportError),
}

fn listed(problems: &[Problem]) -> String {
    match problems {
        [one] => one.to_string(),
        all => {
            let lines: Vec<String> = all.iter().map(|p| format!("\n  {p}")).collect();
            format!("{} things are wrong, and nothing was run:{}", all.len(), lines.concat())
        }
    }
}
