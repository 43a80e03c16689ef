//! Mesh files into a cohort.

use std::path::Path;

use crate::CohortError;
use crate::params::{ImportParams, ImportReport};

/// Imports mesh files.
///
/// # Errors
/// [`CohortError`].
pub fn import(
    patterns: &[String],
    into: &Path,
    params: &ImportParams,
    progress: &(dyn Fn(usize, usize) + Sync),
) -> Result<ImportReport, CohortError> {
    let _ = (into, params, progress);
    Err(CohortError::NoFiles { patterns: patterns.to_vec() })
}
