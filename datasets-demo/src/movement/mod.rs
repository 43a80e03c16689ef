//! Movements: skeleton and skin, the three movements, soft tissue, sequences frame by frame.

pub(crate) mod clip;
pub(crate) mod sequence;
pub(crate) mod skeleton;
pub(crate) mod soft;
