//! Finding the sizes' values from people, one method a file.

mod grid;
mod least_loss;
mod means;
mod medoids;
mod nested;
mod one_dimension;
mod reach;
mod shape_clusters;

use formkin_stats::StatsError;
use ndarray::Array2;

use crate::axes::{Axis, Place, by_value, lexical};
use crate::{Candidates, Method, Plan};

pub(crate) use reach::Reach;

/// Sizes found.
#[derive(Debug, Clone, Default)]
pub(crate) struct Found {
    /// Ascending and all different; fewer than asked for where rounding makes two the same, where fewer people differ, or where fewer cover everyone.
    pub(crate) places: Vec<Place>,
    /// No sizes with values at the same candidates cover more weight than this.
    pub(crate) bound: Option<f64>,
    /// Nodes of the search behind the bound.
    pub(crate) nodes: usize,
    /// Questions of the decision tree in words.
    pub(crate) rules: Vec<String>,
}

/// Where people are more than this, curves, folds, resamples and choices are searched with less effort, for time.
pub(crate) const MANY: usize = 1500;

/// How much work is done.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Effort {
    pub(crate) starts: usize,
    /// Nodes of the search by branch and bound for greatest coverage; without any, greedy choice and exchanges are all.
    pub(crate) nodes: usize,
}

/// The people and the method: everything but weights and number of sizes, so that folds and resamples share what does not depend on them. People of weight 0
/// take no part.
pub(crate) struct Problem<'a> {
    pub(crate) points: &'a [&'a [f64]],
    pub(crate) shape: &'a [&'a [f64]],
    pub(crate) axes: &'a [Axis],
    pub(crate) plan: &'a Plan,
    pub(crate) method: Method,
    /// Values over the scales, people x axes.
    scaled: Array2<f64>,
    reach: Option<Reach>,
}

impl<'a> Problem<'a> {
    pub(crate) fn new(
        points: &'a [&'a [f64]],
        shape: &'a [&'a [f64]],
        axes: &'a [Axis],
        plan: &'a Plan,
        method: Method,
    ) -> Self {
        let scaled =
            Array2::from_shape_fn((points.len(), axes.len()), |(i, j)| points[i][j] / axes[j].info.scale);
        let reach = (method == Method::GreatestCoverage).then(|| match plan.candidates {
            Candidates::People => Reach::of_people(points, axes),
            Candidates::Grid => Reach::on_grid(points, axes),
        });
        Self { points, shape, axes, plan, method, scaled, reach }
    }

    /// Finds at most `k` sizes from the people of weight above 0 alone, from the sizes `warm` where there are some.
    pub(crate) fn find(
        &self,
        weights: &[f64],
        k: usize,
        warm: Option<&[Place]>,
        effort: Effort,
    ) -> Result<Found, StatsError> {
        let there: Vec<&[f64]> =
            self.points.iter().zip(weights).filter(|(_, w)| **w > 0.0).map(|(p, _)| *p).collect();
        let k = k.min(distinct(&there));
        let warm = warm.filter(|w| w.len() == k && !w.is_empty());
        let mut found = match self.method {
            Method::KMeans => Found::of(self.means(weights, k, warm, effort)?),
            Method::GaussianMixture => Found::of(self.mixture(weights, k, warm, effort)?),
            Method::KMedoids => Found::of(self.medoids(weights, k, warm)?),
            Method::GreatestCoverage => self.greatest_coverage(weights, k, warm, effort)?,
            Method::Intervals => Found::of(self.grid(weights, k)),
            Method::DynamicProgramming => Found::of(self.one_dimension(weights, k)?),
            Method::LeastLoss => Found::of(self.least_loss(weights, k, warm, effort)?),
            Method::ShapeClusters => self.shape_clusters(weights, k, effort)?,
            Method::Nested => Found::of(self.nested(weights, k)?),
        };
        found.places.sort_by(by_value);
        found.places.dedup();
        Ok(found)
    }

    /// The size whose wearers' range has its middle at `middle` (over the scales), rounded: value = middle - (above - below) / 2.
    fn about(&self, middle: impl Iterator<Item = f64>) -> Place {
        let value =
            |axis: &Axis, m: f64| axis.round(m * axis.info.scale - (axis.info.above - axis.info.below) / 2.0);
        Place::of(self.axes.iter().zip(middle).map(|(a, m)| value(a, m)).collect(), self.axes)
    }

    /// The middles of sizes over the scales: the reverse of `about`, but for rounding.
    fn middles(&self, places: &[Place]) -> Array2<f64> {
        Array2::from_shape_fn((places.len(), self.axes.len()), |(s, j)| {
            let info = &self.axes[j].info;
            (places[s].centre[j] + (info.above - info.below) / 2.0) / info.scale
        })
    }
}

impl Found {
    fn of(places: Vec<Place>) -> Self {
        Self { places, ..Self::default() }
    }
}

/// Points that differ.
pub(crate) fn distinct(points: &[&[f64]]) -> usize {
    let mut sorted = points.to_vec();
    sorted.sort_by(|a, b| lexical(a, b));
    sorted.dedup();
    sorted.len()
}

#[cfg(test)]
mod tests;
