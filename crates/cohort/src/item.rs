//! One captured shape and what is known about it.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

/// Whether an item takes part.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Status {
    /// It is on disk and takes part.
    Accepted,
    /// It was set aside; it is never repaired and never used.
    Quarantined {
        /// Why, in words for a person.
        reason: String,
    },
}

/// One captured shape: a still pose or a frame of a sequence.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Item {
    /// Its name, unique in the cohort.
    pub item: String,
    /// The person, as a pseudonym.
    pub participant: String,
    /// The session of that person; empty where the files name none.
    pub session: String,
    /// The still pose or the sequence it belongs to.
    pub capture: String,
    /// Number of the frame as the files write it; `None` for a still pose.
    pub frame: Option<u32>,
    /// Time of the frame in seconds, where it is known.
    pub time_s: Option<f64>,
    /// The extra columns of the table of participants, such as sex or age.
    pub groups: BTreeMap<String, String>,
    /// The file it came from; a frame of an NPY file carries `#` and its row.
    pub source: String,
    /// Whether it takes part.
    pub status: Status,
}

impl Item {
    /// Whether it takes part.
    #[must_use]
    pub fn accepted(&self) -> bool {
        self.status == Status::Accepted
    }
}

/// A sequence: frames of one participant in order of time.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Capture {
    /// Its name.
    pub id: String,
    /// Who moves.
    pub participant: String,
    /// The session.
    pub session: String,
    /// Its accepted frames in order of time: indices into the items and the shapes of the cohort.
    pub items: Vec<usize>,
    /// Frames a second: one over the median time step, where times are known.
    pub fps: Option<f64>,
}
