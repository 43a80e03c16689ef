//! Agreement of two ways of measuring, and repeatability of one.
//!
//! | module | what it holds |
//! |---|---|
//! | [`limits`] | the greatest permitted mean error of each type of dimension |
//! | [`mod@compare`] | scan against hand: error, interval, limits of agreement, verdict |
//! | [`repeats`] | technical error, reliability, intraclass correlation, least detectable change |

pub mod compare;
pub mod limits;
pub mod repeats;

pub use crate::limit_type::LimitType;
pub use compare::{Agreement, CompareParams, Comparison, Pair, Verdict, compare};
pub use limits::TypeSource;
pub use repeats::{Repeatability, RepeatsParams, repeatability};
