//! One command a file.

pub(crate) mod agree;
mod body;
pub(crate) mod complete;
pub(crate) mod completions;
pub(crate) mod demo;
pub(crate) mod export;
pub(crate) mod groups;
pub(crate) mod import;
pub(crate) mod inspect;
pub(crate) mod map;
pub(crate) mod motion;
pub(crate) mod percentiles;
pub(crate) mod predict;
pub(crate) mod sample;
pub(crate) mod size;
pub(crate) mod study;
