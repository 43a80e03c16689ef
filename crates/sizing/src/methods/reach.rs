//! Whom every candidate covers, and the greatest coverage any sizes could reach.

use std::collections::BTreeSet;

use formkin_stats::covering::Coverage;

use crate::axes::{Axis, Misfit, Place, lexical};

/// Most candidates.
const MOST: usize = 1500;
/// Most candidates of the ceiling; a coarser grid is taken where there would be more.
const MOST_CELLS: usize = 2500;

/// Candidate sizes and the people in their reach.
pub(crate) struct Reach {
    pub(crate) places: Vec<Place>,
    pub(crate) coverage: Coverage,
    /// The candidate at every person, where there is one.
    pub(super) owner: Vec<Option<usize>>,
}

impl Reach {
    /// Candidates at people; of more than 1,500 that differ every second, third, ...
    pub(crate) fn of_people(points: &[&[f64]], axes: &[Axis]) -> Self {
        let own = candidates(points, axes);
        let mut values = own.clone();
        values.sort_by(|a, b| lexical(a, b));
        values.dedup();
        let stride = values.len().div_ceil(MOST).max(1);
        let places: Vec<Place> = values.into_iter().step_by(stride).map(|v| Place::of(v, axes)).collect();
        let owner = own.iter().map(|v| places.binary_search_by(|p| lexical(&p.centre, v)).ok()).collect();
        Self { owner, ..Self::of(places, points) }
    }

    pub(crate) fn of(places: Vec<Place>, points: &[&[f64]]) -> Self {
        // People in the order of the first axis, so that few are looked at.
        let mut order: Vec<usize> = (0..points.len()).collect();
        order.sort_by(|&a, &b| points[a][0].total_cmp(&points[b][0]).then(a.cmp(&b)));
        let sets = places
            .iter()
            .map(|place| {
                let room = 1e-6 * (place.below[0] + place.above[0]);
                let low = place.centre[0] - place.below[0] - room;
                let high = place.centre[0] + place.above[0] + room;
                let first = order.partition_point(|&i| points[i][0] < low);
                let mut set: Vec<u32> = order[first..]
                    .iter()
                    .take_while(|&&i| points[i][0] <= high)
                    .filter(|&&i| Misfit::of(points[i], place).covers())
                    .map(|&i| i as u32)
                    .collect();
                set.sort_unstable();
                set
            })
            .collect();
        Self { places, coverage: Coverage::new(sets, points.len()), owner: Vec::new() }
    }

    /// Candidates on a grid: the steps of the axes, or a grid finer than the tolerances; coarser where there would be more than 1,500. Three axes at most.
    pub(crate) fn on_grid(points: &[&[f64]], axes: &[Axis]) -> Self {
        let mut parts: i32 = 40;
        loop {
            let most = if parts <= 2 { usize::MAX } else { MOST };
            if let Some(places) = cells_of(points, axes, &cells(axes, parts), false, most) {
                return Self::of(places, points);
            }
            parts -= (parts / 5).max(1);
        }
    }

    /// Boxes of which one contains every box that a size could cover, wherever its value lies: they lie on a grid finer than the tolerance and are larger than a size by a cell. With
    /// steps on every axis they are the sizes at the steps themselves. None beyond three axes.
    pub(crate) fn ceiling(points: &[&[f64]], axes: &[Axis]) -> Option<Self> {
        if axes.len() > 3 {
            return None;
        }
        let mut parts: i32 = [0, 24, 12, 5][axes.len()];
        loop {
            let most = if parts <= 2 { 4 * MOST_CELLS } else { MOST_CELLS };
            match cells_of(points, axes, &cells(axes, parts), true, most) {
                Some(places) => return Some(Self::of(places, points)),
                None if parts <= 2 => return None,
                None => parts -= (parts / 4).max(1),
            }
        }
    }
}

/// Every person as a size: the values they would give it, rounded.
pub(super) fn candidates(points: &[&[f64]], axes: &[Axis]) -> Vec<Vec<f64>> {
    points.iter().map(|p| axes.iter().zip(p.iter()).map(|(a, v)| a.round(*v)).collect()).collect()
}

/// Sides of the cells of a grid of so many parts a tolerance.
fn cells(axes: &[Axis], parts: i32) -> Vec<f64> {
    axes.iter()
        .map(|a| {
            let fine = (a.info.below + a.info.above) / f64::from(parts);
            // A grid of steps is exact; a coarser cell is a whole number of steps.
            a.info.step.map_or(fine, |s| (fine / s).floor().max(1.0) * s)
        })
        .collect()
}

/// Every box, enlarged or not, that holds somebody; None where there are more than `most`, found as soon as there are.
fn cells_of(
    points: &[&[f64]],
    axes: &[Axis],
    cells: &[f64],
    enlarged: bool,
    most: usize,
) -> Option<Vec<Place>> {
    let mut found: BTreeSet<Vec<i64>> = BTreeSet::new();
    for p in points {
        // Values c = g * cell for which the box from c - below to c + above + (cell, or 0 at exact steps) holds the person.
        let ranges: Vec<(i64, i64)> = (0..axes.len())
            .map(|j| {
                let info = &axes[j].info;
                let extra = if enlarged { extra(&axes[j], cells[j]) } else { 0.0 };
                let low = ((p[j] - info.above - extra) / cells[j] - 1e-9).ceil() as i64;
                let high = ((p[j] + info.below) / cells[j] + 1e-9).floor() as i64;
                (low, high)
            })
            .collect();
        let mut at: Vec<i64> = ranges.iter().map(|r| r.0).collect();
        'all: loop {
            if !found.contains(&at) {
                if found.len() == most {
                    return None;
                }
                found.insert(at.clone());
            }
            for j in 0..at.len() {
                at[j] += 1;
                if at[j] <= ranges[j].1 {
                    continue 'all;
                }
                at[j] = ranges[j].0;
            }
            break;
        }
    }
    let places = found.into_iter().map(|at| {
        let mut place = Place::of(at.iter().zip(cells).map(|(g, cell)| *g as f64 * cell).collect(), axes);
        if enlarged {
            for j in 0..axes.len() {
                place.above[j] += extra(&axes[j], cells[j]);
            }
        }
        place
    });
    Some(places.collect())
}

/// How much a box is enlarged: values between two grid values of a cell, where sizes may lie there.
fn extra(axis: &Axis, cell: f64) -> f64 {
    axis.info.step.map_or(cell, |step| (cell - step).max(0.0))
}
