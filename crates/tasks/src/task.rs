//! What a task is: one capability, defined once for the program, the study file, the report, the library and Python; and what the tasks of a
//! study have made so far.

use std::any::{Any, TypeId};
use std::collections::BTreeMap;
use std::path::PathBuf;
use std::sync::Arc;

use formkin_cohort::Cohort;
use formkin_report::document::{Front, Section};
use serde::Serialize;
use serde::de::DeserializeOwned;
use serde_json::Value;

use crate::delivery::Delivery;
use crate::facts::Facts;
use crate::fields::Settings;
use crate::problem::Problems;
use crate::{Progress, TaskError};

/// One capability.
///
/// | part | what it is |
/// |---|---|
/// | [`Task::Sources`] | the files that a command reads, as paths |
/// | [`Task::Settings`] | what is asked for: the section of the study file, the options of the command, the lines of the reference |
/// | [`Task::check`] | what is wrong before anything runs, with what is known by then |
/// | [`Task::open`], [`Task::gather`] | the typed inputs: of files, or of what earlier tasks of a study made |
/// | [`Task::run`] | inputs to outcome; no files, no printing |
/// | [`Task::deliver`], [`Task::object`] | outcome to named tables, meshes and spaces, and to one JSON object |
/// | [`Task::section`] | outcome to headings, paragraphs, tables and figures |
///
/// A task is registered by one line in [`registry`](crate::registry).
pub trait Task: 'static {
    /// The verb: the name of the command, and of the section of the study file.
    const NAME: &'static str;
    /// What it does, in a line.
    const ABOUT: &'static str;
    /// Examples and remarks that follow the options in the help.
    const EXAMPLES: &'static str = "";
    /// Counts up when results mean something else than before, so that kept ones are made again.
    const VERSION: u32 = 1;
    /// Where a command writes what is delivered.
    const TARGETS: &'static [Target] = &[];
    /// Names of files that a folder target is refused for, before there is a result, where they are there already.
    const NAMES: &'static [&'static str] = &[];
    /// The delivered table that goes to standard output as CSV where a command names no file for it.
    const PRINTED: Option<&'static str> = None;
    /// The file of [`Task::object`] beside the delivered files of a folder. Where there is none, a command calls it after the task, and a study
    /// writes the figures into its summary alone.
    const OBJECT: Option<&'static str> = None;
    /// Whether a command writes [`Task::object`] into its folder too. Not where the folder goes to other programs as it is.
    const OBJECT_IN_FOLDER: bool = true;
    /// Whether it is a command of the program, beside a part of a study.
    const IS_COMMAND: bool = true;
    /// Whether the figures of [`Task::object`] stand at the top of a study's summary, and not under the name of the task.
    const AT_TOP: bool = false;
    /// Whether a study may run it several times: its figures are then a list.
    const SEVERAL: bool = false;
    /// How a study runs it.
    const IN_STUDY: InStudy = InStudy::Asked;

    /// The files that a command reads.
    type Sources: Settings;
    /// What is asked for.
    type Settings: Settings;
    /// The typed inputs.
    type Inputs: Send + Sync + 'static;
    /// What comes out, and what a study keeps.
    type Outcome: Serialize + DeserializeOwned + Send + Sync + 'static;

    /// What becomes known by these settings before anything runs, such as the names of dimensions. Nothing is said of faults here: they are
    /// found by [`Task::check`].
    fn foretell(_sources: &Self::Sources, _settings: &Self::Settings, _facts: &mut Facts) {}

    /// What is wrong with the settings, beyond types and ranges of single values, given what is known of the data.
    fn check(_sources: &Self::Sources, _settings: &Self::Settings, _facts: &Facts, _problems: &mut Problems) {
    }

    /// What is wrong with where a command is to write: `targets` holds the paths that were given, by option.
    fn check_targets(
        _sources: &Self::Sources,
        _settings: &Self::Settings,
        _targets: &BTreeMap<&'static str, PathBuf>,
        _problems: &mut Problems,
    ) {
    }

    /// The inputs of a command, from files.
    ///
    /// # Errors
    /// Files that cannot be read or do not fit.
    fn open(sources: &Self::Sources, settings: &Self::Settings) -> Result<Self::Inputs, TaskError>;

    /// Which tasks of a study come before this one.
    #[must_use]
    fn needs() -> Vec<Need> {
        Vec::new()
    }

    /// The runs that one section of a study file asks for: mostly one, but a run a capture for movements.
    #[must_use]
    fn runs(settings: Self::Settings, _store: &Store) -> Vec<Self::Settings> {
        vec![settings]
    }

    /// The inputs in a study, from what earlier tasks made; `None` where this study has nothing to run it on. The paths in `sources` start
    /// from the working folder.
    ///
    /// # Errors
    /// Files that cannot be read or do not fit.
    fn gather(
        _sources: &Self::Sources,
        _settings: &Self::Settings,
        _store: &Store,
    ) -> Result<Option<Self::Inputs>, TaskError> {
        Ok(None)
    }

    /// What tells one run of a study from another of the same task, such as a column or a capture; empty where there is one run alone.
    #[must_use]
    fn label(_settings: &Self::Settings) -> String {
        String::new()
    }

    /// The folder of a study's results that the delivered files belong in; empty for the folder itself.
    #[must_use]
    fn folder(_settings: &Self::Settings) -> PathBuf {
        PathBuf::new()
    }

    /// Makes the outcome. Nothing is read from disk but what the inputs stream, nothing is written, nothing is printed.
    ///
    /// # Errors
    /// What the data or the settings do not allow.
    fn run(
        settings: &Self::Settings,
        inputs: &Self::Inputs,
        progress: Progress<'_>,
    ) -> Result<Self::Outcome, TaskError>;

    /// The figures for programs, as one JSON object. Keys are snake case with the unit as suffix, and the same in every output.
    ///
    /// # Errors
    /// What cannot be written as JSON.
    fn object(
        settings: &Self::Settings,
        inputs: &Self::Inputs,
        outcome: &Self::Outcome,
    ) -> Result<Value, TaskError>;

    /// Named tables, meshes and spaces. A study asks for them only where those of an earlier run are not there as they were written.
    ///
    /// # Errors
    /// What cannot be put into a file.
    fn deliver<'a>(
        settings: &'a Self::Settings,
        inputs: &'a Self::Inputs,
        outcome: &'a Self::Outcome,
    ) -> Result<Delivery<'a>, TaskError>;

    /// What a reader is shown: in the report, and its answer on a terminal. `others` holds what other tasks of a study made; it is empty on the
    /// command line.
    ///
    /// # Errors
    /// Parts of a result that do not belong together.
    fn section(
        settings: &Self::Settings,
        inputs: &Self::Inputs,
        outcome: &Self::Outcome,
        others: &Store,
    ) -> Result<Vec<Section>, TaskError>;

    /// The answer at the top of a report; that of the last task that has one is shown.
    ///
    /// # Errors
    /// As [`Task::section`].
    fn front(
        _settings: &Self::Settings,
        _inputs: &Self::Inputs,
        _outcome: &Self::Outcome,
    ) -> Result<Option<Front>, TaskError> {
        Ok(None)
    }

    /// Dimensions that a reader of the report wants to see first, since this result uses them.
    #[must_use]
    fn mentions(_settings: &Self::Settings, _outcome: &Self::Outcome) -> Vec<String> {
        Vec::new()
    }

    /// What a reader must not conclude.
    #[must_use]
    fn cautions(_inputs: &Self::Inputs, _outcome: &Self::Outcome) -> Vec<String> {
        Vec::new()
    }

    /// Whether there is something that whoever asked must look at: the program then ends with exit code 1.
    #[must_use]
    fn finds(_outcome: &Self::Outcome) -> bool {
        false
    }
}

