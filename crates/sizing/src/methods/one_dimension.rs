//! The best sizes of one control dimension, exactly.

use formkin_stats::StatsError;
use formkin_stats::partition::{coverage_intervals, least_squares_groups};

use super::problem::Problem;
use crate::Objective;
use crate::axes::Place;

impl Problem<'_> {
    pub(super) fn one_dimension(&self, weights: &[f64], k: usize) -> Result<Vec<Place>, StatsError> {
        let axis = &self.axes[0];
        let info = &axis.info;
        let values: Vec<f64> = self.points.iter().map(|p| p[0]).collect();
        match self.plan.objective {
            Objective::Misfit => {
                let (means, _) = least_squares_groups(&values, Some(weights), k)?;
                Ok(means.into_iter().map(|m| self.about(std::iter::once(m / info.scale))).collect())
            }
            Objective::Coverage => {
                let step = info.step.map(|step| (step, -info.below));
                let length = info.below + info.above;
                let (lows, _) = coverage_intervals(&values, Some(weights), k, length, step)?;
                Ok(lows.into_iter().map(|l| Place::of(vec![axis.round(l + info.below)], self.axes)).collect())
            }
        }
    }
}
