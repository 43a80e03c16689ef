//! Sizes about means: k-means and Gaussian mixtures.

use formkin_stats::StatsError;
use formkin_stats::cluster::{k_means, lloyd, mixture};

use super::problem::{Effort, Problem};
use crate::axes::Place;

/// Rounds from a known start.
const WARM_ROUNDS: usize = 60;
/// Rounds of a mixture.
const MIXTURE_ROUNDS: usize = 150;

impl Problem<'_> {
    /// k-means finds the middle of the wearers' range, which for uneven tolerances is not the size's value.
    pub(super) fn means(
        &self,
        weights: &[f64],
        k: usize,
        warm: Option<&[Place]>,
        effort: Effort,
    ) -> Result<Vec<Place>, StatsError> {
        let centres = match warm {
            Some(warm) => lloyd(self.scaled.view(), weights, &self.middles(warm), WARM_ROUNDS)?,
            None => k_means(self.scaled.view(), Some(weights), k, effort.starts, self.plan.seed)?.centres,
        };
        Ok(centres.rows().into_iter().map(|r| self.about(r.iter().copied())).collect())
    }

    pub(super) fn mixture(
        &self,
        weights: &[f64],
        k: usize,
        warm: Option<&[Place]>,
        effort: Effort,
    ) -> Result<Vec<Place>, StatsError> {
        let start = warm.map(|w| self.middles(w));
        let rounds = if warm.is_some() { WARM_ROUNDS } else { MIXTURE_ROUNDS };
        let starts = effort.starts.min(5);
        let found =
            mixture(self.scaled.view(), Some(weights), k, start.as_ref(), starts, self.plan.seed, rounds)?;
        Ok(found.means.rows().into_iter().map(|r| self.about(r.iter().copied())).collect())
    }
}
