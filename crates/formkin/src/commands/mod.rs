//! One command a file.

pub(crate) mod completions;
pub(crate) mod demo;
pub(crate) mod import;
pub(crate) mod inspect;
pub(crate) mod study;
