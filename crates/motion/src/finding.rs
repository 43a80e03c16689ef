//! What was noticed about a sequence: typed values, never a crash.

use serde::{Deserialize, Serialize};

/// What kind of thing was noticed. Written in kebab case: `dropped-frames`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
#[non_exhaustive]
pub enum FindingKind {
    /// A step between time stamps longer than 1.5 sampling steps.
    DroppedFrames,
    /// Time stamps that follow no constant sampling step.
    UnevenTimes,
    /// A frame that repeats the one before it.
    FrozenFrames,
    /// A frame far from both its neighbours, which hardly move.
    BrokenFrame,
    /// No shape change over the frames.
    NoVariation,
}

/// Something a person should know before reading the results.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Finding {
    /// What kind of thing it is.
    pub kind: FindingKind,
    /// The first frame it concerns, from 0; `None` where it concerns the whole sequence.
    pub frame: Option<usize>,
    /// How many frames it concerns: missing ones for dropped frames, repeated ones for frozen frames.
    pub frames: usize,
    /// What is wrong, in words.
    pub message: String,
    /// How much of it, in `unit`.
    pub amount: Option<f64>,
    /// The unit of `amount`.
    pub unit: Option<String>,
    /// What to do about it.
    pub advice: String,
}
