//! The rules of the house that no compiler checks: which package may depend on which, who may name which library,
//! how long a file may be, and what must not stand in a tracked file.

mod dependencies;
mod files;
