//! Greatest coverage: the k sets that together hold the most weight, and how much any k sets could hold.

use serde::{Deserialize, Serialize};

use crate::StatsError;
use crate::moments::check_weights;

/// Steps of the bound's multipliers.
const STEPS: usize = 150;
/// Steps at a node of the search.
const NODE_STEPS: usize = 25;
/// Rounding.
const CLOSE: f64 = 1e-9;

/// A choice of sets.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Covering {
    /// Chosen sets, ascending; fewer than asked for where more hold nothing new.
    pub chosen: Vec<usize>,
    /// Weight they hold together.
    pub covered: f64,
    /// No choice of as many of the sets holds more than this.
    pub bound: f64,
    /// Nodes of the search; 0 where there was none.
    pub nodes: usize,
    /// Whether the choice is proven best among the sets: bound and covered are the same.
    pub proven: bool,
}

/// The maximal covering problem (Church & ReVelle 1974): candidate sets of items.
#[derive(Debug, Clone)]
pub struct Coverage {
    /// Items of every set.
    sets: Vec<Vec<u32>>,
    /// Sets of every item.
    of_item: Vec<Vec<u32>>,
}

impl Coverage {
    /// Sets of items 0 to `items` - 1; items beyond are left out.
    #[must_use]
    pub fn new(sets: Vec<Vec<u32>>, items: usize) -> Self {
        let mut of_item = vec![Vec::new(); items];
        let sets: Vec<Vec<u32>> =
            sets.into_iter().map(|s| s.into_iter().filter(|i| (*i as usize) < items).collect()).collect();
        for (s, set) in sets.iter().enumerate() {
            set.iter().for_each(|&i| of_item[i as usize].push(s as u32));
        }
        Self { sets, of_item }
    }

    /// The sets.
    #[must_use]
    pub fn sets(&self) -> &[Vec<u32>] {
        &self.sets
    }

    fn check(&self, weights: &[f64], k: usize) -> Result<(), StatsError> {
        check_weights(self.of_item.len(), Some(weights))?;
        if k == 0 {
            return Err(StatsError::OutOfRange {
                name: "the number of sets",
                value: 0.0,
                range: "1 or more",
            });
        }
        Ok(())
    }

    /// Greedy choice, then exchanges of one chosen set for another while one gains; sets without any item of weight are never chosen. `allowed` says which sets may
    /// be chosen. At least 1 - 1/e of the most that is possible (Nemhauser, Wolsey & Fisher 1978), commonly 97 % and more.
    ///
    /// # Errors
    /// Bad weights, no set asked for.
    pub fn choose(
        &self,
        weights: &[f64],
        k: usize,
        start: Option<&[usize]>,
        allowed: Option<&[bool]>,
        exchanges: usize,
    ) -> Result<Covering, StatsError> {
        self.check(weights, k)?;
        let mut state = State::new(self, weights);
        if let Some(allowed) = allowed {
            for (gain, _) in state.gain.iter_mut().zip(allowed).filter(|(_, a)| !**a) {
                *gain = f64::NEG_INFINITY;
            }
        }
        for &s in start.unwrap_or(&[]).iter().take(k) {
            if s < self.sets.len() && state.gain[s] > f64::NEG_INFINITY {
                state.add(s);
            }
        }
        self.fill(&mut state, k);
        for _ in 0..exchanges {
            if !self.exchange(&mut state) {
                break;
            }
        }
        let covered = state.covered;
        let mut chosen = state.chosen;
        chosen.sort_unstable();
        Ok(Covering { chosen, covered, bound: weights.iter().sum(), nodes: 0, proven: false })
    }

    fn fill(&self, state: &mut State<'_>, k: usize) {
        while state.chosen.len() < k {
            let best =
                (0..self.sets.len()).max_by(|&a, &b| state.gain[a].total_cmp(&state.gain[b]).then(b.cmp(&a)));
            match best {
                Some(s) if state.gain[s] > CLOSE * state.total => state.add(s),
                _ => break,
            }
        }
    }

    /// Takes every chosen set out in turn and puts the best in its place; whether any was better.
    fn exchange(&self, state: &mut State<'_>) -> bool {
        let mut better = false;
        for place in 0..state.chosen.len() {
            let out = state.chosen[place];
            let before = state.covered;
            state.remove(place);
            let best = (0..self.sets.len())
                .max_by(|&a, &b| state.gain[a].total_cmp(&state.gain[b]).then(b.cmp(&a)))
                .unwrap_or(out);
            let chosen =
                if state.covered + state.gain[best] > before + CLOSE * state.total { best } else { out };
            better |= chosen != out;
            state.add(chosen);
            let last = state.chosen.len() - 1;
            state.chosen.swap(place, last);
        }
        better
    }

