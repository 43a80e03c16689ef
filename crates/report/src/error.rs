//! What can go wrong in making a report.

use thiserror::Error;

/// What can go wrong in making a report.
#[derive(Debug, Error)]
#[non_exhaustive]
pub enum ReportError {
    /// Two parts of a result that do not belong together.
    #[error("the report cannot show {part}: {reason}")]
    Mismatch {
        /// Which part.
        part: String,
        /// What does not fit.
        reason: String,
    },
    /// The page's data cannot be written as JSON.
    #[error("the data of {part} cannot be written as JSON: {source}")]
    Json {
        /// Which part.
        part: String,
        /// Why.
        source: serde_json::Error,
    },
    /// A page that cannot be filled in.
    #[error("the page cannot be filled in: {0}")]
    Page(#[from] askama::Error),
}
