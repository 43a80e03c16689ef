//! What to make, and what was made.

use std::path::PathBuf;

use serde::{Deserialize, Serialize};

use crate::DemoError;

/// What to make.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct DemoParams {
    /// Number of people; at least 1.
    pub participants: usize,
    /// Vertices of the template, 3,000 to 100,000.
    pub vertices: usize,
    /// Seed of everything drawn.
    pub seed: u64,
    /// Number of sequences, 0 to 30: the movements in turn, each by another person.
    pub sequences: usize,
    /// Frames of a sequence; at least 2.
    pub frames: usize,
    /// Frames a second, 10 to 500.
    pub frames_per_second: f64,
    /// How many people are scanned again in a second session.
    pub repeats: usize,
    /// Standard deviation of the scanner's noise along the normal, in mm; 0 for none.
    pub noise_mm: f64,
    /// Whether people stand a little differently from each other.
    pub stance: bool,
    /// Write over an existing folder's files.
    pub force: bool,
}

impl Default for DemoParams {
    fn default() -> Self {
        Self {
            participants: 200,
            vertices: 12_000,
            seed: 20,
            sequences: 3,
            frames: 330,
            frames_per_second: 60.0,
            repeats: 5,
            noise_mm: 1.0,
            stance: true,
            force: false,
        }
    }
}

impl DemoParams {
    /// # Errors
    /// [`DemoError::Parameter`] for the first parameter out of range.
    pub fn check(&self) -> Result<(), DemoError> {
        let fault = |name, value: String, rule: &str| {
            Err(DemoError::Parameter { name, value, rule: rule.to_owned() })
        };
        if self.participants == 0 || self.participants > 100_000 {
            return fault("participants", self.participants.to_string(), "1 to 100,000");
        }
        if !(3_000..=100_000).contains(&self.vertices) {
            return fault("vertices", self.vertices.to_string(), "3,000 to 100,000");
        }
        if self.sequences > 30 {
            return fault("sequences", self.sequences.to_string(), "0 to 30");
        }
        if self.sequences > 0 && !(2..=100_000).contains(&self.frames) {
            return fault("frames", self.frames.to_string(), "2 to 100,000");
        }
        if !(10.0..=500.0).contains(&self.frames_per_second) {
            return fault("frames_per_second", self.frames_per_second.to_string(), "10 to 500");
        }
        if self.repeats > self.participants {
            return fault("repeats", self.repeats.to_string(), "at most as many as there are participants");
        }
        if !(0.0..=20.0).contains(&self.noise_mm) {
            return fault("noise_mm", self.noise_mm.to_string(), "0 to 20 mm");
        }
        Ok(())
    }
}

/// What was made.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct DemoReport {
    /// The folder.
    pub folder: PathBuf,
    /// Number of people.
    pub participants: usize,
    /// Number of scans; repeats included.
    pub scans: usize,
    /// Vertices of the template that came out.
    pub vertices: usize,
    /// Its triangles.
    pub triangles: usize,
    /// Number of sequences.
    pub sequences: usize,
    /// Frames of all sequences.
    pub frames: usize,
    /// The seed.
    pub seed: u64,
    /// The files written, tables and templates; scans and frames are in `scans/` and `movements/`.
    pub outputs: Vec<PathBuf>,
}
