//! Interval grids: the fullest cells.

use std::collections::BTreeMap;

use super::{Place, Problem};
use crate::axes::Axis;

impl Problem<'_> {
    /// The `k` cells with the most weight; of equal ones the smaller. A person at a bound belongs to the upper interval. Without intervals in the plan an axis has
    /// cells as wide as its tolerance, one of them about the weighted mean.
    pub(super) fn grid(&self, weights: &[f64], k: usize) -> Vec<Place> {
        let total: f64 = weights.iter().sum();
        let bounds: Vec<Vec<f64>> = self
            .axes
            .iter()
            .enumerate()
            .map(|(j, axis)| axis.bounds.clone().unwrap_or_else(|| self.even(axis, j, weights, total)))
            .collect();
        let mut cells: BTreeMap<Vec<usize>, f64> = BTreeMap::new();
        for (point, weight) in self.points.iter().zip(weights).filter(|(_, w)| **w > 0.0) {
            let at: Option<Vec<usize>> = bounds
                .iter()
                .zip(point.iter())
                .map(|(b, v)| {
                    let interval = b.partition_point(|bound| bound <= v);
                    (interval > 0 && interval < b.len()).then(|| interval - 1)
                })
                .collect();
            if let Some(at) = at {
                *cells.entry(at).or_default() += weight;
            }
        }
        let mut fullest: Vec<(Vec<usize>, f64)> = cells.into_iter().collect();
        fullest.sort_by(|a, b| b.1.total_cmp(&a.1).then(a.0.cmp(&b.0)));
        fullest
            .into_iter()
            .take(k)
            .map(|(at, _)| {
                let ends = || at.iter().zip(&bounds).map(|(i, b)| (b[*i], b[i + 1]));
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

    fn even(&self, axis: &Axis, j: usize, weights: &[f64], total: f64) -> Vec<f64> {
        let width = axis.info.below + axis.info.above;
        let mean = self.points.iter().zip(weights).map(|(p, w)| p[j] * w).sum::<f64>() / total;
        let (mut low, mut high) = (f64::INFINITY, f64::NEG_INFINITY);
        self.points.iter().for_each(|p| {
            low = low.min(p[j]);
            high = high.max(p[j]);
        });
        let start = axis.round(mean) - width / 2.0;
        let (first, last) = (((low - start) / width).floor(), ((high - start) / width).floor() + 1.0);
        (first as i64..=last as i64).map(|i| start + i as f64 * width).collect()
    }
}
