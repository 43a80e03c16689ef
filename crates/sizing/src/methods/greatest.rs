//! Greatest coverage: the choice among candidates.

use formkin_stats::StatsError;

use super::problem::{Effort, Found, Problem};
use crate::axes::{Place, by_value};

impl Problem<'_> {
    pub(super) fn greatest_coverage(
        &self,
        weights: &[f64],
        k: usize,
        warm: Option<&[Place]>,
        effort: Effort,
    ) -> Result<Found, StatsError> {
        let Some(reach) = &self.reach else { return Ok(Found::default()) };
        let start: Option<Vec<usize>> = warm.map(|warm| {
            warm.iter().filter_map(|w| reach.places.binary_search_by(|p| by_value(p, w)).ok()).collect()
        });
        // Candidates of people who are held out are not there; a grid is there for all.
        let mut there = vec![reach.owner.is_empty(); reach.places.len()];
        for (i, _) in weights.iter().enumerate().filter(|(_, w)| **w > 0.0) {
            if let Some(place) = reach.owner.get(i).copied().flatten() {
                there[place] = true;
            }
        }
        let allowed = Some(there.as_slice());
        let chosen = if effort.nodes > 0 {
            reach.coverage.best(weights, k, start.as_deref(), allowed, effort.nodes)?
        } else {
            let exchanges = if warm.is_some() { 2 } else { 10 };
            reach.coverage.choose(weights, k, start.as_deref(), allowed, exchanges)?
        };
        let places = chosen.chosen.iter().map(|&c| reach.places[c].clone()).collect();
        Ok(Found {
            places,
            bound: (effort.nodes > 0).then_some(chosen.bound),
            nodes: chosen.nodes,
            ..Found::default()
        })
    }
}
