//! What can be wrong with a shape space.

use formkin_align::AlignError;
use formkin_geometry::SourceError;
use formkin_stats::StatsError;
use thiserror::Error;

use crate::fault::{MapFault, SeenFault};

/// What can be wrong with a shape space.
#[derive(Debug, Clone, PartialEq, Error)]
#[non_exhaustive]
pub enum ShapeError {
    /// Too few shapes to have a variance.
    #[error("a shape space needs at least 2 shapes, and there are {shapes}")]
    TooFewShapes {
        /// How many there are.
        shapes: usize,
    },
    /// Too few people to hold some of them out.
    #[error(
        "cross-validation holds people out: it needs at least 3, and has {people} (frames and repeated scans of a person are not people)"
    )]
    TooFewPeople {
        /// How many people there are.
        people: usize,
    },
    /// Too few people for the number of given values: no degree of freedom is left.
    #[error("{given} given values need at least {} people, and the space has {people}; give fewer values", given + 2)]
    TooManyGiven {
        /// How many values are given.
        given: usize,
        /// How many people there are.
        people: usize,
    },
    /// A count that does not fit.
    #[error("{what}: {found} found where {expected} are needed")]
    Count {
        /// What was counted.
        what: &'static str,
        /// How many there must be.
        expected: usize,
        /// How many there are.
        found: usize,
    },
    /// A setting is out of its range.
    #[error("the setting `{name}` is {value}; it must be {range}")]
    Setting {
        /// The setting.
        name: &'static str,
        /// The value given.
        value: f64,
        /// The range, in words.
        range: &'static str,
    },
    /// The bytes are no safetensors file.
    #[error("this is not a readable safetensors file: {reason}")]
    NotSafetensors {
        /// What the reader found.
        reason: String,
    },
    /// The file holds something else than a space.
    #[error(
        "this safetensors file is not a shape space: its metadata has no `format` = `{}`",
        crate::format::FORMAT
    )]
    NotASpace,
    /// The file is of a version to come.
    #[error(
        "the file is of format version {found}, and this program reads up to {known}: use a newer program"
    )]
    NewerVersion {
        /// The version of the file.
        found: u64,
        /// The newest version known here.
        known: u64,
    },
    /// An array is not there.
    #[error("the file has no array `{array}`")]
    MissingArray {
        /// Its name.
        array: &'static str,
    },
    /// An array has another shape or type than it should.
    #[error("the array `{array}` is {found}, and should be {expected}")]
    WrongArray {
        /// Its name.
        array: &'static str,
        /// What it should be.
        expected: String,
        /// What it is.
        found: String,
    },
    /// An array holds a value that cannot be.
    #[error("the array `{array}`: {reason}")]
    BadValue {
        /// Its name.
        array: &'static str,
        /// What is wrong.
        reason: String,
    },
    /// The metadata cannot be read.
    #[error("the metadata `{key}`: {reason}")]
    Metadata {
        /// Which entry.
        key: &'static str,
        /// What is wrong.
        reason: String,
    },
    /// Mirror pairs that do not belong together.
    #[error(
        "the mirror pair of vertex {vertex} does not lead back to it; the template's mirror pairs must be mutual"
    )]
    MirrorPair {
        /// The vertex.
        vertex: usize,
    },
    /// Mirror pairs that do not match left and right.
    #[error(
        "the mirrored mean body lies {rms_mm:.0} mm (RMS) off the mean body, whose size is {size_mm:.0} mm: the template's mirror pairs do not match left and right"
    )]
    NotMirrored {
        /// What is left after the mirrored mean was laid on the mean, in mm.
        rms_mm: f64,
        /// The centroid size of the mean, in mm.
        size_mm: f64,
    },
    /// A group with too few people for what is asked.
    #[error(
        "group `{group}` has {people} {}, and at least {least} are needed; ask for fewer modes, or join groups",
        if *people == 1 { "person" } else { "people" }
    )]
    SmallGroup {
        /// The group.
        group: String,
        /// How many people it has.
        people: usize,
        /// How many it needs.
        least: usize,
    },
    /// People who cannot be laid out on a map.
    #[error("no map of these people: {0}")]
    NoMap(#[from] MapFault),
    /// Fewer than two groups.
    #[error("{groups} group is there, and a comparison needs two or more")]
    OneGroup {
        /// How many there are.
        groups: usize,
    },
    /// Spaces that cannot be merged.
    #[error("space {which} cannot be merged with the first: {reason}")]
    NotMergeable {
        /// Which, from 1.
        which: usize,
        /// Why.
        reason: String,
    },
    /// Too few samples were accepted.
    #[error(
        "only {accepted} of {wanted} bodies were accepted in {tries} draws; most were refused because {reason}. Widen the limits, or ask for fewer"
    )]
    Refused {
        /// How many were accepted.
        accepted: usize,
        /// How many were asked for.
        wanted: usize,
        /// How many were drawn.
        tries: usize,
        /// The commonest reason.
        reason: String,
    },
    /// A target population that bodies cannot be weighed to.
    #[error("the target population: `{dimension}`: {reason}")]
    Target {
        /// The dimension.
        dimension: String,
        /// Why.
        reason: String,
    },
    /// A given value that cannot be used.
    #[error("`{variable}` cannot be given so: {reason}")]
    Given {
        /// The variable.
        variable: String,
        /// Why.
        reason: String,
    },
    /// A completion without any knowledge of what lies beyond the modes.
    #[error(
        "nobody was held out of this space, so that it does not know how far bodies lie from its modes: give the SD of a coordinate in mm (`noise_mm`)"
    )]
    NoNoise,
    /// Seen vertices that a shape cannot be completed from.
    #[error("the seen vertices: {0}")]
    Seen(#[from] SeenFault),
    /// Rounds that did not come to an end.
    #[error("pose and shape did not settle in {rounds} rounds: the last step was {moved_mm:.2e} mm")]
    NoConvergence {
        /// Rounds made.
        rounds: usize,
        /// Length of the last step, in mm.
        moved_mm: f64,
    },
    /// The alignment.
    #[error(transparent)]
    Align(#[from] AlignError),
    /// A shape could not be read.
    #[error(transparent)]
    Source(#[from] SourceError),
    /// The numbers below could not be worked out.
    #[error(transparent)]
    Stats(#[from] StatsError),
}
