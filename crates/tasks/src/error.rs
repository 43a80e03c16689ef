//! What can go wrong in a task.

use std::path::{Path, PathBuf};

use formkin_table::near::advice;
use thiserror::Error;

/// What can go wrong in a task.
#[derive(Debug, Error)]
#[non_exhaustive]
pub enum TaskError {
    /// A file cannot be read.
    #[error("{} cannot be read: {source}", path.display())]
    Read {
        /// The file.
        path: PathBuf,
        /// Why.
        source: std::io::Error,
    },
    /// A file or folder cannot be written.
    #[error("{} cannot be written: {source}", path.display())]
    Write {
        /// The file or folder.
        path: PathBuf,
        /// Why.
        source: std::io::Error,
    },
    /// A file whose content is wrong.
    #[error("{}: {source}", path.display())]
    In {
        /// The file.
        path: PathBuf,
        /// What is wrong.
        source: Box<TaskError>,
    },
    /// A record, or what is asked of it, is wrong.
    #[error("`{capture}`: {source}")]
    Of {
        /// The capture.
        capture: String,
        /// What is wrong.
        source: formkin_motion::MotionError,
    },
    /// A setting with a value that is not one of its values.
    #[error("{setting}: there is no `{value}`; {}", advice(value, known.split(", ")))]
    Setting {
        /// The setting, with its section.
        setting: &'static str,
        /// What was given.
        value: String,
        /// What may be given, between commas.
        known: String,
    },
    /// Figures that cannot be written as JSON.
    #[error("the figures of `{of}` cannot be written: {source}")]
    Json {
        /// What they are of.
        of: String,
        /// Why.
        source: serde_json::Error,
    },
    /// A Parquet file cannot be made, or is none.
    #[error("the Parquet table: {reason}")]
    Parquet {
        /// Why.
        reason: String,
    },
    /// A file that is no shape space.
    #[error("{} is not a shape space of this program: {source}", path.display())]
    NoSpace {
        /// The file.
        path: PathBuf,
        /// Why.
        source: formkin_shape::ShapeError,
    },
    /// A shape space that cannot do what is asked.
    #[error("the shape space cannot be used so: {reason}")]
    Space {
        /// Why, and what to do.
        reason: String,
    },
    /// There is nothing of the kind to work on.
    #[error("{what}: {advice}")]
    Nothing {
        /// What is missing.
        what: String,
        /// What to do.
        advice: String,
    },
    /// A split into parts that cannot be made.
    #[error("the people cannot be split into training, validation and test: {reason}")]
    Split {
        /// Why, and what to do.
        reason: String,
    },
    /// A person in two parts of a data set.
    #[error("participant {participant} leaks: {first}, {second}; put all sessions of a person into one part")]
    Leak {
        /// The person.
        participant: String,
        /// An item and its part.
        first: String,
        /// Another and its part.
        second: String,
    },
    /// One scan in two parts of a data set, under two names.
    #[error(
        "the same scan leaks under two names: {first}, {second}; find out whose it is and give both one participant"
    )]
    SameScan {
        /// An item and its part.
        first: String,
        /// Another and its part.
        second: String,
    },
    /// Coefficients that do not give their shape back.
    #[error(
        "{item} comes back from its coefficients {error_mm} mm off, and {limit_mm} mm is the limit; the arrays of the space are not precise enough for it"
    )]
    RoundTrip {
        /// The item.
        item: String,
        /// The largest distance of a vertex.
        error_mm: f64,
        /// The limit.
        limit_mm: f64,
    },
    /// Files on disk.
    #[error(transparent)]
    Cohort(#[from] formkin_cohort::CohortError),
    /// Alignment.
    #[error(transparent)]
    Align(#[from] formkin_align::AlignError),
    /// The shape space.
    #[error(transparent)]
    Shape(#[from] formkin_shape::ShapeError),
    /// A table.
    #[error(transparent)]
    Table(#[from] formkin_table::TableError),
    /// Body dimensions.
    #[error(transparent)]
    Measure(#[from] formkin_measure::MeasureError),
    /// Movements.
    #[error(transparent)]
    Motion(#[from] formkin_motion::MotionError),
    /// The size system.
    #[error(transparent)]
    Sizing(#[from] formkin_sizing::SizingError),
    /// The report.
    #[error(transparent)]
    Report(#[from] formkin_report::ReportError),
    /// Numbers.
    #[error(transparent)]
    Stats(#[from] formkin_stats::StatsError),
    /// Reading shapes.
    #[error(transparent)]
    Source(#[from] formkin_geometry::SourceError),
    /// Geometry.
    #[error(transparent)]
    Geometry(#[from] formkin_geometry::GeometryError),
}

impl TaskError {
    /// With the file whose content is wrong.
    #[must_use]
    pub fn in_file(path: &Path, source: impl Into<Self>) -> Self {
        Self::In { path: path.to_owned(), source: Box::new(source.into()) }
    }

    /// What figures of this name that cannot be written as JSON become.
    pub fn json(of: &str) -> impl Fn(serde_json::Error) -> Self {
        move |source| Self::Json { of: of.to_owned(), source }
    }

    /// Whether it says what the data cannot answer. A wrong setting is none of that, whatever the data are; modes may be more than the data
    /// have.
    #[must_use]
    pub fn is_of_the_data(&self) -> bool {
        match self {
            Self::Shape(formkin_shape::ShapeError::Setting { name, .. }) => *name == "modes",
            Self::Shape(_) | Self::Nothing { .. } => true,
            _ => false,
        }
    }

    /// With the capture where a movement is at fault.
    #[must_use]
    pub fn of(self, capture: &str) -> Self {
        match self {
            Self::Motion(source) => Self::Of { capture: capture.to_owned(), source },
            other => other,
        }
    }
}
