//! Posture: a template's skeleton and skin laid into frames.
//!
//! | module | what it holds |
//! |---|---|
//! | [`rig`] | joints and skin of a body at rest; poses; where the skin goes |
//! | [`estimate`] | the pose of a frame |
//! | [`sequence`] | poses of a record, unposed bodies, angles, what posture explains |

pub mod estimate;
pub mod rig;
pub mod sequence;
