//! Finding the sizes' values from people, one method a file.

mod greatest;
mod grid;
mod least_loss;
mod means;
mod medoids;
mod nested;
mod one_dimension;
mod problem;
mod reach;
mod shape_clusters;

use formkin_stats::StatsError;

use crate::Method;
use crate::axes::{Place, by_value};

pub(crate) use problem::{Effort, Found, MANY, Problem, distinct};
pub(crate) use reach::Reach;

impl Problem<'_> {
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
}

#[cfg(test)]
mod tests;
