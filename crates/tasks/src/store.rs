//! What the tasks of a study have made so far.

use std::any::{Any, TypeId};
use std::path::PathBuf;
use std::sync::Arc;

use formkin_cohort::Cohort;

use crate::Task;

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
