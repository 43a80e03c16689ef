//! One item against what is usual.

use formkin_geometry::spread::{principal, spread};
use formkin_geometry::vector::{cross, distance, dot, sub};
use formkin_geometry::{Point, mesh};
use sha2::{Digest, Sha256};

use super::fit::{Fit, fit};
use super::params::CheckParams;
use super::reference::{Reference, local};

/// A triangle is turned over where its normal opposes its surroundings' while it usually agrees with them: cosines.
const OPPOSED: f32 = -0.2;
const AGREES: f32 = 0.5;
/// A triangle has collapsed below this share of its usual area.
const COLLAPSED: f32 = 1e-3;
/// A vertex is a spike where its distance from the mean of its neighbours exceeds so many times the usual one and so many edge
/// lengths in sum.
const SPIKE_ROUGHNESS: f32 = 6.0;
const SPIKE_EDGES: f32 = 1.0;
/// The lowest part of the vertices that stands for the floor: one damaged vertex does not move it.
const FLOOR_SHARE: f64 = 0.002;

/// What one item looks like.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Look {
    /// The first vertex that is not finite; everything else is meaningless then.
    pub(crate) not_finite: Option<usize>,
    /// Extent along z, in mm.
    pub(crate) height_mm: f64,
    /// z of the lowest vertices, in mm.
    pub(crate) floor_mm: f64,
    /// Angle of the principal axis (weighted by area) against z, in degrees.
    pub(crate) principal_deg: f64,
    /// The item on the template.
    pub(crate) fit: Fit,
    pub(crate) area_mm2: f64,
    /// Of closed surfaces.
    pub(crate) volume_mm3: Option<f64>,
    /// Correlation of the bends of the surface with the usual ones, in any pose: -1 for a mirror image, whose hollows are bumps
    /// seen from the side that its triangles call outside.
    pub(crate) bend: f64,
    /// 99th percentile of the ratio of an edge to its usual length, or 1 where it is within the limit.
    pub(crate) edge_ratio: f64,
    pub(crate) flipped: usize,
    pub(crate) collapsed: usize,
    /// How many spikes, the worst vertex, and its distance from its neighbours in mm.
    pub(crate) spikes: Option<(usize, usize, f64)>,
    /// Root mean square distance from the frame before, in mm.
    pub(crate) moved_mm: Option<f64>,
    /// SHA-256 of the stored positions.
    pub(crate) hash: [u8; 32],
    /// Distances of fixed pairs of vertices, in mm.
    pub(crate) signature: Vec<f32>,
}

