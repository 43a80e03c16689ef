//! Values from outside the project that need no table of data: geometry, mechanics, published examples, theory as oracle.
//! R = read at the source named, C = computed with a general library, M = from memory of the source named.

mod alignment;
mod sizing;
mod strain;
mod surfaces;
mod theory;
