//! A capture with everything it brings along.

use formkin_cohort::{Capture, Cohort, CohortSubset};
use formkin_geometry::Template;
use formkin_motion::{Curve, Motion, Reference};

/// Everything that a capture brings along.
pub(super) struct Taken<'a> {
    pub(super) cohort: &'a Cohort,
    pub(super) capture: &'a Capture,
    pub(super) frames: &'a CohortSubset,
    pub(super) times_s: &'a [f64],
    /// Events that cycles run between, in s; empty where a signal is looked for.
    pub(super) events_s: &'a [f64],
    pub(super) motion: &'a Motion,
    pub(super) curves: &'a [Curve],
    pub(super) reference: Reference,
}

impl Taken<'_> {
    pub(super) fn template(&self) -> &Template {
        self.cohort.template()
    }

    pub(super) fn reference_frame(&self) -> usize {
        match self.reference {
            Reference::Frame(f) => f,
            Reference::Mean => 0,
        }
    }
}
