//! What a report shows of movements taken together, and of trajectories of points.

use formkin_geometry::Point;
use formkin_motion::changes::{Allowance, DimensionChange};
use formkin_motion::cycles::pooled::DimensionComponents;
use formkin_motion::points::PointTracks;
use formkin_motion::shared::SharedMotion;
use formkin_motion::soft::compare::Comparison;
use formkin_motion::{Curve, Timing};

use crate::MovementDeep;

/// All movements together. Parts that are absent are left out.
#[derive(Debug, Clone, Default)]
pub struct MovementsTogether<'a> {
    /// Dimensions (or signals of points), the largest range first.
    pub changes: &'a [DimensionChange],
    /// What a garment must allow for.
    pub allowances: &'a [Allowance],
    /// Functional components of the curves over the cycle.
    pub components: &'a [DimensionComponents],
    /// Conditions compared.
    pub comparisons: &'a [Comparison],
    /// How much less every vertex moves vertically in the body frame with the garment, in mm; empty where there is no map.
    pub reduction_mm: &'a [f64],
    /// How many people that map is of.
    pub map_people: usize,
    /// The pose that the map is drawn on, in mm.
    pub pose: &'a [Point],
    /// One motion space over all captures.
    pub shared: Option<&'a SharedMotion>,
}

/// Trajectories of points.
#[derive(Debug, Clone, Default)]
pub struct PointsPart<'a> {
    /// One a file.
    pub captures: Vec<PointsMovement<'a>>,
    /// What they say together.
    pub together: MovementsTogether<'a>,
}

/// One file of trajectories.
#[derive(Debug, Clone)]
pub struct PointsMovement<'a> {
    /// Its name.
    pub name: String,
    /// The person, as a pseudonym.
    pub participant: String,
    /// Its clock.
    pub timing: &'a Timing,
    /// Which axis of the file pointed up, and how that is known.
    pub up: String,
    /// Share of places that were not seen.
    pub missing_share: f64,
    /// The points in the laboratory, in mm, z up.
    pub tracks: &'a PointTracks,
    /// Signals through time.
    pub curves: &'a [Curve],
    /// Cycles, curves over them, displacement in the body frame.
    pub deep: MovementDeep<'a>,
}
