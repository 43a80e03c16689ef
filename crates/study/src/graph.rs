//! The tasks of a study in order, each run only where its inputs changed.

use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::Instant;

use formkin_cohort::{Cohort, ImportParams, ImportReport, import, input_files};
use formkin_table::file_name;
use formkin_tasks::digest::file_hash;
use formkin_tasks::fields::{Settings, fields};
use formkin_tasks::registry::{Visitor, visit_all};
use formkin_tasks::{InStudy, Need, Ran, Store, Task};
use serde_json::Value;

use crate::StudyError;
use crate::cache::{Cache, Key};
use crate::outputs::{Outputs, Read, StageRecord};
use crate::sections::{Asked, StudyFile};

/// The folder, beside the results, of the imported shapes.
pub const COHORT: &str = "study.cohort";

/// What happens while a study runs.
#[derive(Debug, Clone, Copy)]
pub enum Step<'a> {
    /// `done` of `of` parts of a stage are done.
    Progress {
        /// The stage.
        stage: &'a str,
        /// Parts done.
        done: usize,
        /// Parts in all.
        of: usize,
    },
    /// A stage has ended.
    Ends {
        /// The stage.
        stage: &'a str,
        /// How long it took, in s.
        seconds: f64,
        /// Whether an earlier result was kept.
        kept: bool,
    },
}

/// Who is told what happens.
pub type Watch<'a> = &'a (dyn Fn(Step<'_>) + Sync);

/// A study in progress.
pub(crate) struct Run<'a> {
    pub(crate) file: &'a StudyFile,
    /// The folder of the study file.
    pub(crate) folder: &'a Path,
    pub(crate) outputs: Outputs,
    pub(crate) store: Store,
    pub(crate) stages: Vec<StageRecord>,
    pub(crate) read: Vec<Read>,
    /// What the data could not answer, and why.
    pub(crate) refusals: Vec<String>,
    pub(crate) cache: Cache,
    pub(crate) watch: Watch<'a>,
}

/// The name of a stage: that of its task, and what tells one run from another.
pub(crate) fn stage_name<T: Task>(settings: &T::Settings) -> String {
    match T::label(settings) {
        label if label.is_empty() => T::NAME.to_owned(),
        label => format!("{}-{}", T::NAME, file_name(&label)),
    }
}

impl Run<'_> {
    pub(crate) fn record(&mut self, stage: &str, key: &Key, kept: bool, began: Instant) {
        let seconds = began.elapsed().as_secs_f64();
        (self.watch)(Step::Ends { stage, seconds, kept });
        let key = key.as_str().to_owned();
        self.stages.push(StageRecord { stage: stage.to_owned(), key, kept, seconds });
    }

    fn shown(&self, path: &Path) -> String {
        path.strip_prefix(self.folder).unwrap_or(path).display().to_string()
    }

    /// The digest of a file that the study reads, which is noted.
    fn digest(&mut self, path: &Path) -> Result<String, StudyError> {
        let sha256 = file_hash(path)?;
        let read = Read { path: self.shown(path), sha256: sha256.clone() };
        if !self.read.contains(&read) {
            self.read.push(read);
        }
        Ok(sha256)
    }

    /// Imports the shapes, or opens those that were imported before from the same content.
    pub(crate) fn import(&mut self, root: &Path, afresh: bool) -> Result<(), StudyError> {
        let Some((sources, settings)) = &self.file.import else { return Ok(()) };
        let params = ImportParams { force: true, ..settings.params(sources, self.folder) };
        let patterns = sources.patterns(self.folder);
        let mut digests = Vec::new();
        for path in input_files(&patterns, &params)? {
            digests.push((self.shown(&path), self.digest(&path)?));
        }
        let key = Key::of_task("import", 1, &(sources, settings, &digests), &[])?;
        let into = root.join(COHORT);
        let began = Instant::now();
        if !afresh
            && self.cache.has::<ImportReport>("import", &key)
            && let Ok(cohort) = Cohort::open(&into)
        {
            self.record("import", &key, true, began);
            self.store.put_cohort(Arc::new(cohort), key.as_str().to_owned());
            return Ok(());
        }
        self.cache.forget("import");
        let watch = self.watch;
        let progress = |done, of| watch(Step::Progress { stage: "import", done, of });
        let (_, kept) =
            self.cache.stage("import", &key, || Ok(import(&patterns, &into, &params, &progress)?))?;
        self.record("import", &key, kept, began);
        self.store.put_cohort(Arc::new(Cohort::open(&into)?), key.as_str().to_owned());
        Ok(())
    }

    /// Runs every task that the study asks for, each after those it needs.
    pub(crate) fn tasks(&mut self) -> Result<(), StudyError> {
        for node in in_order(nodes()) {
            (node.run)(self)?;
        }
        Ok(())
    }

    fn task<T: Task>(&mut self) -> Result<(), StudyError> {
        for Asked { sources, settings } in self.file.asked::<T>() {
            for settings in T::runs(settings, &self.store) {
                let label = T::label(&settings);
                match self.once::<T>(&sources, settings) {
                    // what the data cannot answer is said, and the study goes on
                    Err(StudyError::Task(e)) if T::IN_STUDY == InStudy::Tried && e.is_of_the_data() => {
                        let mut what = T::ABOUT.to_lowercase();
                        if !label.is_empty() {
                            what = format!("{what}: {label}");
                        }
                        self.refusals.push(format!("No answer ({what}): {e}."));
                    }
                    other => other?,
                }
            }
        }
        Ok(())
    }

    fn once<T: Task>(&mut self, sources: &T::Sources, settings: T::Settings) -> Result<(), StudyError> {
        let stage = stage_name::<T>(&settings);
        let began = Instant::now();
        let mut digests = Vec::new();
        for path in files_of(sources) {
            digests.push((self.shown(&path), self.digest(&path)?));
        }
        let Some(inputs) = T::gather(sources, &settings, &self.store)? else { return Ok(()) };
        let keys = self.store.keys(&T::needs());
        let key = Key::of_task(T::NAME, T::VERSION, &(&settings, &digests), &keys)?;
        let watch = self.watch;
        let progress = |done, of| watch(Step::Progress { stage: &stage, done, of });
        let (outcome, kept) =
            self.cache.stage(&stage, &key, || Ok(T::run(&settings, &inputs, &progress)?))?;
        self.record(&stage, &key, kept, began);
        let ran = Ran::<T> { label: T::label(&settings), settings, inputs, outcome };
        self.store.put(key.as_str().to_owned(), Arc::new(ran));
        Ok(())
    }
}

