//! Shape spaces against answers known beforehand, theory, and figures from outside.

#[path = "../../../align/tests/all/common/mod.rs"]
mod common;
mod compare;
mod complete;
mod criteria;
mod file;
mod fit;
mod merge;
mod nulls;
mod outside;
mod predict;
mod sample;
mod symmetry;
mod variances;
