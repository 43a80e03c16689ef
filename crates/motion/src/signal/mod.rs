//! Signals over time: gaps, filters, cutoffs, cycles' raw material.
//!
//! | module | what it holds |
//! |---|---|
//! | [`filter`] | zero-lag Butterworth low-pass, second order, forward and back |
//! | [`residual`] | the cutoff by residual analysis |
//! | [`gaps`] | one constant step: short gaps interpolated, long ones split |
//! | [`lag`] | the delay of one signal behind another |
//! | [`noise`] | the noise floor of a signal |

pub mod filter;
pub mod gaps;
pub mod lag;
pub mod noise;
pub mod residual;
