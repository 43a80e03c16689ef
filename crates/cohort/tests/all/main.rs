//! Files, import and checks: good ones, hostile ones, real ones.

mod check;
mod common;
mod files;
mod import;
mod real;
mod resume;
