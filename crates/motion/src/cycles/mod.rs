//! Cycles of a movement: found, tested, laid over each other.
//!
//! | module | what it holds |
//! |---|---|
//! | [`events`] | the events of a signal that cycles run between |
//! | [`cycle`] | cycles between events, and which are set aside |
//! | [`band`] | 0 to 100 % of the cycle, mean and SD, extremes and their phases |
//! | [`given`] | events that are given in a table |
//! | [`components`] | functional principal components of curves |
//! | [`left_out`] | motion modes cross-validated by cycle |
//! | [`pooled`] | the components of dimensions over all cycles, captures and people |

pub mod band;
pub mod components;
pub mod cycle;
pub mod events;
pub mod given;
pub mod left_out;
pub mod pooled;
