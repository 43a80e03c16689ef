//! What one size more or fewer would do, how sizes overlap, what lies between them, and how they would have to shift.

use formkin_stats::quantile::median;

use crate::axes::{Axis, Misfit, Place, nearest};
use crate::methods::Reach;
use crate::{GapInterval, Gaps};

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

/// Median signed distance of the people from the middles of their nearest sizes' ranges, axis by axis.
pub(crate) fn shift(points: &[&[f64]], weights: &[f64], places: &[Place]) -> Vec<f64> {
    let nearest: Vec<&Place> = points.iter().map(|p| &places[nearest(p, places).0]).collect();
    let axes = places.first().map_or(0, |p| p.centre.len());
    (0..axes)
        .map(|j| {
            let middle = |p: &Place| p.centre[j] + (p.above[j] - p.below[j]) / 2.0;
            let away: Vec<f64> = points.iter().zip(&nearest).map(|(x, p)| x[j] - middle(p)).collect();
            median(&away, Some(weights)).unwrap_or(0.0)
        })
        .collect()
}

/// Where people without a size are.
pub(crate) fn gaps(
    points: &[&[f64]],
    weights: &[f64],
    covered: &[f64],
    places: &[Place],
    axes: &[Axis],
) -> Gaps {
    let total: f64 = weights.iter().sum();
    if places.is_empty() || total <= 0.0 {
        return Gaps::default();
    }
    let range = |p: &Place, j: usize| (p.centre[j] - p.below[j], p.centre[j] + p.above[j]);
    let ends: Vec<(f64, f64)> = (0..axes.len())
        .map(|j| {
            places
                .iter()
                .map(|p| range(p, j))
                .fold((f64::INFINITY, f64::NEG_INFINITY), |e, r| (e.0.min(r.0), e.1.max(r.1)))
        })
        .collect();
    let (mut between, mut beyond) = (0.0, 0.0);
    for ((point, weight), covered) in points.iter().zip(weights).zip(covered) {
        if *covered == 0.0 {
            let inside = point.iter().zip(&ends).all(|(x, e)| *x >= e.0 && *x <= e.1);
            *(if inside { &mut between } else { &mut beyond }) += weight;
        }
    }
    let mut intervals = Vec::new();
    for (j, axis) in axes.iter().enumerate() {
        let mut ranges: Vec<(f64, f64)> = places.iter().map(|p| range(p, j)).collect();
        ranges.sort_by(|a, b| a.0.total_cmp(&b.0));
        let mut reached = f64::NEG_INFINITY;
        for (low, high) in ranges {
            // rounding of limits is no gap
            if low > reached + 1e-6 * (high - low) && reached.is_finite() {
                let inside = points.iter().zip(weights).filter(|(p, _)| p[j] > reached && p[j] < low);
                intervals.push(GapInterval {
                    dimension: axis.info.dimension.clone(),
                    unit: axis.info.unit.clone(),
                    from: reached,
                    to: low,
                    share: (inside.map(|(_, w)| w).sum::<f64>() / total).abs(),
                });
            }
            reached = reached.max(high);
        }
    }
    Gaps { between: between / total, beyond: beyond / total, intervals }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn people_between_sizes_are_told_from_those_beyond() {
        let place = |c: f64| Place { centre: vec![c], below: vec![2.0], above: vec![4.0], half_open: false };
        let places = [place(10.0), place(20.0)];
        let xs = [[9.0], [15.0], [16.0], [21.0], [30.0]];
        let points: Vec<&[f64]> = xs.iter().map(|x| &x[..]).collect();
        let axes = crate::axes::axes_of(&[(2.0, 4.0)]);
        let covered = crate::coverage::covered(&points, &places);
        let found = gaps(&points, &[1.0; 5], &covered, &places, &axes);
        assert!((found.between - 0.4).abs() < 1e-12 && (found.beyond - 0.2).abs() < 1e-12, "{found:?}");
        assert_eq!(found.intervals.len(), 1);
        assert!((found.intervals[0].from, found.intervals[0].to) == (14.0, 18.0));
        // middles are 11 and 21: -2, 4, 5, 0, 9
        assert_eq!(shift(&points, &[1.0; 5], &places), [4.0]);
    }
}
