//! Alignment, mean and modes of a row of frames: exact where there are few, by subspace iteration where there are many.

use formkin_align::{AlignParams, Alignment, Weighting};
use formkin_geometry::areas::{centroid_size, vertex_areas};
use formkin_geometry::vector::norm;
use formkin_geometry::{Point, ShapeSource, Topology};
use formkin_shape::gram::{combine, fix_sign, gram_matrix};
use formkin_stats::symmetric::symmetric_eigen;
use ndarray::{Array2, s};

use crate::subspace::{Components, leading_components};
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

/// How finely [`decompose`] reports: it is done when its progress is this.
pub(crate) const PARTS: usize = 1000;

/// Aligns the frames and takes their modes. `progress` hears how many of [`PARTS`] are done.
pub(crate) fn decompose(
    params: &MotionParams,
    source: &dyn ShapeSource,
    topology: &Topology,
    reference: Option<&[Point]>,
    progress: &(dyn Fn(usize) + Sync),
) -> Result<Decomposition, MotionError> {
    // each part of the work from one mark to another
    let part = |from: usize, to: usize, done: usize, of: usize| {
        progress(from + (to - from) * done.min(of) / of.max(1));
    };
    let weighting = match (&params.region, params.weighting) {
        (Some(vertices), _) => Weighting::Region { vertices: vertices.clone() },
        (None, ModeWeighting::Area) => Weighting::Area,
        (None, ModeWeighting::Plain) => Weighting::Plain,
    };
    let align = AlignParams { removes: params.removes, weighting, ..AlignParams::default() };
    let alignment = align.fit(source, topology, reference, &|_, _| {})?;
    part(0, PARTS, 2, 5);
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
    let found = if source.shapes() <= params.gram_frames {
        exact(&frames, &mean, &weights, params.modes, &|d, of| part(400, 900, d, of))?
    } else {
        leading_components(&frames, &mean, &weights, params.modes, params.seed, &|d, of| {
            part(400, 900, d, of)
        })?
    };
    // what is left is known to rounding of the stored positions only
    let rounding = rounding_mm2(&mean, &weights);
    let nonzero = found.variances.iter().take_while(|&&v| v > rounding).count();
    let kept = nonzero.min(params.modes);
    let scores = found.scores.slice_move(s![.., ..kept]);
    let divisor = (source.shapes() - 1) as f64;
    let columns =
        Array2::from_shape_fn(scores.dim(), |(i, k)| scores[[i, k]] / (divisor * found.variances[k]));
    let mut modes = combine(&frames, &mean, &columns, &|d, of| part(900, PARTS, d, of))?;
    let signs: Vec<f64> = modes.iter_mut().map(|m| fix_sign(m)).collect();
    let coefficients =
        scores.rows().into_iter().map(|row| row.iter().zip(&signs).map(|(c, s)| c * s).collect()).collect();
    let mut variances_mm2 = found.variances;
    variances_mm2.truncate(nonzero);
    Ok(Decomposition {
        weights,
        mean,
        modes,
        variances_mm2,
        total_variance_mm2: found.total,
        coefficients,
        route: found.route,
        alignment,
    })
}

/// All components, from the matrix of scalar products of the frames.
fn exact(
    frames: &dyn ShapeSource,
    mean: &[Point],
    weights: &[f64],
    modes: usize,
    progress: &(dyn Fn(usize, usize) + Sync),
) -> Result<Components, MotionError> {
    let gram = gram_matrix(frames, mean, weights, progress)?;
    let n = gram.nrows();
    let divisor = (n - 1) as f64;
    let total = gram.diag().sum() / divisor;
    let eigen = symmetric_eigen(&gram)?;
    // centring takes one dimension away
    let values = &eigen.values[..n - 1];
    let kept = modes.min(values.iter().take_while(|&&g| g > 0.0).count());
    Ok(Components {
        variances: values.iter().map(|g| g / divisor).collect(),
        total,
        scores: Array2::from_shape_fn((n, kept), |(i, k)| eigen.vectors[[i, k]] * values[k].sqrt()),
        route: Route::Gram,
    })
}

/// A movement whose shape changes less than this part of the body's size is rounding of the stored positions.
const STILL: f64 = 1e-6;

/// The variance below which a mode of a body about this mean is rounding, in mm2.
fn rounding_mm2(mean: &[Point], weights: &[f64]) -> f64 {
    let size = centroid_size(mean, weights);
    // positions far from the origin are stored with the digits of their distance
    let reach = mean.iter().map(|&p| norm(p)).fold(0.0, f64::max);
    let least = STILL * size.max(reach);
    least * least
}