    /// An upper bound of the weight that any `k` sets hold, by Lagrangian relaxation (Fisher 1981) of "an item is covered only by a chosen set": for
    /// multipliers 0 <= l_i <= w_i, sum (w_i - l_i) + the k greatest sums of l over a set. The multipliers go down the subgradient towards `known`, a weight
    /// that some choice holds. Every step gives a true bound; the least is returned.
    ///
    /// # Errors
    /// Bad weights, no set asked for.
    pub fn bound(&self, weights: &[f64], k: usize, known: f64) -> Result<f64, StatsError> {
        self.check(weights, k)?;
        let mut multipliers = weights.to_vec();
        let free = vec![true; self.sets.len()];
        Ok(self.descend(weights, &mut multipliers, &free, &[], k, known, STEPS).0)
    }

    /// The bound with some sets chosen (`fixed`) and some not allowed, and the sets in order of their sums.
    #[allow(clippy::too_many_arguments, reason = "a search step with all its state")]
    fn descend(
        &self,
        weights: &[f64],
        multipliers: &mut [f64],
        free: &[bool],
        fixed: &[usize],
        k: usize,
        known: f64,
        steps: usize,
    ) -> (f64, Vec<usize>) {
        let total: f64 = weights.iter().sum();
        let n = weights.len();
        let mut best = total;
        let mut best_order = Vec::new();
        let (mut pace, mut since) = (1.0, 0);
        for _ in 0..steps {
            let sums: Vec<f64> =
                self.sets.iter().map(|s| s.iter().map(|&i| multipliers[i as usize]).sum()).collect();
            let mut order: Vec<usize> =
                (0..self.sets.len()).filter(|&s| free[s] && !fixed.contains(&s)).collect();
            let rest = k.saturating_sub(fixed.len()).min(order.len());
            let by_sum = |a: &usize, b: &usize| sums[*b].total_cmp(&sums[*a]).then(a.cmp(b));
            if rest > 0 && rest < order.len() {
                order.select_nth_unstable_by(rest - 1, by_sum);
            }
            order.truncate(rest);
            order.sort_by(by_sum);
            let value = (0..n).map(|i| weights[i] - multipliers[i]).sum::<f64>()
                + fixed.iter().chain(&order).map(|&s| sums[s]).sum::<f64>();
            let mut times = vec![0.0_f64; n];
            for &s in fixed.iter().chain(&order) {
                self.sets[s].iter().for_each(|&i| times[i as usize] += 1.0);
            }
            if value < best * (1.0 - 1e-7) {
                since = 0;
            } else {
                since += 1;
            }
            if value < best || best_order.is_empty() {
                best = best.min(value);
                best_order = order;
            }
            if best <= known * (1.0 + CLOSE) {
                break;
            }
            if since >= 8 {
                pace *= 0.6;
                since = 0;
            }
            // Subgradient: times chosen - 1, where the multiplier is within its limits.
            let norm: f64 = times.iter().map(|t| (t - 1.0) * (t - 1.0)).sum();
            if norm <= 0.0 {
                break;
            }
            let step = pace * (value - known).max(1e-6 * total) / norm;
            for i in 0..n {
                multipliers[i] = (multipliers[i] - step * (times[i] - 1.0)).clamp(0.0, weights[i]);
            }
        }
        (best, best_order)
    }

