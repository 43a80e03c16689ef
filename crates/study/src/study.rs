//! A study, read and run.

use std::path::{Component, Path, PathBuf};

use formkin_tasks::Store;
use formkin_tasks::reading::read_text;

use crate::cache::Cache;
use crate::graph::{Run, Watch};
use crate::outputs::Outputs;
use crate::sections::StudyFile;
use crate::{StudyError, StudyResult};

/// How a study is run.
#[derive(Debug, Clone, Copy, Default)]
pub struct StudyOptions {
    /// Write over files that no earlier run wrote.
    pub force: bool,
    /// Run every stage, whatever is kept.
    pub afresh: bool,
}

/// A study file and the folder its paths start from.
#[derive(Debug)]
pub struct Study {
    file: StudyFile,
    folder: PathBuf,
}

impl Study {
    /// Reads a study file and checks it, with the files it names, before anything is run.
    ///
    /// # Errors
    /// [`StudyError::Wrong`] with everything that is wrong with keys, ranges, names and files of all sections; a file that cannot be read.
    pub fn load(path: &Path) -> Result<Self, StudyError> {
        let folder = path.parent().map_or_else(PathBuf::new, Path::to_owned);
        let text = read_text(path)?;
        let file = StudyFile::read(&text, &folder)
            .map_err(|problems| StudyError::Wrong { path: path.to_owned(), problems })?;
        Ok(Self { file, folder })
    }

    /// What the file says, defaults filled in.
    #[must_use]
    pub fn file(&self) -> &StudyFile {
        &self.file
    }

    /// The folder of the results.
    #[must_use]
    pub fn results(&self) -> PathBuf {
        // `.` means the folder of the study file itself, and is not shown in paths
        let path = self.folder.join(&self.file.export.folder);
        path.components().filter(|part| !matches!(part, Component::CurDir)).collect()
    }

    /// Runs the stages whose inputs changed and writes the results.
    ///
    /// # Errors
    /// The first thing that is wrong with files, settings or data. Files written until then are whole.
    pub fn run(&self, options: StudyOptions, watch: Watch<'_>) -> Result<StudyResult, StudyError> {
        let root = self.results();
        let mut run = Run {
            file: &self.file,
            folder: &self.folder,
            outputs: Outputs::open(&root, options.force)?,
            store: Store::new(self.folder.clone()),
            stages: Vec::new(),
            read: Vec::new(),
            refusals: Vec::new(),
            cache: Cache::new(root.join("cache"), options.afresh),
            watch,
        };
        run.import(&root, options.afresh)?;
        if run.store.cohort().is_some_and(|c| c.info().items < 2) {
            run.refusals.push(
                "There is no shape space: it needs two shapes or more, and there is only one.".to_owned(),
            );
        }
        run.tasks()?;
        run.finish()
    }
}
