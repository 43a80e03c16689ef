//! Procrustes distances between two shapes.

use formkin_geometry::Point;
use formkin_geometry::rotation::rotate;
use formkin_geometry::vector::add_outer;
use serde::{Deserialize, Serialize};

use crate::pose::{best, place};
use crate::{AlignError, Removes};

/// Distances between two shapes of unit size, both about their weighted centroids, after the best rotation. No unit. (Dryden & Mardia)
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Distances {
    /// The angle rho = arccos(sum of the signed singular values), in radians.
    pub riemannian: f64,
    /// sin(rho): after the best scale as well.
    pub full: f64,
    /// 2 sin(rho / 2): at unit size.
    pub partial: f64,
}

/// How far apart the shapes `a` and `b` are once place, size and rotation are gone; reflection is not. With [`Removes::Standing`] only turns about z are
/// removed, which is also the right choice for plane figures in xy: turning one over in space would mirror it.
///
/// # Errors
/// [`AlignError::VertexCount`]; [`AlignError::NotFinite`] and [`AlignError::Degenerate`], with shape 0 for `a` and 1 for `b`.
pub fn procrustes_distances(
    a: &[Point],
    b: &[Point],
    weights: &[f64],
    removes: Removes,
) -> Result<Distances, AlignError> {
    for (what, found) in [("the second shape", b.len()), ("the row of weights", weights.len())] {
        if found != a.len() {
            return Err(AlignError::VertexCount { what, expected: a.len(), found });
        }
    }
    let unit = |shape: &[Point], index| -> Result<Vec<Point>, AlignError> {
        let placed = place(shape, weights, removes, Some(index))?;
        let centre = formkin_geometry::areas::centroid(shape, weights);
        Ok(shape.iter().map(|p| std::array::from_fn(|k| (p[k] - centre[k]) / placed.size)).collect())
    };
    let (a, b) = (unit(a, 0)?, unit(b, 1)?);
    let mut cross = [[0.0; 3]; 3];
    for ((p, q), w) in a.iter().zip(&b).zip(weights) {
        add_outer(&mut cross, *w, *p, *q);
    }
    let rotation = best(&cross, removes).rotation;
    // from the differences, not as 2 - 2 cos(rho): small distances keep their digits
    let mut square = 0.0;
    for ((p, q), w) in a.iter().zip(&b).zip(weights) {
        let p = rotate(&rotation, *p);
        square += w * (0..3).map(|k| (p[k] - q[k]).powi(2)).sum::<f64>();
    }
    let partial = square.sqrt();
    let riemannian = 2.0 * (partial / 2.0).min(1.0).asin();
    Ok(Distances { riemannian, full: riemannian.sin(), partial })
}