/// Looks at an item, and at the frame before it where there is one.
pub(crate) fn at(
    shape: &[Point],
    before: Option<&[Point]>,
    reference: &Reference,
    params: &CheckParams,
) -> Look {
    let mut hasher = Sha256::new();
    let mut bytes = Vec::with_capacity(12 * shape.len());
    for c in shape.as_flattened() {
        bytes.extend_from_slice(&(*c as f32).to_le_bytes());
    }
    hasher.update(&bytes);
    let mut look = Look {
        not_finite: shape.iter().position(|p| p.iter().any(|c| !c.is_finite())),
        height_mm: 0.0,
        floor_mm: 0.0,
        principal_deg: 0.0,
        fit: Fit { tilt_deg: 0.0, rms_mm: 0.0, reflected_rms_mm: f64::INFINITY },
        area_mm2: 0.0,
        volume_mm3: None,
        bend: 1.0,
        edge_ratio: 1.0,
        flipped: 0,
        collapsed: 0,
        spikes: None,
        moved_mm: None,
        hash: hasher.finalize().into(),
        signature: Vec::new(),
    };
    if look.not_finite.is_some() {
        return look;
    }
    if let Some((low, high)) = mesh::bounds(shape) {
        look.height_mm = high[2] - low[2];
    }
    let mut heights: Vec<f64> = shape.iter().map(|p| p[2]).collect();
    let rank = (FLOOR_SHARE * heights.len() as f64) as usize;
    look.floor_mm = *heights.select_nth_unstable_by(rank, f64::total_cmp).1;
    look.principal_deg = tilt_of_principal_axis(shape, &reference.weights);
    look.fit = fit(shape, &reference.shape, &reference.weights);
    look.moved_mm = before.map(|b| rms(shape, b));
    look.signature = reference.pairs.iter().map(|&[a, b]| distance(shape[a], shape[b]) as f32).collect();

    let found = local(shape, &reference.edges, &reference.triangles, &reference.neighbours);
    look.area_mm2 = found.area;
    look.volume_mm3 = reference.watertight.then(|| volume(shape, &reference.triangles));
    // an overall size of its own is no damage
    let total: f64 = found.lengths.iter().map(|l| f64::from(*l)).sum();
    let size = if total > 0.0 { (total / reference.total_length) as f32 } else { 1.0 };
    look.bend = correlation(&found.bend, &reference.bend);
    look.edge_ratio = edge_ratio(&found.lengths, &reference.lengths, size, params.edge_ratio);
    for t in 0..reference.triangles.len() {
        let usual = reference.triangle_areas[t] * size * size;
        look.collapsed += usize::from(found.triangle_areas[t] < COLLAPSED * usual);
        look.flipped += usize::from(found.agreement[t] < OPPOSED && reference.agreement[t] > AGREES);
    }
    for (v, &rough) in found.roughness.iter().enumerate() {
        let limit =
            size * (SPIKE_ROUGHNESS * reference.roughness[v] + SPIKE_EDGES * reference.local_length[v]);
        if rough > limit && limit > 0.0 {
            let (count, vertex, worst) = look.spikes.unwrap_or((0, v, 0.0));
            let rough = f64::from(rough);
            look.spikes =
                Some(if rough > worst { (count + 1, v, rough) } else { (count + 1, vertex, worst) });
        }
    }
    look
}

fn rms(a: &[Point], b: &[Point]) -> f64 {
    let sum: f64 = a
        .iter()
        .zip(b)
        .map(|(p, q)| {
            let d = sub(*p, *q);
            dot(d, d)
        })
        .sum();
    (sum / a.len() as f64).sqrt()
}

/// Without subtracting means: the sign of a bend has a meaning.
fn correlation(a: &[f32], b: &[f32]) -> f64 {
    let sum = |x: &[f32], y: &[f32]| x.iter().zip(y).map(|(x, y)| f64::from(*x) * f64::from(*y)).sum::<f64>();
    let scale = (sum(a, a) * sum(b, b)).sqrt();
    if scale > 0.0 { sum(a, b) / scale } else { 1.0 }
}

fn volume(shape: &[Point], triangles: &[[u32; 3]]) -> f64 {
    let o = shape.first().copied().unwrap_or_default();
    triangles
        .iter()
        .map(|t| {
            let [a, b, c] = t.map(|v| sub(shape[v as usize], o));
            dot(a, cross(b, c)) / 6.0
        })
        .sum()
}

/// The 99th percentile of max(r, 1/r) of the edges, where it is above the limit; 1 otherwise, which is quicker to tell.
fn edge_ratio(lengths: &[f32], usual: &[f32], size: f32, limit: f64) -> f64 {
    let ratio = |(l, u): (&f32, &f32)| {
        let r = l / (u * size);
        if *u > 0.0 { r.max(1.0 / r) } else { 1.0 }
    };
    let beyond = lengths.iter().zip(usual).map(ratio).filter(|r| f64::from(*r) > limit).count();
    if 100 * beyond <= lengths.len() {
        return 1.0;
    }
    let mut all: Vec<f32> = lengths.iter().zip(usual).map(ratio).collect();
    let rank = (all.len() * 99 / 100).min(all.len() - 1);
    f64::from(*all.select_nth_unstable_by(rank, f32::total_cmp).1)
}

/// The angle of the principal axis against z, in degrees, vertices weighted with the template's areas.
fn tilt_of_principal_axis(shape: &[Point], weights: &[f64]) -> f64 {
    let centre = formkin_geometry::areas::centroid(shape, weights);
    let Some((_, [axis, ..])) = principal(&spread(shape, weights, centre)) else { return 0.0 };
    axis[2].abs().clamp(0.0, 1.0).acos().to_degrees()
}
