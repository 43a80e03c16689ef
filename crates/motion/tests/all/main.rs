//! Movements against answers known beforehand, and the real sequences.

mod common;
mod deformation;
mod following;
mod known_answers;
mod left_out;
mod real_sequences;
mod together;
