//! The pieces of work that the program's commands and the stages of a study share.
//!
//! | module | what it does |
//! |---|---|
//! | [`space`] | cohort -> shape space |
//! | [`measure`] | cohort -> tables of dimensions |
//! | [`movement`] | a capture -> modes and curves |
//! | [`size`] | a table and a plan -> a size system; the mean mesh of each size |
//! | [`formats`] | results -> the content of files |

pub mod formats;
pub mod measure;
pub mod movement;
pub mod size;
pub mod space;
