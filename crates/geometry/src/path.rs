//! Distances along a path.