    /// The best choice: `choose`, its bound, and where they differ a search by branch and bound, at most `nodes` nodes. Sets that another contains are left out of
    /// the search. The bound returned is true also where the search was cut short.
    ///
    /// # Errors
    /// Bad weights, no set asked for.
    pub fn best(
        &self,
        weights: &[f64],
        k: usize,
        start: Option<&[usize]>,
        allowed: Option<&[bool]>,
        nodes: usize,
    ) -> Result<Covering, StatsError> {
        let mut found = self.choose(weights, k, None, allowed, 50)?;
        if start.is_some() {
            let other = self.choose(weights, k, start, allowed, 50)?;
            if other.covered > found.covered {
                found = other;
            }
        }
        let mut multipliers = weights.to_vec();
        let mut free = allowed.map_or_else(|| vec![true; self.sets.len()], <[bool]>::to_vec);
        self.dominated(weights, &mut free);
        let total: f64 = weights.iter().sum();
        let (root, _) = self.descend(weights, &mut multipliers, &free, &[], k, found.covered, 2 * STEPS);
        let open = |bound: f64, covered: f64| bound > covered + CLOSE * total;
        // Depth first: fixed sets, those allowed, multipliers, bound.
        let mut stack = vec![(Vec::<usize>::new(), free, multipliers, root)];
        let mut visited = 0;
        while visited < nodes {
            let Some((fixed, free, mut multipliers, bound)) = stack.pop() else { break };
            if !open(bound, found.covered) {
                continue;
            }
            visited += 1;
            let (bound, order) =
                self.descend(weights, &mut multipliers, &free, &fixed, k, found.covered, NODE_STEPS);
            let candidate: Vec<usize> = fixed.iter().chain(&order).copied().collect();
            let covered = self.weight_of(weights, &candidate);
            if covered > found.covered + CLOSE * total {
                let improved = self.choose(weights, k, Some(&candidate), allowed, 50)?;
                if improved.covered > found.covered {
                    found = improved;
                }
            }
            if !open(bound, found.covered) || order.is_empty() {
                continue;
            }
            let branch = order[0];
            let mut without = free.clone();
            without[branch] = false;
            stack.push((fixed.clone(), without, multipliers.clone(), bound));
            let mut with = fixed;
            with.push(branch);
            if with.len() >= k {
                let covered = self.weight_of(weights, &with);
                if covered > found.covered {
                    with.sort_unstable();
                    found = Covering { chosen: with, covered, ..found };
                }
            } else {
                stack.push((with, free, multipliers, bound));
            }
        }
        let left = stack.iter().map(|s| s.3).fold(found.covered, f64::max);
        found.bound = left.min(root.max(found.covered)).min(total);
        found.proven = !open(found.bound, found.covered);
        if found.proven {
            found.bound = found.covered;
        }
        found.nodes = visited;
        Ok(found)
    }

    /// Marks sets whose items of weight all lie in another set.
    fn dominated(&self, weights: &[f64], free: &mut [bool]) {
        let live: Vec<Vec<u32>> = self
            .sets
            .iter()
            .map(|s| {
                let mut l: Vec<u32> = s.iter().copied().filter(|&i| weights[i as usize] > 0.0).collect();
                l.sort_unstable();
                l
            })
            .collect();
        for s in 0..live.len() {
            let Some(&rarest) = live[s].iter().min_by_key(|&&i| self.of_item[i as usize].len()) else {
                free[s] = false;
                continue;
            };
            if !free[s] {
                continue;
            }
            free[s] = !self.of_item[rarest as usize].iter().any(|&o| {
                let o = o as usize;
                o != s
                    && free[o]
                    && (live[o].len() > live[s].len() || (live[o].len() == live[s].len() && o < s))
                    && live[s].iter().all(|i| live[o].binary_search(i).is_ok())
            });
        }
    }

    /// The weight that sets hold together.
    #[must_use]
    pub(crate) fn weight_of(&self, weights: &[f64], sets: &[usize]) -> f64 {
        let mut covered = vec![false; self.of_item.len()];
        for &s in sets {
            self.sets[s].iter().for_each(|&i| covered[i as usize] = true);
        }
        covered.iter().zip(weights).filter(|(c, _)| **c).map(|(_, w)| w).sum()
    }
}

/// A partial choice with what every set would add.
struct State<'a> {
    problem: &'a Coverage,
    weights: &'a [f64],
    times: Vec<u16>,
    gain: Vec<f64>,
    chosen: Vec<usize>,
    covered: f64,
    total: f64,
}

impl<'a> State<'a> {
    fn new(problem: &'a Coverage, weights: &'a [f64]) -> Self {
        let gain = problem.sets.iter().map(|s| s.iter().map(|&i| weights[i as usize]).sum()).collect();
        Self {
            problem,
            weights,
            times: vec![0; weights.len()],
            gain,
            chosen: Vec::new(),
            covered: 0.0,
            total: weights.iter().sum(),
        }
    }

    fn add(&mut self, set: usize) {
        for &i in &self.problem.sets[set] {
            let i = i as usize;
            self.times[i] += 1;
            if self.times[i] == 1 && self.weights[i] > 0.0 {
                self.covered += self.weights[i];
                for &s in &self.problem.of_item[i] {
                    self.gain[s as usize] -= self.weights[i];
                }
            }
        }
        self.chosen.push(set);
    }

    fn remove(&mut self, place: usize) {
        let set = self.chosen.swap_remove(place);
        for &i in &self.problem.sets[set] {
            let i = i as usize;
            self.times[i] -= 1;
            if self.times[i] == 0 && self.weights[i] > 0.0 {
                self.covered -= self.weights[i];
                for &s in &self.problem.of_item[i] {
                    self.gain[s as usize] += self.weights[i];
                }
            }
        }
    }
}

#[cfg(test)]
#[path = "covering_tests.rs"]
mod tests;
