//! Values from outside the project that need no table of data: geometry, mechanics, published examples, theory as oracle.
//! R = read at the source named, C = computed with a general library, M = from memory of the source named.

#![allow(clippy::unwrap_used)] // a test's helper fails the test

mod alignment;
mod posture;
mod sizing;
mod strain;
mod surfaces;
mod theory;
