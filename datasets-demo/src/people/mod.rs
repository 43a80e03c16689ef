//! People: what crews measure, the factors they are drawn from, their shapes, stances and the scanner's noise.

pub(crate) mod factors;
pub(crate) mod figures;
pub(crate) mod girths;
pub(crate) mod noise;
pub(crate) mod shape;
pub(crate) mod stance;
