//! What can be wrong with a sequence or with what is asked of it.

use formkin_align::AlignError;
use formkin_geometry::{GeometryError, SourceError};
use formkin_measure::MeasureError;
use formkin_shape::ShapeError;
use formkin_stats::StatsError;
use thiserror::Error;

use crate::fault::CyclesFault;

/// What can be wrong with a sequence or with what is asked of it.
#[derive(Debug, Error)]
#[non_exhaustive]
pub enum MotionError {
    /// Too few frames.
    #[error(
        "a movement needs at least {needed} frames, and there are {frames}; record more of it, or leave it out"
    )]
    TooFewFrames {
        /// Frames there are.
        frames: usize,
        /// Frames needed.
        needed: usize,
    },
    /// Time stamps and frames differ in number.
    #[error("{times} time stamps for {frames} frames; give one a frame, in seconds")]
    TimeCount {
        /// Stamps given.
        times: usize,
        /// Frames there are.
        frames: usize,
    },
    /// A time stamp is NaN or infinite.
    #[error("the time stamp of frame {frame} is {time_s}; it must be a number of seconds")]
    TimeNotFinite {
        /// The frame, from 0.
        frame: usize,
        /// Its stamp.
        time_s: f64,
    },
    /// Two frames bear the same time stamp.
    #[error(
        "frame {frame} bears the time stamp of the frame before it, {time_s} s; leave one of the two out or mend the stamps"
    )]
    TimeRepeated {
        /// The second frame of the two, from 0.
        frame: usize,
        /// Their stamp, in s.
        time_s: f64,
    },
    /// A frame is earlier than the one before it.
    #[error("frame {frame} at {time_s} s comes after one at {previous_s} s; put the frames in order of time")]
    TimeOrder {
        /// The frame that is too early, from 0.
        frame: usize,
        /// Its stamp, in s.
        time_s: f64,
        /// The stamp before, in s.
        previous_s: f64,
    },
    /// Frames and topology differ in their number of vertices.
    #[error(
        "the frames have {frames_vertices} vertices and the topology {topology_vertices}; both must come from the same template"
    )]
    VertexCount {
        /// Vertices of a frame.
        frames_vertices: usize,
        /// Vertices of the topology.
        topology_vertices: usize,
    },
    /// The region that the frame is fixed to names a vertex that does not exist.
    #[error("the region names vertex {vertex}, but vertices run from 0 to {last}")]
    RegionVertex {
        /// The vertex.
        vertex: u32,
        /// The last vertex there is.
        last: usize,
    },
    /// The region that the frame is fixed to is too small.
    #[error(
        "the region has {vertices} vertices; a frame of reference needs at least {needed} that do not lie on a line"
    )]
    RegionTooSmall {
        /// Different vertices of the region.
        vertices: usize,
        /// Fewest that will do.
        needed: usize,
    },
    /// The reference frame does not exist.
    #[error("reference frame {frame} does not exist; frames run from 0 to {last}")]
    NoSuchFrame {
        /// The frame asked for.
        frame: usize,
        /// The last frame there is.
        last: usize,
    },
    /// A mode that was not kept was asked for.
    #[error("mode {mode} was asked for, counted from 0; {kept} were kept")]
    NoSuchMode {
        /// The mode, from 0.
        mode: usize,
        /// How many there are.
        kept: usize,
    },
    /// A parameter is outside its range.
    #[error("{name} is {value}; it must be {range}")]
    OutOfRange {
        /// The parameter.
        name: &'static str,
        /// The value given.
        value: f64,
        /// The range, in words.
        range: &'static str,
    },
    /// The modes of a long sequence did not settle.
    #[error(
        "the modes did not settle in {passes} passes over the frames: the variances still change by {change:e} of the largest; ask for fewer modes"
    )]
    NotSettled {
        /// Passes made.
        passes: usize,
        /// Last relative change.
        change: f64,
    },
    /// A triangle of the reference pose has no area.
    #[error(
        "triangle {triangle} of the reference pose has no area, so strain is not defined on it; choose another reference pose"
    )]
    FlatTriangle {
        /// The triangle, from 0.
        triangle: usize,
    },
    /// A signal has too few samples.
    #[error("the signal has {samples} samples and {needed} are needed; take a longer piece")]
    SignalTooShort {
        /// Samples there are.
        samples: usize,
        /// Samples needed.
        needed: usize,
    },
    /// The step between time stamps is not constant.
    #[error(
        "the time stamps follow no constant step, which this needs; lay the signal on one, or take a piece without a gap"
    )]
    NotUniformTimes,
    /// A number is NaN or infinite.
    #[error("{what} is not a number at frame {frame}; leave it out or mark it as missing")]
    NotFinite {
        /// What it belongs to.
        what: String,
        /// The frame, from 0.
        frame: usize,
    },
    /// Two things that belong together differ in number.
    #[error("{what}: {expected} were expected and there are {found}")]
    Count {
        /// What was counted.
        what: &'static str,
        /// How many there should be.
        expected: usize,
        /// How many there are.
        found: usize,
    },
    /// A body, or the axes of a body frame, are mirrored.
    #[error("{what} is left-handed: {reason}; swap left and right, or mend the axes of the import")]
    LeftHanded {
        /// What is mirrored.
        what: String,
        /// How that was seen.
        reason: String,
    },
    /// No axes can be laid into a body frame.
    #[error("the {axis} axis of the body frame has no direction: {reason}")]
    NoAxis {
        /// Which axis.
        axis: &'static str,
        /// Why.
        reason: String,
    },
    /// No cycles were found.
    #[error("no cycles: {0}")]
    NoCycles(#[from] CyclesFault),
    /// Every cycle holds too few frames.
    #[error(
        "{cycles} cycles of {length_s:.4} s at most, {frames} frames of the {record}: a cycle needs {needed}; are the events in seconds (or `frame`, from 0), and one a cycle?"
    )]
    ShortCycles {
        /// How many cycles there are.
        cycles: usize,
        /// Frames in the longest.
        frames: usize,
        /// Fewest that will do.
        needed: usize,
        /// How long the longest is, in s.
        length_s: f64,
        /// Frames of the record.
        record: usize,
    },
    /// A cutoff that the frame rate does not allow.
    #[error(
        "a cutoff of {cutoff_hz} Hz cannot be used at {fps:.2} frames a second: only what is slower than half of that, {:.2} Hz, is recorded at all; {largest_hz:.2} Hz is the largest sensible cutoff",
        fps / 2.0
    )]
    Cutoff {
        /// The cutoff given.
        cutoff_hz: f64,
        /// The frame rate.
        fps: f64,
        /// The largest that is sensible: two fifths of the rate.
        largest_hz: f64,
    },
    /// The template lacks what is asked for.
    #[error("the template has no {what}; {advice}")]
    Template {
        /// What is missing.
        what: String,
        /// What to do.
        advice: &'static str,
    },
    /// A table of events is wrong.
    #[error("line {line} of the table of events: {reason}")]
    EventFile {
        /// The line, from 1.
        line: usize,
        /// What is wrong.
        reason: String,
    },
    /// A point that is not in the record.
    #[error("there is no point `{name}`; there are {known}")]
    NoSuchPoint {
        /// The name asked for.
        name: String,
        /// The names that there are.
        known: String,
    },
    /// A file of point trajectories is wrong.
    #[error("line {line} of the point file: {reason}")]
    PointFile {
        /// The line, from 1.
        line: usize,
        /// What is wrong.
        reason: String,
    },
    /// A frame could not be read.
    #[error(transparent)]
    Source(#[from] SourceError),
    /// The alignment of the frames failed.
    #[error("the frames cannot be aligned: {0}")]
    Align(#[from] AlignError),
    /// The components could not be computed.
    #[error("the modes cannot be computed: {0}")]
    Shape(#[from] ShapeError),
    /// A dimension could not be taken.
    #[error("the dimensions cannot be taken: {0}")]
    Measure(#[from] MeasureError),
    /// A surface is wrong.
    #[error(transparent)]
    Geometry(#[from] GeometryError),
    /// A computation failed.
    #[error(transparent)]
    Stats(#[from] StatsError),
}
