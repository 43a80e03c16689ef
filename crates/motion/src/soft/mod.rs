//! Soft tissue: how points and regions move against a frame of the body.
//!
//! | module | what it holds |
//! |---|---|
//! | [`displacement`] | paths of points and regions in a body frame |
//! | [`tissue`] | what they do in a cycle: ranges, path, speed, acceleration, lag, normal and tangential parts |
//! | [`field`] | the range of every vertex, for maps |
//! | [`compare`] | conditions compared: reductions, intervals, paired tests |

pub mod compare;
pub mod displacement;
pub mod field;
pub mod tissue;
