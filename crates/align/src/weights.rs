//! Vertex weights that sum to 1.

use formkin_geometry::areas::vertex_areas;
use formkin_geometry::{Point, Topology};

use crate::fault::WeightsFault;
use crate::{AlignError, Weighting};

/// The same weight for every vertex.
#[must_use]
pub fn plain_weights(vertices: usize) -> Vec<f64> {
    vec![1.0 / vertices as f64; vertices]
}

/// The weights of `weighting` on the surface `mean`: w_v is one third of the areas of the triangles about v, over the sum of those that count.
///
/// # Errors
/// [`AlignError::Weights`] where nothing is left to weigh or a region names a vertex that is not there.
pub(crate) fn vertex_weights(
    weighting: &Weighting,
    topology: &Topology,
    mean: &[Point],
) -> Result<Vec<f64>, AlignError> {
    let mut areas = match weighting {
        Weighting::Plain => return Ok(plain_weights(topology.vertices())),
        Weighting::Area | Weighting::Region { .. } => vertex_areas(topology, mean),
    };
    if let Weighting::Region { vertices } = weighting {
        let mut inside = vec![false; areas.len()];
        for &v in vertices {
            match inside.get_mut(v as usize) {
                Some(flag) => *flag = true,
                None => {
                    let vertices = areas.len();
                    return Err(WeightsFault::NoVertex { vertex: v, vertices }.into());
                }
            }
        }
        for (area, inside) in areas.iter_mut().zip(inside) {
            if !inside {
                *area = 0.0;
            }
        }
    }
    let total: f64 = areas.iter().sum();
    if !(total > 0.0 && total.is_finite()) {
        return Err(match weighting {
            Weighting::Region { .. } => WeightsFault::RegionWithoutArea,
            _ => WeightsFault::MeanWithoutArea,
        }
        .into());
    }
    for area in &mut areas {
        *area /= total;
    }
    Ok(areas)
}
