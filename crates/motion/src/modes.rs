//! Alignment, mean and modes of a row of frames: exact where there are few, by subspace iteration where there are many.

use formkin_align::{AlignParams, Alignment, Weighting};
use formkin_geometry::areas::vertex_areas;
use formkin_geometry::{Point, ShapeSource, Topology};

use crate::fit::rounding_mm2;
use crate::subspace::leading_components;
use crate::{ModeWeighting, MotionError, MotionParams, Route};

/// Alignment, mean and modes.
pub(crate) struct Decomposition {
    pub alignment: Alignment,
    pub weights: Vec<f64>,
    pub mean: Vec<Point>,
    pub modes: Vec<Vec<Point>>,
    pub variances_mm2: Vec<f64>,
    pub total_variance_mm2: f64,
    pub coefficients: Vec<Vec<f64>>,
    pub route: Route,
}

/// Aligns the frames and takes their modes.
pub(crate) fn decompose(
    params: &MotionParams,
    source: &dyn ShapeSource,
    topology: &Topology,
    reference: Option<&[Point]>,
) -> Result<Decomposition, MotionError> {
    let weighting = match (&params.region, params.weighting) {
        (Some(vertices), _) => Weighting::Region { vertices: vertices.clone() },
        (None, ModeWeighting::Area) => Weighting::Area,
        (None, ModeWeighting::Plain) => Weighting::Plain,
    };
    let align = AlignParams { removes: params.removes, weighting, ..AlignParams::default() };
    let alignment = align.fit(source, topology, reference, &|_, _| {})?;
    let mean = alignment.mean.clone();
    let weights = match (&params.region, params.weighting) {
        (None, _) => alignment.weights.clone(),
        (Some(_), ModeWeighting::Plain) => vec![1.0 / mean.len() as f64; mean.len()],
        (Some(_), ModeWeighting::Area) => {
            let areas = vertex_areas(topology, &mean);
            let total: f64 = areas.iter().sum();
            areas.iter().map(|a| a / total).collect()
        }
    };
    let frames = alignment.aligned(source);
    let found = leading_components(&frames, &mean, &weights, params.modes, params.seed, &|_, _| {})?;
    let rounding = rounding_mm2(&mean, &weights);
    let kept = found.variances.iter().take_while(|&&v| v > rounding).count();
    Ok(Decomposition {
        weights,
        mean,
        modes: found.modes.into_iter().take(kept).collect(),
        variances_mm2: found.variances.into_iter().take(kept).collect(),
        total_variance_mm2: found.total,
        coefficients: found
            .coefficients
            .into_iter()
            .map(|mut r| {
                r.truncate(kept);
                r
            })
            .collect(),
        route: Route::Subspace { passes: found.passes, relative_change: found.relative_change },
        alignment,
    })
}
