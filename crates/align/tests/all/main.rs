//! Alignment against answers known beforehand and figures from outside.

mod common;
mod fit;
mod moments;
mod outside;
