//! A capability a folder: settings, check, run, deliver, section. The one definition that the study file, the program, the library and Python
//! share.
//!
//! | module | what it holds |
//! |---|---|
//! | [`task`] | what a task is |
//! | [`registry`] | every task, a line each |
//! | [`fields`] | the fields of settings, read from their schema |
//! | [`values`] | values held against fields |
//! | [`problem`] | what is wrong before anything runs |
//! | [`facts`] | what is known before anything runs |
//! | [`store`] | what the tasks of a study have made so far |
//! | [`delivery`] | what a task hands over |
//! | [`import`] | mesh files into a cohort |
//! | [`check`] | what is wrong with the data |
//! | [`space`] | bodies aligned, and their shape space |
//! | [`predictions`] | what a space needs to predict bodies from dimensions |
//! | [`project`] | new shapes in a space |
//! | [`merge`] | spaces joined from their files alone |
//! | [`bodies`] | bodies of a space: from where they are read |
//! | [`choices`] | choices that tasks have in common |
//! | [`figures`] | words and views that sections have in common |
//! | [`sentence`](mod@sentence) | messages as sentences |
//! | [`digest`] | SHA-256 of files and bytes |
//! | [`error`] | what can go wrong |

pub mod bodies;
pub mod check;
pub mod choices;
pub mod choose;
pub mod delivery;
pub mod digest;
pub mod error;
pub mod facts;
pub mod fields;
pub mod figures;
pub mod import;
#[allow(missing_docs, reason = "these files are on their way into folders of their own")]
pub mod job;
pub mod joints;
pub mod measure;
pub mod merge;
pub mod ml;
pub mod names;
pub mod predictions;
pub mod problem;
pub mod project;
pub mod reading;
pub mod registry;
pub mod sentence;
pub mod space;
pub mod store;
pub mod summaries;
pub mod symmetry;
pub mod task;
pub mod values;

pub use delivery::Delivery;
pub use error::TaskError;
pub use facts::Facts;
pub use fields::{Nothing, Settings};
pub use problem::{Problem, Problems};
pub use store::{Need, Ran, Store};
pub use task::{InStudy, Target, Task};

/// Who is told that so many of so many parts are done.
pub type Progress<'a> = &'a (dyn Fn(usize, usize) + Sync);
