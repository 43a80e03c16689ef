//! Nested sizes: sizes of the first control dimension, each in types: drops and lengths.

use std::collections::BTreeMap;

use formkin_stats::StatsError;
use formkin_stats::partition::least_squares_groups;

use super::problem::Problem;
use crate::axes::Place;

impl Problem<'_> {
    /// The first dimension is cut into `k` / types sizes, every other into its types (itself, or its difference from the first), each exactly by least squares; of all combinations the `k`
    /// nearest to the most people are kept.
    pub(super) fn nested(&self, weights: &[f64], k: usize) -> Result<Vec<Place>, StatsError> {
        let counts: Vec<usize> = self.axes[1..].iter().map(|a| a.types.map_or(1, |t| t.count)).collect();
        let types: usize = counts.iter().product();
        let first: Vec<f64> = self.points.iter().map(|p| p[0]).collect();
        let mut values = vec![least_squares_groups(&first, Some(weights), k.div_ceil(types.max(1)))?.0];
        let drop = |j: usize| self.axes[j].types.is_some_and(|t| t.drop);
        let own = |p: &[f64], j: usize| if drop(j) { p[0] - p[j] } else { p[j] };
        for j in 1..self.axes.len() {
            let of: Vec<f64> = self.points.iter().map(|p| own(p, j)).collect();
            values.push(least_squares_groups(&of, Some(weights), counts[j - 1])?.0);
        }
        let mut cells: BTreeMap<Vec<usize>, f64> = BTreeMap::new();
        for (point, weight) in self.points.iter().zip(weights).filter(|(_, w)| **w > 0.0) {
            let at = (0..self.axes.len())
                .map(|j| {
                    let v = if j == 0 { point[0] } else { own(point, j) };
                    let near = |a: &usize, b: &usize| {
                        (values[j][*a] - v).abs().total_cmp(&(values[j][*b] - v).abs()).then(b.cmp(a))
                    };
                    (0..values[j].len()).min_by(near).unwrap_or(0)
                })
                .collect();
            *cells.entry(at).or_default() += weight;
        }
        let mut fullest: Vec<(Vec<usize>, f64)> = cells.into_iter().collect();
        fullest.sort_by(|a, b| b.1.total_cmp(&a.1).then(a.0.cmp(&b.0)));
        Ok(fullest
            .into_iter()
            .take(k)
            .map(|(at, _)| {
                let main = values[0][at[0]];
                self.about((0..at.len()).map(|j| {
                    let v = values[j][at[j]];
                    (if j > 0 && drop(j) { main - v } else { v }) / self.axes[j].info.scale
                }))
            })
            .collect())
    }
}
