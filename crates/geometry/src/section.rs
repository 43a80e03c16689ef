//! Plane sections into closed loops.
