//! The pieces of work that the program's commands and the stages of a study share.
//!
//! | module | what it does |
//! |---|---|
//! | [`predict`] | given dimensions -> the body that goes with them |
//! | [`mod@complete`] | a part of a surface -> the body that goes with it |
//! | [`fill`] | a cohort with holes -> the same cohort without |
//! | [`measuring`] | how dimensions are taken, carried by a space |
//! | [`agree`] | tables -> agreement and repeatability |
//! | [`movement`] | a capture -> modes and curves |
//! | [`deep`] | a capture -> cycles, soft tissue, strain, dynamic modes, posture |
//! | [`together`] | all movements: changes, allowance, conditions, a shared space |
//! | [`deep_files`] | the files and figures of these |
//! | [`signals`] | cutoffs, axes and events that meshes and points share |
//! | [`conditions`] | a garment against the reference condition |
//! | [`mod@points`] | trajectories of points -> signals, cycles, displacement |
//! | [`curve_files`], [`condition_files`], [`point_files`] | the files of these |
//! | [`size`] | a table and a plan -> a size system |
//! | [`mod@mannequin`] | a size system and a space -> the mannequin of each size |
//! | `repeats` | how far repeated scans lie from each other |
//! | [`rows`] | coefficients and columns, one row a body |
//! | [`groups`] | groups compared, shape on a number |
//! | [`mod@sample`] | people -> new bodies like them |
//! | [`population`] | margins of a target population, limits of dimensions |
//! | [`questions`] | what a study asks of its shape space |
//! | [`mod@symmetry`] | symmetric and asymmetric parts of bodies |
//! | [`map`] | a map of people |
//! | [`formats`] | results -> the content of files |

pub mod agree;
pub mod clock;
pub mod complete;
pub mod condition_files;
pub mod conditions;
pub mod curve_files;
pub mod deep;
pub mod deep_files;
pub mod fill;
pub mod formats;
pub mod groups;
pub mod mannequin;
pub mod map;
pub mod measuring;
pub mod movement;
pub mod point_files;
pub mod points;
pub mod population;
pub mod predict;
pub mod questions;
pub mod repeats;
pub mod rows;
pub mod sample;
pub mod signals;
pub mod size;
pub mod symmetry;
pub mod together;
