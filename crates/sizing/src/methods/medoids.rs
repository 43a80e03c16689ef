//! People as sizes: k-medoids, which may leave the farthest aside.

use formkin_stats::StatsError;
use formkin_stats::cluster::k_medoids_among;

use super::problem::Problem;
use super::reach::candidates;
use crate::axes::{Place, lexical};

/// Most candidates of a cold start, and of a warm one.
const COLD: usize = 800;
const WARM: usize = 150;
/// Most rounds of leaving the farthest aside.
const TRIMS: usize = 10;

impl Problem<'_> {
    /// With more than 800 candidates that differ, every second, third, ... in ascending order is one: a size is then within a fraction of its tolerance of the best.
    #[expect(clippy::too_many_lines, reason = "one search whose state would be handed to every piece")]
    pub(super) fn medoids(
        &self,
        weights: &[f64],
        k: usize,
        warm: Option<&[Place]>,
    ) -> Result<Vec<Place>, StatsError> {
        let values = candidates(self.points, self.axes);
        let there: Vec<usize> = (0..values.len()).filter(|&i| weights[i] > 0.0).collect();
        let mut apart = there.clone();
        apart.sort_by(|&a, &b| lexical(&values[a], &values[b]).then(a.cmp(&b)));
        apart.dedup_by(|b, a| values[*a] == values[*b]);
        // Fewer candidates differ than people do where values are rounded.
        let k = k.min(apart.len());
        let most = if warm.is_some() { WARM } else { COLD };
        let stride = apart.len().div_ceil(most.max(3 * k)).max(1);
        let mut chosen: Vec<usize> = apart.iter().copied().step_by(stride).collect();
        let axes = self.axes;
        // One over the tolerances, stretched so that their mean is the scale.
        let inverse: Vec<(f64, f64)> = axes
            .iter()
            .map(|a| {
                let stretch = (a.info.below + a.info.above) / 2.0 / a.info.scale;
                (stretch / a.info.below, stretch / a.info.above)
            })
            .collect();
        let apart_by = |p: &[f64], c: &[f64]| {
            let mut squares = 0.0;
            for ((p, c), (below, above)) in p.iter().zip(c).zip(&inverse) {
                let away = p - c;
                let scaled = away * if away < 0.0 { below } else { above };
                squares += scaled * scaled;
            }
            squares.sqrt()
        };
        let start: Option<Vec<usize>> = warm.and_then(|warm| {
            let mut start: Vec<usize> = warm
                .iter()
                .filter_map(|place| {
                    apart.iter().copied().min_by(|&a, &b| {
                        apart_by(&values[a], &place.centre)
                            .total_cmp(&apart_by(&values[b], &place.centre))
                            .then(a.cmp(&b))
                    })
                })
                .collect();
            start.sort_unstable();
            start.dedup();
            (start.len() == k).then_some(start)
        });
        chosen.extend(start.iter().flatten());
        chosen.sort_unstable();
        chosen.dedup();
        let misfit = |i: usize, m: usize| apart_by(self.points[i], &values[m]);
        let mut kept = weights.to_vec();
        let solve = |kept: &[f64], start: Option<&[usize]>| {
            let people: Vec<usize> = there.iter().copied().filter(|&i| kept[i] > 0.0).collect();
            let people_weights: Vec<f64> = people.iter().map(|&i| kept[i]).collect();
            k_medoids_among_people(&people, &people_weights, &chosen, start, k, misfit)
        };
        let own: Vec<f64> = there.iter().map(|&i| weights[i]).collect();
        // The weights without the people farthest from their medoids.
        let aside = |medoids: &[usize]| {
            let far = |i: usize| medoids.iter().map(|&m| misfit(i, m)).fold(f64::INFINITY, f64::min);
            let mut order = there.clone();
            order.sort_by(|&a, &b| far(b).total_cmp(&far(a)).then(a.cmp(&b)));
            let mut room = self.plan.trim * weights.iter().sum::<f64>();
            let mut next = weights.to_vec();
            for i in order {
                if room < weights[i] {
                    break;
                }
                room -= weights[i];
                next[i] = 0.0;
            }
            next
        };
        let mut medoids = solve(&kept, start.as_deref())?;
        if self.plan.trim > 0.0 {
            if start.is_none() && k > 1 {
                // Whoever is farthest from the middle of all is left aside first: medoids among the far would hide them.
                let middle = k_medoids_among_people(&there, &own, &chosen, None, 1, misfit)?;
                kept = aside(&middle);
                medoids = solve(&kept, None)?;
            }
            // Concentration steps (after Cuesta-Albertos, Gordaliza & Matran 1997): leave the farthest aside, find the medoids of the others, and again.
            for _ in 0..TRIMS {
                let next = aside(&medoids);
                if next == kept {
                    break;
                }
                kept = next;
                medoids = solve(&kept, Some(&medoids))?;
            }
        }
        Ok(medoids.into_iter().map(|m| Place::of(values[m].clone(), axes)).collect())
    }
}

/// Medoids for some of the people.
fn k_medoids_among_people(
    people: &[usize],
    weights: &[f64],
    chosen: &[usize],
    start: Option<&[usize]>,
    k: usize,
    misfit: impl Fn(usize, usize) -> f64 + Sync,
) -> Result<Vec<usize>, StatsError> {
    // Candidates are numbered by person, the dissimilarities by place among the people.
    let found = k_medoids_among(people.len(), Some(weights), chosen, start, k, |i, m| misfit(people[i], m))?;
    Ok(found.medoids)
}
