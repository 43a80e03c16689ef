//! What a task hands over: named tables, meshes and spaces.

use std::borrow::Cow;
use std::path::{Path, PathBuf};

use formkin_table::Sheet;

use crate::TaskError;

/// Named tables, meshes and spaces, in order.
#[derive(Debug, Default)]
pub struct Delivery<'a> {
    /// The files.
    pub files: Vec<Deliverable<'a>>,
}

/// A file before it is written.
#[derive(Debug)]
pub struct Deliverable<'a> {
    /// Its name, with folders where it belongs into one: `map.csv`, `sizes/S.ply`.
    pub name: String,
    /// What is in it, in a few words.
    pub what: String,
    /// Its content.
    pub content: Content<'a>,
}

/// What makes the bytes of a file.
pub type Maker<'a> = Box<dyn Fn() -> Result<Vec<u8>, TaskError> + Send + Sync + 'a>;
/// What makes the bytes of a file whose name decides how it is written.
pub type NamedMaker<'a> = Box<dyn Fn(&str) -> Result<Vec<u8>, TaskError> + Send + Sync + 'a>;
/// What writes a folder whole or not at all, over one that is there where it is said so, and says what it wrote.
pub type FolderMaker<'a> = Box<dyn Fn(&Path, bool) -> Result<Vec<PathBuf>, TaskError> + Send + Sync + 'a>;

/// What is in a file.
pub enum Content<'a> {
    /// A table: CSV, or Parquet where the file's name ends so.
    Sheet(Sheet),
    /// Anything else, as it is written.
    Bytes(Vec<u8>),
    /// Anything large, made when it is written.
    Made(Maker<'a>),
    /// As `Made`, by the name that it is written under: a mesh as PLY or OBJ.
    Named(NamedMaker<'a>),
    /// A folder that is written as one, such as a cohort.
    Folder(FolderMaker<'a>),
}

impl std::fmt::Debug for Content<'_> {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Sheet(sheet) => write!(f, "{} rows", sheet.rows()),
            Self::Bytes(bytes) => write!(f, "{} bytes", bytes.len()),
            Self::Folder(_) => write!(f, "a folder"),
            Self::Made(_) | Self::Named(_) => write!(f, "made when it is written"),
        }
    }
}

impl<'a> Delivery<'a> {
    /// Without files.
    #[must_use]
    pub fn new() -> Self {
        Self::default()
    }

    fn with(mut self, name: impl Into<String>, what: impl Into<String>, content: Content<'a>) -> Self {
        self.files.push(Deliverable { name: name.into(), what: what.into(), content });
        self
    }

    /// With a table.
    #[must_use]
    pub fn sheet(self, name: impl Into<String>, what: impl Into<String>, sheet: Sheet) -> Self {
        self.with(name, what, Content::Sheet(sheet))
    }

    /// With a file.
    #[must_use]
    pub fn bytes(self, name: impl Into<String>, what: impl Into<String>, bytes: Vec<u8>) -> Self {
        self.with(name, what, Content::Bytes(bytes))
    }

    /// With a text.
    #[must_use]
    pub fn text(self, name: impl Into<String>, what: impl Into<String>, text: impl Into<String>) -> Self {
        self.bytes(name, what, text.into().into_bytes())
    }

    /// With a file that is made when it is written, so that large ones are not all held at once.
    #[must_use]
    pub fn made(
        self,
        name: impl Into<String>,
        what: impl Into<String>,
        make: impl Fn() -> Result<Vec<u8>, TaskError> + Send + Sync + 'a,
    ) -> Self {
        self.with(name, what, Content::Made(Box::new(make)))
    }

    /// With the files of another delivery in a folder of this one.
    #[must_use]
    pub fn within(mut self, folder: &str, other: Self) -> Self {
        let inside = |mut file: Deliverable<'a>| {
            file.name = format!("{folder}/{}", file.name);
            file
        };
        self.files.extend(other.files.into_iter().map(inside));
        self
    }

    /// As [`Delivery::made`], by the name that the file is written under.
    #[must_use]
    pub fn named(
        self,
        name: impl Into<String>,
        what: impl Into<String>,
        make: impl Fn(&str) -> Result<Vec<u8>, TaskError> + Send + Sync + 'a,
    ) -> Self {
        self.with(name, what, Content::Named(Box::new(make)))
    }

    /// With a folder that is written as one; a command alone can hand it over.
    #[must_use]
    pub fn folder(
        self,
        name: impl Into<String>,
        what: impl Into<String>,
        make: impl Fn(&Path, bool) -> Result<Vec<PathBuf>, TaskError> + Send + Sync + 'a,
    ) -> Self {
        self.with(name, what, Content::Folder(Box::new(make)))
    }
}

impl Deliverable<'_> {
    /// The bytes of the file where it is written under `name`, whose ending decides between CSV and Parquet.
    ///
    /// # Errors
    /// [`TaskError::Table`] where the table has columns of several lengths; what making the file refuses; [`TaskError::Nothing`] for a folder.
    pub fn to_bytes(&self, name: &str) -> Result<Cow<'_, [u8]>, TaskError> {
        Ok(match &self.content {
            Content::Bytes(bytes) => bytes.into(),
            Content::Made(make) => make()?.into(),
            Content::Named(make) => make(name)?.into(),
            Content::Folder(_) => {
                return Err(TaskError::Nothing {
                    what: format!("{name} is a folder and no file"),
                    advice: "a command writes it".to_owned(),
                });
            }
            Content::Sheet(sheet) if name.to_ascii_lowercase().ends_with(".parquet") => {
                sheet.to_parquet(&[])?.into()
            }
            Content::Sheet(sheet) => sheet.to_csv()?.into(),
        })
    }
}
