//! One command a file.

pub(crate) mod check;
pub(crate) mod completions;
pub(crate) mod demo;
pub(crate) mod export;
pub(crate) mod import;
pub(crate) mod inspect;
pub(crate) mod measure;
pub(crate) mod motion;
pub(crate) mod project;
pub(crate) mod size;
pub(crate) mod space;
pub(crate) mod study;
