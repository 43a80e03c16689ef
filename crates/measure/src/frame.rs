//! Which side of a body is its left.

use serde::{Deserialize, Serialize};

use crate::definition::Place;

/// Which side of a body is its left: the horizontal direction from one place to another.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Frame {
    /// A place on the left, or the middle of several.
    pub left: Place,
    /// The same on the right.
    pub right: Place,
}
