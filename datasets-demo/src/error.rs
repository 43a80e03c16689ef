//! What can go wrong while the demo is made.

use std::path::PathBuf;

use thiserror::Error;

/// What can go wrong while the demo is made.
#[derive(Debug, Error)]
#[non_exhaustive]
pub enum DemoError {
    /// A parameter outside its range.
    #[error("{name} = {value} is out of range: {rule}")]
    Parameter {
        /// The parameter.
        name: &'static str,
        /// What was asked for.
        value: String,
        /// What is allowed.
        rule: String,
    },
    /// A file or folder cannot be written.
    #[error("{} cannot be written: {reason}", path.display())]
    Write {
        /// The file or folder.
        path: PathBuf,
        /// Why.
        reason: String,
    },
    /// The surface that came out is not what a template must be.
    #[error("the template of {vertices} vertices is not usable: {reason}")]
    Template {
        /// The number of vertices asked for.
        vertices: usize,
        /// What is wrong.
        reason: String,
    },
    /// A file of the demo cannot be written.
    #[error(transparent)]
    Cohort(#[from] formkin_cohort::CohortError),
    /// A table of the demo cannot be made.
    #[error(transparent)]
    Table(#[from] formkin_table::TableError),
    /// The surface or its names are not consistent.
    #[error(transparent)]
    Geometry(#[from] formkin_geometry::GeometryError),
}
