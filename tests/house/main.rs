//! The rules of the house that no compiler checks: which package may depend on which, who may name which library,
//! how long a file may be, that modules form no circle, what must not stand in a tracked file, and that tables are made in one place.

mod dependencies;
mod files;
mod modules;
mod tables;
