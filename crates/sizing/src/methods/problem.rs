//! What the methods work on and give back.

use ndarray::Array2;

use super::reach::Reach;
use crate::axes::{Axis, Place, lexical};
use crate::{Candidates, Method, Plan};

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
    pub(super) scaled: Array2<f64>,
    pub(super) reach: Option<Reach>,
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

    /// The size whose wearers' range has its middle at `middle` (over the scales), rounded: value = middle - (above - below) / 2.
    pub(super) fn about(&self, middle: impl Iterator<Item = f64>) -> Place {
        let value =
            |axis: &Axis, m: f64| axis.round(m * axis.info.scale - (axis.info.above - axis.info.below) / 2.0);
        Place::of(self.axes.iter().zip(middle).map(|(a, m)| value(a, m)).collect(), self.axes)
    }

    /// The middles of sizes over the scales: the reverse of `about`, but for rounding.
    pub(super) fn middles(&self, places: &[Place]) -> Array2<f64> {
        Array2::from_shape_fn((places.len(), self.axes.len()), |(s, j)| {
            let info = &self.axes[j].info;
            (places[s].centre[j] + (info.above - info.below) / 2.0) / info.scale
        })
    }
}

impl Found {
    pub(super) fn of(places: Vec<Place>) -> Self {
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
