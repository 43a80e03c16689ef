//! One shape laid on a mean.
//!
//! What "laid on" means follows from what is removed:
//! - *rigid*: centroid on centroid, then the rotation that minimises sum_v w_v |R y_v - m_v|^2 ([`formkin_geometry::kabsch`]).
//! - *standing*: centroids above each other, the lowest vertex at z = 0, then the best turn about z.
//! - *similarity*: as rigid, then the scale with which the shape lies in the tangent space at the mean: s = sum_v w_v |m_v|^2 / sum_v w_v m_v . R y_v, both
//!   about their centroids, so that (x - m) . m = 0. It is the central projection of the sphere of unit-size shapes from its centre; it differs from the
//!   orthogonal one, v = (I - mu mu^T) x, by a factor 1 / cos(rho), 0.5 % at rho = 0.1. (Dryden & Mardia; Rohlf 1999 compares the two.)

use formkin_geometry::Point;
use formkin_geometry::kabsch::{BestRotation, best_heading, best_rotation};
use formkin_geometry::rotation::rotate;
use formkin_geometry::spread::principal;
use formkin_geometry::vector::{add_outer, sub};

use crate::{AlignError, Removes, Transform};

/// Below this a fit does not tell one rotation from another.
pub(crate) const LEAST_DISTINCT: f64 = 1e-9;

/// A shape about its own centre.
pub(crate) struct Placed {
    /// What is subtracted: the weighted centroid; when standing, the floor in z.
    pub(crate) centre: Point,
    /// The weighted centroid size in mm.
    pub(crate) size: f64,
    /// sum_v w_v (x - centroid)(x - centroid)^T
    pub(crate) spread: [[f64; 3]; 3],
}

/// Finds the centre of a shape, and refuses shapes without a pose. `index` names it in errors.
pub(crate) fn place(
    shape: &[Point],
    weights: &[f64],
    removes: Removes,
    index: Option<usize>,
) -> Result<Placed, AlignError> {
    if let Some(vertex) = shape.iter().position(|p| !p.iter().all(|c| c.is_finite())) {
        return Err(AlignError::NotFinite { shape: index, vertex });
    }
    let mut centroid = [0.0; 3];
    for (p, w) in shape.iter().zip(weights) {
        for k in 0..3 {
            centroid[k] += w * p[k];
        }
    }
    let mut spread = [[0.0; 3]; 3];
    let (mut floor, mut far) = (f64::INFINITY, 0.0f64);
    for (p, w) in shape.iter().zip(weights) {
        floor = floor.min(p[2]);
        far = p.iter().fold(far, |far, c| far.max(c.abs()));
        let d = sub(*p, centroid);
        add_outer(&mut spread, *w, d, d);
    }
    let size2 = spread[0][0] + spread[1][1] + spread[2][2];
    let degenerate = |reason| Err(AlignError::Degenerate { shape: index, reason });
    if !size2.is_finite() || size2 <= (1e-13 * far).powi(2) {
        return degenerate("are all in one point (or too far out to be told apart)");
    }
    if removes == Removes::Standing {
        if spread[0][0] + spread[1][1] <= 1e-12 * size2 {
            return degenerate("are all on one vertical line");
        }
    } else if principal_moments(&spread)[1] <= 1e-12 * size2 {
        return degenerate("are all on one line");
    }
    let centre = if removes == Removes::Standing { [centroid[0], centroid[1], floor] } else { centroid };
    Ok(Placed { centre, size: size2.sqrt(), spread })
}

/// The eigenvalues of a spread, largest first.
pub(crate) fn principal_moments(spread: &[[f64; 3]; 3]) -> [f64; 3] {
    principal(spread).map_or([f64::NAN; 3], |(moments, _)| moments)
}

/// The best rotation of those that `removes` allows.
pub(crate) fn best(cross: &[[f64; 3]; 3], removes: Removes) -> BestRotation {
    if removes == Removes::Standing { best_heading(cross) } else { best_rotation(cross) }
}

/// A mean to lay shapes on.
pub(crate) struct Target<'a> {
    mean: &'a [Point],
    weights: &'a [f64],
    removes: Removes,
    centroid: Point,
    size2: f64,
}

impl<'a> Target<'a> {
    pub(crate) fn new(mean: &'a [Point], weights: &'a [f64], removes: Removes) -> Result<Self, AlignError> {
        let placed = place(mean, weights, removes, None)?;
        let mut centroid = placed.centre;
        if removes == Removes::Standing {
            centroid[2] = 0.0; // heights are above the floor, of the shape and of the mean alike
        }
        Ok(Self { mean, weights, removes, centroid, size2: placed.size * placed.size })
    }

    /// The transform that lays a shape on the mean, and where the shape was.
    pub(crate) fn pose(
        &self,
        shape: &[Point],
        index: Option<usize>,
    ) -> Result<(Transform, Placed), AlignError> {
        let placed = place(shape, self.weights, self.removes, index)?;
        let (c, o) = (placed.centre, self.centroid);
        let mut cross = [[0.0; 3]; 3];
        for ((p, m), w) in shape.iter().zip(self.mean).zip(self.weights) {
            add_outer(&mut cross, *w, sub(*p, c), sub(*m, o));
        }
        let found = best(&cross, self.removes);
        if found.distinctness < LEAST_DISTINCT {
            return Err(AlignError::Ambiguous { shape: index });
        }
        let scale = match self.removes {
            Removes::Similarity => tangent_scale(self.size2, found.trace, placed.size, index)?,
            Removes::Rigid | Removes::Standing => 1.0,
        };
        let turned = rotate(&found.rotation, c);
        let translation = std::array::from_fn(|k| o[k] - scale * turned[k]);
        Ok((Transform { rotation: found.rotation, translation, scale }, placed))
    }
}

/// |m|^2 / (m . R y): see the module. Refused beyond rho = 84 degrees (cos rho = 0.1), where shape and mean have nothing in common.
pub(crate) fn tangent_scale(
    mean_size2: f64,
    trace: f64,
    size: f64,
    shape: Option<usize>,
) -> Result<f64, AlignError> {
    if trace < 0.1 * mean_size2.sqrt() * size {
        return Err(AlignError::Ambiguous { shape });
    }
    Ok(mean_size2 / trace)
}

/// The transform that lays `shape` on `mean`: what a fit does with each of its shapes, for a shape that was not in it. `weights` sum to 1.
///
/// # Errors
/// [`AlignError::VertexCount`]; [`AlignError::NotFinite`], [`AlignError::Degenerate`] and [`AlignError::Ambiguous`], with shape 0 for `shape` and none for
/// the mean.
pub fn align_one(
    shape: &[Point],
    mean: &[Point],
    weights: &[f64],
    removes: Removes,
) -> Result<Transform, AlignError> {
    let count = |what, found| {
        if found == mean.len() {
            Ok(())
        } else {
            Err(AlignError::VertexCount { what, expected: mean.len(), found })
        }
    };
    count("the shape", shape.len())?;
    count("the row of weights", weights.len())?;
    Ok(Target::new(mean, weights, removes)?.pose(shape, Some(0))?.0)
}
