//! The map over the vertices, and the mean body coloured by it.

use formkin_cohort::gltf::{MorphAnimation, MorphScene, morph_glb};
use formkin_geometry::Point;
use formkin_shape::Space;
use formkin_shape::compare::Place;
use formkin_table::NumberFormat::{Fixed, Scientific};
use formkin_table::Sheet;
use serde_json::json;

use crate::bodies::{on_the_floor, topology};
use crate::figures::colors;
use crate::{Delivery, TaskError};

/// The map and the body.
pub(crate) fn delivery<'a>(
    space: &Space,
    place: &Place,
    glb: impl Fn() -> Result<Vec<u8>, TaskError> + Send + Sync + 'a,
) -> Delivery<'a> {
    Delivery::new().sheet("map.csv", "Effect, p and q at every vertex", map(space, place)).made(
        "effect.glb",
        "The mean coloured by the effect, with morph targets",
        glb,
    )
}

fn map(space: &Space, place: &Place) -> Sheet {
    let mm = Some("mm");
    let axis = |k: usize| space.mean.iter().map(move |p| p[k]);
    Sheet::new()
        .whole("vertex", None, "Number of the vertex, from 0", 0..space.mean.len())
        .number("x", mm, "Place on the mean", Fixed(2), axis(0))
        .number("y", mm, "Place on the mean", Fixed(2), axis(1))
        .number("z", mm, "Place on the mean", Fixed(2), axis(2))
        .number("effect", mm, "The effect, as the result says it", Fixed(6), place.effect_mm.iter().copied())
        .number("p", None, "F test at the vertex", Scientific(3), place.p.iter().copied())
        .number("q", None, "p corrected for the number of places", Scientific(3), place.q.iter().copied())
}

/// The mean with one morph target a displacement, coloured by the map: glTF binary.
///
/// # Errors
/// Triangles that do not fit the mean.
pub(crate) fn scene(
    space: &Space,
    place: &Place,
    targets: Vec<(String, Vec<Point>)>,
    animation: Option<MorphAnimation>,
) -> Result<Vec<u8>, TaskError> {
    let topology = topology(space)?;
    let base = on_the_floor(space.mean.clone());
    let most = place.effect_mm.iter().fold(0.0f64, |m, e| m.max(e.abs()));
    let scene = MorphScene {
        name: "effect".into(),
        topology: &topology,
        base: &base,
        targets,
        colors: Some(colors(place, most)),
        animation,
        extras: json!({
            "colour": if place.signed {
                "orange outwards, blue inwards, grey no finding"
            } else {
                "the stronger the orange the more groups differ, outwards or inwards; grey no finding"
            },
            "strongest_mm": most,
            "level_of_q": place.level,
        }),
    };
    Ok(morph_glb(&scene)?)
}

/// The way of every vertex from the mean to the body of these coefficients, in mm.
pub(crate) fn moved(space: &Space, coefficients: &[f64]) -> Vec<Point> {
    let moved = space.reconstruct(coefficients);
    moved.iter().zip(&space.mean).map(|(a, b)| std::array::from_fn(|k| a[k] - b[k])).collect()
}
