//! A result among people, and who could not take part.

use serde::{Deserialize, Serialize};

/// People under whom a test says little.
const FEW: usize = 20;
/// Permutations from which on a p is fit to be reported.
const PERMUTATIONS: usize = 9999;

/// A result among people, and who could not take part.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Among<T> {
    /// The result.
    pub result: T,
    /// People who take part.
    pub people: usize,
    /// People left out because a value is missing.
    pub left_out: Vec<String>,
    /// What limits the tests.
    pub notes: Vec<String>,
}

impl<T> Among<T> {
    /// A result with what limits tests of so many people and permutations.
    pub(crate) fn new(result: T, people: usize, left_out: Vec<String>, permutations: usize) -> Self {
        let mut notes = Vec::new();
        if people < FEW {
            notes.push(format!(
                "only {people} people: tests of so few find only the largest effects, and their R2 is too high; measure more before you rely on it"
            ));
        }
        if permutations < PERMUTATIONS {
            notes.push("take 9,999 permutations or more for what you report".to_owned());
        }
        Self { result, people, left_out, notes }
    }
}
