//! Paths of points and regions in a body frame.

use formkin_geometry::areas::{vertex_areas, vertex_normals};
use formkin_geometry::vector::{add, norm, scale, unit};
use formkin_geometry::{Point, ShapeSource, Topology};
use rayon::prelude::*;
use serde::{Deserialize, Serialize};

use crate::MotionError;
use crate::body_frame::BodyFrame;

/// Frames read between two sums.
const BLOCK: usize = 32;
/// The mean normal of a region that bends this much has no direction.
const FLAT: f64 = 0.2;

/// A point or region that is followed.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Target {
    /// Its name.
    pub name: String,
    /// Its vertices; one for a point.
    pub vertices: Vec<u32>,
}

/// The path of a target in a body frame.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Path {
    /// The target's name.
    pub name: String,
    /// Number of vertices.
    pub vertices: usize,
    /// The area-weighted mean place of its vertices in the body frame, one a frame, in mm: x lateral, y fore-aft, z vertical.
    pub places_mm: Vec<Point>,
    /// The area-weighted mean normal in the reference pose, in the body frame, outward; `None` where the region has no side.
    pub normal: Option<Point>,
}

/// The paths of targets in a body frame fixed to the same frames; `reference` is the pose whose areas and normals count. Frames are streamed.
///
/// # Errors
/// [`MotionError::RegionVertex`], [`MotionError::RegionTooSmall`] for a target without a vertex, [`MotionError::Count`] where the body frame
/// is of other frames, [`MotionError::Source`].
pub fn paths(
    targets: &[Target],
    topology: &Topology,
    source: &dyn ShapeSource,
    frame: &BodyFrame,
    reference: usize,
) -> Result<Vec<Path>, MotionError> {
    let (n, v) = (source.shapes(), source.vertices());
    if frame.transforms.len() != n {
        return Err(MotionError::Count {
            what: "frames of the body frame",
            expected: n,
            found: frame.transforms.len(),
        });
    }
    if reference >= n {
        return Err(MotionError::NoSuchFrame { frame: reference, last: n.saturating_sub(1) });
    }
    for target in targets {
        if let Some(&vertex) = target.vertices.iter().find(|&&i| i as usize >= v) {
            return Err(MotionError::RegionVertex { vertex, last: v.saturating_sub(1) });
        }
        if target.vertices.is_empty() {
            return Err(MotionError::RegionTooSmall { vertices: 0, needed: 1 });
        }
    }
    let pose = source.read_shape(reference)?;
    let (areas, normals) = (vertex_areas(topology, &pose), vertex_normals(topology, &pose));
    let turn = formkin_align::Transform { translation: [0.0; 3], ..frame.transforms[reference] };
    let mut paths: Vec<(Path, Vec<(usize, f64)>)> = targets
        .iter()
        .map(|target| {
            let total: f64 = target.vertices.iter().map(|&i| areas[i as usize]).sum();
            let count = target.vertices.len() as f64;
            let weight = |i: u32| if total > 0.0 { areas[i as usize] / total } else { 1.0 / count };
            let weights: Vec<(usize, f64)> =
                target.vertices.iter().map(|&i| (i as usize, weight(i))).collect();
            let sum = weights.iter().fold([0.0; 3], |s, &(i, w)| add(s, scale(normals[i], w)));
            let normal = (norm(sum) > FLAT).then(|| turn.apply(sum)).and_then(unit);
            let path = Path {
                name: target.name.clone(),
                vertices: target.vertices.len(),
                places_mm: Vec::with_capacity(n),
                normal,
            };
            (path, weights)
        })
        .collect();
    for first in (0..n).step_by(BLOCK) {
        let rows: Vec<Result<Vec<Point>, MotionError>> = (first..(first + BLOCK).min(n))
            .into_par_iter()
            .map_init(Vec::new, |shape, k| {
                shape.resize(v, [0.0; 3]);
                source.read_block(k, shape)?;
                let places = paths.iter().map(|(_, weights)| {
                    let sum = weights.iter().fold([0.0; 3], |s, &(i, w)| add(s, scale(shape[i], w)));
                    frame.transforms[k].apply(sum)
                });
                Ok(places.collect())
            })
            .collect();
        for row in rows {
            for ((path, _), place) in paths.iter_mut().zip(row?) {
                path.places_mm.push(place);
            }
        }
    }
    Ok(paths.into_iter().map(|p| p.0).collect())
}
