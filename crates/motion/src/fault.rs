//! What keeps cycles from being found or used.

use thiserror::Error;

use crate::NoFrequency;

/// Why there are no cycles.
#[derive(Debug, Clone, PartialEq, Error)]
#[non_exhaustive]
pub enum CyclesFault {
    /// The signal has no dominant frequency.
    #[error("{0}")]
    NoFrequency(NoFrequency),
    /// Fewer than two events.
    #[error("{events} events, two begin and end a cycle")]
    FewEvents {
        /// How many there are.
        events: usize,
    },
    /// Events that are not in order.
    #[error("the events must ascend, and {later_s} s comes after {earlier_s} s")]
    EventsDescend {
        /// An event, in s.
        earlier_s: f64,
        /// The one given after it, in s.
        later_s: f64,
    },
    /// An event at a frame that is not there.
    #[error("the event at frame {frame} lies outside frames 0 to {last}")]
    FrameOutside {
        /// The frame.
        frame: f64,
        /// The last frame.
        last: usize,
    },
    /// An event at a time that is not recorded.
    #[error("the event at {time_s} s lies outside the record, {first_s} to {last_s} s")]
    TimeOutside {
        /// The time, in s.
        time_s: f64,
        /// The first time stamp, in s.
        first_s: f64,
        /// The last one, in s.
        last_s: f64,
    },
    /// Modes in the frame of a region.
    #[error("modes with the frame of reference on a region are not cross-validated by cycle")]
    OnARegion,
    /// Too few cycles to leave one out.
    #[error("{cycles} cycles count; three can be left out in turn")]
    FewToLeaveOut {
        /// How many count.
        cycles: usize,
    },
    /// No cycle without gaps.
    #[error("no cycle has all its values")]
    NoneWhole,
    /// No cycle of a path without gaps.
    #[error("`{path}` has no cycle without a gap")]
    PathWithGaps {
        /// The path.
        path: String,
    },
    /// No frame in a cycle that counts.
    #[error("no frame lies in a cycle that counts")]
    NoFrames,
    /// A person without cycles in one of two conditions.
    #[error("`{participant}` has none in one of the conditions")]
    OneCondition {
        /// The person.
        participant: String,
    },
    /// A reference without movement.
    #[error("the reference of `{participant}` does not move")]
    ReferenceStill {
        /// The person.
        participant: String,
    },
}