/// A task of the graph.
struct Node {
    task: Need,
    needs: Vec<Need>,
    run: fn(&mut Run<'_>) -> Result<(), StudyError>,
}

fn nodes() -> Vec<Node> {
    struct Nodes(Vec<Node>);
    impl Visitor for Nodes {
        fn visit<T: Task>(&mut self) {
            if T::IN_STUDY != InStudy::Never {
                self.0.push(Node { task: Need::of::<T>(), needs: T::needs(), run: |run| run.task::<T>() });
            }
        }
    }
    let mut nodes = Nodes(Vec::new());
    visit_all(&mut nodes);
    nodes.0
}

/// Every task after those it needs, otherwise in the order of the registry. A circle would leave its tasks out; a test holds that there is none.
fn in_order(mut waiting: Vec<Node>) -> Vec<Node> {
    let mut ordered: Vec<Node> = Vec::new();
    let known: Vec<Need> = waiting.iter().map(|n| n.task).collect();
    loop {
        let ready = |n: &Node| {
            n.needs.iter().all(|need| ordered.iter().any(|o| o.task == *need) || !known.contains(need))
        };
        let Some(at) = waiting.iter().position(ready) else { return ordered };
        ordered.push(waiting.remove(at));
    }
}

/// The files that sources name in a study; words among them are no files.
fn files_of<S: Settings>(sources: &S) -> Vec<PathBuf> {
    let object = serde_json::to_value(sources).unwrap_or(Value::Null);
    let mut found = Vec::new();
    for field in fields::<S>().iter().filter(|f| f.study) {
        let places = match object.get(&field.name) {
            Some(Value::Array(list)) => list.iter().filter_map(Value::as_str).collect(),
            Some(Value::String(word)) => vec![word.as_str()],
            _ => Vec::new(),
        };
        found.extend(places.into_iter().filter(|w| !field.words.iter().any(|f| f == w)).map(PathBuf::from));
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_task_comes_after_those_it_needs() {
        let count = nodes().len();
        let ordered = in_order(nodes());
        assert_eq!(ordered.len(), count, "a circle of tasks");
        for (i, node) in ordered.iter().enumerate() {
            let before: Vec<Need> = ordered[..i].iter().map(|n| n.task).collect();
            assert!(
                node.needs.iter().all(|n| before.contains(n)),
                "{} needs what comes later",
                node.task.name
            );
        }
    }
}
