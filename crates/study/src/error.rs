//! What can go wrong in a study.

use std::path::PathBuf;

use thiserror::Error;

use crate::preflight::Problem;

/// What can go wrong in a study.
#[derive(Debug, Error)]
#[non_exhaustive]
pub enum StudyError {
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
    /// A file whose content is wrong.
    #[error("{}: {source}", path.display())]
    In {
        /// The file.
        path: PathBuf,
        /// What is wrong.
        source: Box<StudyError>,
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
    #[error("{setting} = \"{value}\" is not known; it is one of {known}")]
    Setting {
        /// The setting, with its section.
        setting: &'static str,
        /// What was given.
        value: String,
        /// What may be given.
        known: String,
    },
    /// A result cannot be kept.
    #[error("the result of stage `{stage}` cannot be kept: {reason}")]
    Cache {
        /// The stage.
        stage: String,
        /// Why.
        reason: String,
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
    /// Tables.
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

impl StudyError {
    /// With the capture where a movement is at fault.
    #[must_use]
    pub(crate) fn of(self, capture: &str) -> Self {
        match self {
            Self::Motion(source) => Self::Of { capture: capture.to_owned(), source },
            other => other,
        }
    }
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
