//! Interval grids: the fullest cells.

use std::collections::BTreeMap;

use super::problem::Problem;
use crate::axes::Axis;
use crate::axes::Place;

impl Problem<'_> {
    /// The `k` cells with the most weight; of equal ones the smaller. A person at a bound belongs to the upper interval. Without intervals in the plan an axis has
    /// cells as wide as its tolerance, one of them about the weighted mean.
    pub(super) fn grid(&self, weights: &[f64], k: usize) -> Vec<Place> {
        let total: f64 = weights.iter().sum();
        let grid: Vec<Intervals<'_>> = (self.axes.iter().enumerate())
            .map(|(j, axis)| match &axis.bounds {
                Some(bounds) => Intervals::Bounds(bounds),
                None => self.even(axis, j, weights, total),
            })
            .collect();
        let mut cells: BTreeMap<Vec<i64>, f64> = BTreeMap::new();
        for (point, weight) in self.points.iter().zip(weights).filter(|(_, w)| **w > 0.0) {
            let at: Option<Vec<i64>> = grid.iter().zip(point.iter()).map(|(g, v)| g.of(*v)).collect();
            if let Some(at) = at {
                *cells.entry(at).or_default() += weight;
            }
        }
        let mut fullest: Vec<(Vec<i64>, f64)> = cells.into_iter().collect();
        fullest.sort_by(|a, b| b.1.total_cmp(&a.1).then(a.0.cmp(&b.0)));
        fullest
            .into_iter()
            .take(k)
            .map(|(at, _)| {
                let ends = || at.iter().zip(&grid).map(|(i, g)| g.ends(*i));
                let half: Vec<f64> = ends().map(|(low, high)| (high - low) / 2.0).collect();
                Place {
                    centre: ends().map(|(low, high)| (low + high) / 2.0).collect(),
                    below: half.clone(),
                    above: half,
                    half_open: true,
                }
            })
            .collect()
    }

    fn even(&self, axis: &Axis, j: usize, weights: &[f64], total: f64) -> Intervals<'_> {
        let width = axis.info.below + axis.info.above;
        let mean = self.points.iter().zip(weights).map(|(p, w)| p[j] * w).sum::<f64>() / total;
        Intervals::Even { start: axis.round(mean) - width / 2.0, width }
    }
}

/// The intervals of one axis, by number.
enum Intervals<'a> {
    /// Between ascending bounds.
    Bounds(&'a [f64]),
    /// As many as it takes; number 0 begins at the start. None is kept, so that narrow ones cost nothing.
    Even { start: f64, width: f64 },
}

impl Intervals<'_> {
    /// The interval that holds a value, if any does.
    fn of(&self, value: f64) -> Option<i64> {
        match self {
            Self::Bounds(bounds) => {
                let interval = bounds.partition_point(|bound| *bound <= value);
                (interval > 0 && interval < bounds.len()).then(|| interval as i64 - 1)
            }
            Self::Even { start, width } => {
                let number = ((value - start) / width).floor() as i64;
                // the division may have rounded across a bound
                let (low, high) = self.ends(number);
                Some(if value < low {
                    number - 1
                } else if value >= high {
                    number + 1
                } else {
                    number
                })
            }
        }
    }

    fn ends(&self, number: i64) -> (f64, f64) {
        match self {
            Self::Bounds(bounds) => (bounds[number as usize], bounds[number as usize + 1]),
            Self::Even { start, width } => {
                (start + number as f64 * width, start + (number + 1) as f64 * width)
            }
        }
    }
}
