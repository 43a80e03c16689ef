//! A whole study from one file: a graph of tasks, what is kept, provenance, delivery.
//!
//! | module | what it holds |
//! |---|---|
//! | [`study`] | a study, read and run |
//! | [`sections`] | the study file, held against the fields of every task |
//! | [`graph`] | the tasks in order, each run only where its inputs changed |
//! | [`cache`] | results kept by the content they were made from |
//! | [`outputs`] | files written whole, and what was written |
//! | [`finish`] | files, figures, report, provenance |
//! | `pages` | the parts of a report that no single task has |
//! | [`error`] | what can go wrong |

pub mod cache;
pub mod error;
pub mod finish;
pub mod graph;
pub mod outputs;
mod pages;
pub mod sections;
pub mod study;

pub use error::StudyError;
pub use finish::StudyResult;
pub use formkin_tasks::Problem;
pub use graph::Step;
pub use outputs::StageRecord;
pub use sections::StudyFile;
pub use study::{Study, StudyOptions};
