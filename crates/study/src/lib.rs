//! A whole study from one file, and the pieces of work that the program's commands share with it.
//!
//! | module | what it holds |
//! |---|---|
//! | [`file`](mod@file) | the study file |
//! | [`choose`] | words of a file or a command line -> checked settings |
//! | [`job`] | the pieces of work |
//! | [`deliver`] | everything a study hands over |
//! | [`report_parts`] | movements and points as the report takes them |
//! | [`preflight`] | what is wrong with a study, before any stage is run |
//! | [`run`] | the stages in order, each run only where its inputs changed |
//! | `questions` | the stages and files of what is asked of the shape space |
//! | [`cache`] | results kept by the content they were made from |
//! | [`outputs`] | files written whole, and what was written |
//! | [`summary`] | the figures for programs |
//! | [`facts`] | what the report says of the study as a whole |
//! | [`error`] | what can go wrong |

pub mod cache;
pub mod choose;
pub mod deliver;
pub mod drawing;
pub mod error;
pub mod facts;
pub mod file;
pub mod job;
pub mod outputs;
pub mod preflight;
mod questions;
pub mod report_parts;
pub mod run;
pub mod summary;

pub use error::StudyError;
pub use file::StudyFile;
pub use preflight::Problem;
pub use run::{Stage, Step, Study, StudyOptions, StudyResult};
