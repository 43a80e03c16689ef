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
//! | [`delivery`] | what a task hands over |
//! | [`import`] | mesh files into a cohort |
//! | [`check`] | what is wrong with the data |
//! | [`space`] | bodies aligned, and their shape space |
//! | [`predictions`] | what a space needs to predict bodies from dimensions |
//! | [`project`] | new shapes in a space |
//! | [`merge`] | spaces joined from their files alone |
//! | [`predict`] | given dimensions to the body that goes with them |
//! | [`mod@complete`] | a part of a surface to the body that goes with it |
//! | [`compare`] | groups of people compared |
//! | [`regress`] | shape on a number |
//! | [`map`] | a map of people |
//! | [`sample`] | new bodies like those of given people |
//! | [`groups`] | what comparisons and regressions have in common |
//! | [`people`] | coefficients and columns, one row a body and one a person |
//! | [`bodies`] | bodies of a space: from where they are read, how they stand, what they are written as |
//! | [`export`] | spaces, bodies and coefficients in open formats |
//! | [`ml`] | a data set for machine learning |
//! | [`choices`] | choices that tasks have in common |
//! | [`size`], [`percentiles`], [`agree`] | tables of people: sizes, percentiles, agreement of two ways of measuring |
//! | [`figures`] | words and views that sections have in common |
//! | [`sentence`](mod@sentence) | messages as sentences |
//! | [`motion`] | what a movement does to a body |
//! | [`movements`] | what all movements of a study say together |
//! | [`points`] | what a movement does to points |
//! | [`signals`] | what meshes and points have in common: cycles, curves, soft tissue, conditions |
//! | [`digest`] | SHA-256 of files and bytes |
//! | [`error`] | what can go wrong |

pub mod agree;
pub mod bodies;
pub mod check;
pub mod choices;
pub mod compare;
pub mod complete;
pub mod delivery;
pub mod digest;
pub mod error;
pub mod export;
pub mod facts;
pub mod fields;
pub mod figures;
pub mod groups;
pub mod import;
pub mod joints;
pub mod map;
pub mod measure;
pub mod merge;
pub mod ml;
pub mod motion;
pub mod movements;
pub mod names;
pub mod people;
pub mod percentiles;
pub mod points;
pub mod predict;
pub mod predictions;
pub mod problem;
pub mod project;
pub mod reading;
pub mod registry;
pub mod regress;
pub mod sample;
pub mod sentence;
pub mod signals;
pub mod size;
pub mod space;
pub mod symmetry;
pub mod task;
pub mod values;

pub use delivery::Delivery;
pub use error::TaskError;
pub use facts::Facts;
pub use fields::{Nothing, Settings};
pub use problem::{Problem, Problems};
pub use task::{InStudy, Need, Ran, Store, Target, Task};

/// Who is told that so many of so many parts are done.
pub type Progress<'a> = &'a (dyn Fn(usize, usize) + Sync);