/// How a study runs a task.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum InStudy {
    /// Never: it is a command only.
    Never,
    /// Where the study file has a section of its name. What the data cannot answer is an error.
    Asked,
    /// As [`InStudy::Asked`], but what the data cannot answer is said in the report, and the study goes on.
    Tried,
    /// Whether or not the study file has a section of its name.
    Always,
}

/// Where a command writes what is delivered.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Target {
    /// All delivered files go into a folder, with the JSON object as `NAME.json`.
    Folder {
        /// The option, without dashes.
        option: &'static str,
        /// Its help.
        about: &'static str,
        /// Whether the command needs it.
        required: bool,
    },
    /// One delivered file.
    File {
        /// The option, without dashes.
        option: &'static str,
        /// What stands for the value in the help, such as `CSV`.
        value: &'static str,
        /// Its help.
        about: &'static str,
        /// Whether the command needs it.
        required: bool,
        /// The name of the delivered file.
        name: &'static str,
    },
    /// One delivered file that goes into the folder of a source, over an earlier one, unasked. Where it cannot be written the command says so,
    /// and goes on.
    Inside {
        /// The source: the name of its field.
        source: &'static str,
        /// The name of the delivered file.
        name: &'static str,
    },
}

impl Target {
    /// The option, without dashes; none where it is not asked for.
    #[must_use]
    pub const fn option(&self) -> Option<&'static str> {
        match self {
            Self::Folder { option, .. } | Self::File { option, .. } => Some(option),
            Self::Inside { .. } => None,
        }
    }
}

