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
    let (mut modes, mut variances_mm2) = (found.modes, found.variances);
    modes.truncate(kept);
    variances_mm2.truncate(kept);
    let signs: Vec<f64> = modes.iter_mut().map(|m| fix_sign(m)).collect();
    let coefficients = found
        .coefficients
        .into_iter()
        .map(|row| row.into_iter().zip(&signs).map(|(c, s)| c * s).collect())
        .collect();
    Ok(Decomposition {
        weights,
        mean,
        modes,
        variances_mm2,
        total_variance_mm2: found.total,
        coefficients,
        route: Route::Subspace { passes: found.passes, relative_change: found.relative_change },
        alignment,
    })
}

/// Turns a mode so that its largest entry is positive, and says by what it was multiplied. Of entries equal to a billionth the
/// first counts, so that rounding does not decide.
fn fix_sign(mode: &mut [Point]) -> f64 {
    let larger = |l: f64, &x: &f64| if x.abs() > l.abs() * (1.0 + 1e-9) { x } else { l };
    if mode.iter().flatten().fold(0.0, larger) >= 0.0 {
        return 1.0;
    }
    for x in mode.iter_mut().flatten() {
        *x = -*x;
    }
    -1.0
}
