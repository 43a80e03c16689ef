//! What is asked of the fit of a movement.

use formkin_align::Removes;
use serde::{Deserialize, Serialize};

/// Settings of [`MotionParams::fit`].
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct MotionParams {
    /// What is taken out of every frame.
    pub removes: Removes,
    /// Vertices that the frame of reference is fixed to; `None` for the whole body. The modes are of the whole body either way.
    pub region: Option<Vec<u32>>,
    /// How the vertices count in the modes and, where there is no region, in the alignment.
    pub weighting: ModeWeighting,
    /// The largest number of modes to keep.
    pub modes: usize,
    /// Whose position and turn the results are given in.
    pub reference_frame: Reference,
    /// Into how many contiguous segments the record is cut for the held-out error; 0 for none, else at least 2.
    pub segments: usize,
    /// Up to so many frames the modes are exact and all variances known (frames x frames matrix of scalar products);
    /// beyond, the leading modes are found by subspace iteration in passes over the frames.
    pub gram_frames: usize,
    /// Seed of the start of the subspace iteration.
    pub seed: u64,
}

impl Default for MotionParams {
    fn default() -> Self {
        Self {
            removes: Removes::Rigid,
            region: None,
            weighting: ModeWeighting::Area,
            modes: 10,
            reference_frame: Reference::Frame(0),
            segments: 2,
            gram_frames: 3000,
            seed: 1,
        }
    }
}

/// How the vertices count in the modes. Weights sum to 1.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum ModeWeighting {
    /// By one third of the area of the adjacent triangles of the mean.
    #[default]
    Area,
    /// All alike.
    Plain,
}

impl ModeWeighting {
    /// Its name as written in parameters.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Area => "area",
            Self::Plain => "plain",
        }
    }
}

/// The pose that others are compared with. Written as a frame's number, from 0, or as `"mean"`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(from = "Written", into = "Written")]
pub enum Reference {
    /// A frame, from 0.
    Frame(usize),
    /// The mean over all frames.
    Mean,
}

impl Default for Reference {
    fn default() -> Self {
        Self::Frame(0)
    }
}

#[derive(Serialize, Deserialize)]
#[serde(untagged, expecting = "it must be the number of a frame, from 0, or \"mean\"")]
enum Written {
    Frame(usize),
    Word(Word),
}

#[derive(Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
enum Word {
    Mean,
}

impl From<Written> for Reference {
    fn from(written: Written) -> Self {
        match written {
            Written::Frame(f) => Self::Frame(f),
            Written::Word(Word::Mean) => Self::Mean,
        }
    }
}

impl From<Reference> for Written {
    fn from(reference: Reference) -> Self {
        match reference {
            Reference::Frame(f) => Self::Frame(f),
            Reference::Mean => Self::Word(Word::Mean),
        }
    }
}