/// A task that another one needs.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Need {
    id: TypeId,
    /// The name of the task.
    pub name: &'static str,
}

impl Need {
    /// The task `T`.
    #[must_use]
    pub fn of<T: Task>() -> Self {
        Self { id: TypeId::of::<T>(), name: T::NAME }
    }

    /// Whether it is the task `T`.
    #[must_use]
    pub fn is<T: Task>(&self) -> bool {
        self.id == TypeId::of::<T>()
    }
}

/// One run of a task in a study.
pub struct Ran<T: Task> {
    /// What tells it from others of the same task.
    pub label: String,
    /// What was asked for.
    pub settings: T::Settings,
    /// What it was made from.
    pub inputs: T::Inputs,
    /// What came out.
    pub outcome: T::Outcome,
}

struct Entry {
    need: Need,
    key: String,
    ran: Arc<dyn Any + Send + Sync>,
}

/// The outcomes of a study's tasks, by the type of the task.
pub struct Store {
    cohort: Option<(Arc<Cohort>, String)>,
    folder: PathBuf,
    entries: Vec<Entry>,
    mentioned: Vec<String>,
}

impl Store {
    /// A store without outcomes; paths of a study start from `folder`.
    #[must_use]
    pub fn new(folder: PathBuf) -> Self {
        Self { cohort: None, folder, entries: Vec::new(), mentioned: Vec::new() }
    }

    /// The folder that a study's paths start from.
    #[must_use]
    pub fn folder(&self) -> &std::path::Path {
        &self.folder
    }

    /// Puts in the cohort, with the key of the content that it was imported from.
    pub fn put_cohort(&mut self, cohort: Arc<Cohort>, key: String) {
        self.cohort = Some((cohort, key));
    }

    /// The imported shapes; none in a study of tables or points alone.
    #[must_use]
    pub fn cohort(&self) -> Option<Arc<Cohort>> {
        self.cohort.as_ref().map(|(cohort, _)| Arc::clone(cohort))
    }

    /// Puts in a run, with the key of the content that it was made from.
    pub fn put<T: Task>(&mut self, key: String, ran: Arc<Ran<T>>) {
        self.entries.push(Entry { need: Need::of::<T>(), key, ran });
    }

    /// The first run of a task.
    #[must_use]
    pub fn get<T: Task>(&self) -> Option<Arc<Ran<T>>> {
        self.all::<T>().into_iter().next()
    }

    /// Every run of a task, in order.
    #[must_use]
    pub fn all<T: Task>(&self) -> Vec<Arc<Ran<T>>> {
        let of = self.entries.iter().filter(|e| e.need.is::<T>());
        of.filter_map(|e| Arc::clone(&e.ran).downcast::<Ran<T>>().ok()).collect()
    }

    /// Notes dimensions that results use, the most important first.
    pub fn mention(&mut self, names: Vec<String>) {
        self.mentioned.extend(names);
    }

    /// Dimensions that results use.
    #[must_use]
    pub fn mentioned(&self) -> &[String] {
        &self.mentioned
    }

    /// Which of the runs of a task has this label, from 0, and how many there are: 0 and 1 where the store holds none.
    #[must_use]
    pub fn which<T: Task>(&self, label: &str) -> (usize, usize) {
        let all = self.all::<T>();
        (all.iter().position(|ran| ran.label == label).unwrap_or(0), all.len().max(1))
    }

    /// The keys of the content that a task's results are made from: the cohort's, and those of all runs of the tasks it needs.
    #[must_use]
    pub fn keys(&self, needs: &[Need]) -> Vec<&str> {
        let cohort = self.cohort.iter().map(|(_, key)| key.as_str());
        let made = needs.iter().flat_map(|n| self.entries.iter().filter(|e| e.need == *n));
        cohort.chain(made.map(|e| e.key.as_str())).collect()
    }
}

impl std::fmt::Debug for Store {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_list().entries(self.entries.iter().map(|e| (e.need.name, &e.key))).finish()
    }
}
