//! What can be wrong with files of surfaces.

use std::fmt;
use std::path::{Path, PathBuf};

use formkin_geometry::{GeometryError, SourceError};
use thiserror::Error;

use crate::fault::SceneFault;
use crate::mismatch::Mismatch;

/// A place in a file.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Place {
    /// A line of a text file, from 1.
    Line(usize),
    /// A byte of a binary file, from 0.
    Byte(usize),
    /// The file as a whole.
    Whole,
}

impl fmt::Display for Place {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Line(n) => write!(f, ", line {n}"),
            Self::Byte(n) => write!(f, ", byte {n}"),
            Self::Whole => Ok(()),
        }
    }
}

/// What can be wrong with files of surfaces.
#[derive(Debug, Error)]
#[non_exhaustive]
pub enum CohortError {
    /// The system refuses a file or a folder.
    #[error("{}: cannot {action}: {source}", path.display())]
    Io {
        /// The file or folder.
        path: PathBuf,
        /// What was tried, as a verb: "read", "write", "rename".
        action: &'static str,
        /// The system's reason.
        source: std::io::Error,
    },
    /// A file does not follow its format.
    #[error("{}{at}: {problem}; {advice}", file.display())]
    Syntax {
        /// The file.
        file: PathBuf,
        /// Where in it.
        at: Place,
        /// What is wrong.
        problem: String,
        /// What to do.
        advice: &'static str,
    },
    /// A file ends before what its header promises.
    #[error(
        "{}{at}: the file is cut off: {expected} {what} are promised, {found} are there; copy or export it again",
        file.display()
    )]
    Truncated {
        /// The file.
        file: PathBuf,
        /// Where it ends.
        at: Place,
        /// What is missing: "vertices", "faces", "bytes".
        what: &'static str,
        /// How many there should be.
        expected: usize,
        /// How many there are.
        found: usize,
    },
    /// A face names a vertex that does not exist.
    #[error(
        "{}{at}: a face names vertex {index}, but the file has {vertices} vertices; export the mesh again",
        file.display()
    )]
    VertexOutOfRange {
        /// The file.
        file: PathBuf,
        /// Where the face is.
        at: Place,
        /// The vertex as the file writes it.
        index: i64,
        /// How many vertices there are.
        vertices: usize,
    },
    /// A file without a surface.
    #[error(
        "{}: {vertices} vertices and {triangles} triangles are no surface; a mesh needs both",
        file.display()
    )]
    Empty {
        /// The file.
        file: PathBuf,
        /// Vertices found.
        vertices: usize,
        /// Triangles found.
        triangles: usize,
    },
    /// The triangles are not those of the template.
    #[error("{}: {mismatch}", file.display())]
    OtherTopology {
        /// The file.
        file: PathBuf,
        /// In what they differ.
        mismatch: Mismatch,
    },
    /// A file whose format is not read here.
    #[error("{}: not a mesh file that can be read; give .obj, .ply or .npy files", file.display())]
    UnknownFormat {
        /// The file.
        file: PathBuf,
    },
    /// Nothing to import.
    #[error("no .obj, .ply or .npy file matches {}; check the path, or quote the pattern", patterns.join(", "))]
    NoFiles {
        /// What was asked for.
        patterns: Vec<String>,
    },
    /// A pattern that is not one.
    #[error("`{pattern}` is not a file pattern: {reason}; write for example scans/**/*.obj")]
    Pattern {
        /// The pattern.
        pattern: String,
        /// What is wrong with it.
        reason: String,
    },
    /// Nothing could be taken in.
    #[error("none of the {files} files could be imported; the first reason: {first}")]
    NothingAccepted {
        /// How many files there were.
        files: usize,
        /// Why the first one was refused.
        first: String,
    },
    /// Something is already there.
    #[error("{} exists already; choose another name or use --force to replace it", path.display())]
    AlreadyExists {
        /// What is there.
        path: PathBuf,
    },
    /// A folder that is to be replaced, but is no cohort.
    #[error("{} is not a cohort, so it is not replaced; choose another name", path.display())]
    NotReplaced {
        /// The folder.
        path: PathBuf,
    },
    /// A folder is no cohort, or a damaged one.
    #[error("{}: not a readable cohort: {reason}", path.display())]
    NotACohort {
        /// The folder.
        path: PathBuf,
        /// What is missing or wrong, and what to do.
        reason: String,
    },
    /// An entry of a template file.
    #[error("{}: {entry}: {reason}", file.display())]
    Template {
        /// The template file.
        file: PathBuf,
        /// The entry, such as "landmark `crown`".
        entry: String,
        /// What is wrong and what to do.
        reason: String,
    },
    /// Two rows of a table about the same participant or item.
    #[error(
        "{}: `{key}` is on line {first_line} and again on line {second_line}; keep one of them",
        file.display()
    )]
    DuplicateRow {
        /// The table.
        file: PathBuf,
        /// The participant or item.
        key: String,
        /// Line of the first, from 1.
        first_line: usize,
        /// Line of the second, from 1.
        second_line: usize,
    },
    /// The unit of the files cannot be told.
    #[error("{}: the unit cannot be determined: {reason}; give the unit (mm, cm or m)", file.display())]
    UnitUnknown {
        /// A file that shows it.
        file: PathBuf,
        /// What was seen.
        reason: String,
    },
    /// The height axis of the files cannot be told.
    #[error("{}: the height axis cannot be determined: {reason}; give the axis that points up (x, y or z)", file.display())]
    UpUnknown {
        /// A file that shows it.
        file: PathBuf,
        /// What was seen.
        reason: String,
    },
    /// A setting that makes no sense.
    #[error("{setting}: {reason}")]
    Setting {
        /// Its name.
        setting: &'static str,
        /// What is wrong and what to do.
        reason: String,
    },
    /// A scene that glTF cannot hold.
    #[error("the scene cannot be written as glTF: {0}")]
    Scene(#[from] SceneFault),
    /// Something about one surface.
    #[error(transparent)]
    Geometry(#[from] GeometryError),
    /// A shape of a cohort cannot be read.
    #[error(transparent)]
    Source(#[from] SourceError),
}

impl CohortError {
    /// For `map_err` on system calls: says what was tried on which path.
    pub(crate) fn io(path: &Path, action: &'static str) -> impl FnOnce(std::io::Error) -> Self {
        let path = path.to_owned();
        move |source| Self::Io { path, action, source }
    }

    pub(crate) fn syntax(file: &Path, at: Place, problem: impl Into<String>, advice: &'static str) -> Self {
        Self::Syntax { file: file.to_owned(), at, problem: problem.into(), advice }
    }
}
