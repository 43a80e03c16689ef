//! What one size more or fewer would do, and how sizes overlap.

use crate::axes::{Axis, Misfit, Place};
use crate::methods::Reach;

/// Of one size: weight of the people whom it alone covers, and of its wearers whom another covers too.
pub(crate) struct Shared {
    pub(crate) only: f64,
    pub(crate) both: f64,
}

pub(crate) fn shared(
    points: &[&[f64]],
    weights: &[f64],
    places: &[Place],
    worn: &[Option<usize>],
) -> Vec<Shared> {
    let mut result: Vec<Shared> = places.iter().map(|_| Shared { only: 0.0, both: 0.0 }).collect();
    for (i, point) in points.iter().enumerate() {
        let covering: Vec<usize> =
            (0..places.len()).filter(|&s| Misfit::of(point, &places[s]).covers()).collect();
        if let [only] = covering[..] {
            result[only].only += weights[i];
        }
        if let (Some(size), 2..) = (worn[i], covering.len()) {
            result[size].both += weights[i];
        }
    }
    result
}

/// The candidate at a person, with the plan's tolerances, that covers the most weight of people without a size, and that weight; None where everyone has one.
pub(crate) fn one_more(
    points: &[&[f64]],
    weights: &[f64],
    covered: &[f64],
    axes: &[Axis],
) -> Option<(Place, f64)> {
    let without: Vec<&[f64]> =
        points.iter().zip(covered).filter(|(_, c)| **c == 0.0).map(|(p, _)| *p).collect();
    let own: Vec<f64> = weights.iter().zip(covered).filter(|(_, c)| **c == 0.0).map(|(w, _)| *w).collect();
    if without.is_empty() {
        return None;
    }
    let reach = Reach::of_people(&without, axes);
    let best = reach.coverage.choose(&own, 1, None, None, 0).ok()?;
    let chosen = *best.chosen.first()?;
    Some((reach.places[chosen].clone(), best.covered))
}
