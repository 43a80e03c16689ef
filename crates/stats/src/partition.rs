//! One dimension, exactly: groups of least squares, and intervals of greatest coverage, by dynamic programming.

use crate::StatsError;
use crate::moments::check;

/// Values in ascending order with their weights; those of weight 0 are left out, equal ones joined.
fn ordered(values: &[f64], weights: Option<&[f64]>) -> (Vec<f64>, Vec<f64>) {
    let mut pairs: Vec<(f64, f64)> = values
        .iter()
        .enumerate()
        .map(|(i, v)| (v + 0.0, weights.map_or(1.0, |w| w[i])))
        .filter(|p| p.1 > 0.0)
        .collect();
    pairs.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.total_cmp(&b.1)));
    let (mut x, mut w): (Vec<f64>, Vec<f64>) = (Vec::new(), Vec::new());
    for (value, weight) in pairs {
        match x.last() {
            Some(last) if *last == value => {
                if let Some(w) = w.last_mut() {
                    *w += weight;
                }
            }
            _ => {
                x.push(value);
                w.push(weight);
            }
        }
    }
    (x, w)
}

/// The means of the `k` groups of least weighted sum of squares about them, ascending, and that sum: the best k-means of one dimension, exactly (Fisher 1958). The
/// last group's start never falls as more values are taken in, so that each row is found by halves in n log n. Fewer groups where fewer values differ.
///
/// # Errors
/// No values, values that are not finite, bad weights, no group.
pub fn least_squares_groups(
    values: &[f64],
    weights: Option<&[f64]>,
    k: usize,
) -> Result<(Vec<f64>, f64), StatsError> {
    check(values, weights)?;
    if k == 0 {
        return Err(StatsError::OutOfRange { name: "the number of groups", value: 0.0, range: "1 or more" });
    }
    let (x, w) = ordered(values, weights);
    let n = x.len();
    let k = k.min(n);
    // Sums about the middle value, so that few digits are lost.
    let base = x[n / 2];
    let mut sums = vec![(0.0, 0.0, 0.0)];
    for i in 0..n {
        let (a, b, c) = sums[i];
        let v = x[i] - base;
        sums.push((a + w[i], b + w[i] * v, c + w[i] * v * v));
    }
    let cost = |from: usize, to: usize| -> f64 {
        let (a, b, c) = (sums[to].0 - sums[from].0, sums[to].1 - sums[from].1, sums[to].2 - sums[from].2);
        if a > 0.0 { (c - b * b / a).max(0.0) } else { 0.0 }
    };
    let mut best: Vec<f64> = (0..=n).map(|to| cost(0, to)).collect();
    let mut starts: Vec<Vec<usize>> = vec![vec![0; n + 1]];
    for groups in 1..k {
        let mut next = vec![f64::INFINITY; n + 1];
        let mut start = vec![groups; n + 1];
        // Ranges of `to` with the range of starts that can be best.
        let mut open = vec![(groups + 1, n, groups, n - 1)];
        while let Some((low, high, from, until)) = open.pop() {
            if low > high {
                continue;
            }
            let to = (low + high) / 2;
            for s in from..=until.min(to - 1) {
                let c = best[s] + cost(s, to);
                if c < next[to] {
                    (next[to], start[to]) = (c, s);
                }
            }
            open.push((low, to - 1, from, start[to]));
            open.push((to + 1, high, start[to], until));
        }
        best = next;
        starts.push(start);
    }
    let mut ends = vec![n];
    for start in starts.iter().rev() {
        ends.push(start[ends[ends.len() - 1]]);
    }
    let means = ends
        .windows(2)
        .rev()
        .map(|e| base + (sums[e[0]].1 - sums[e[1]].1) / (sums[e[0]].0 - sums[e[1]].0))
        .collect();
    Ok((means, best[n]))
}

/// The lower ends of at most `k` intervals of `length` that hold the greatest weight, ascending, and that weight, exactly. An interval holds both its ends. Without `step` the
/// lower ends are values; with `step` they lie at `offset` + a whole number of steps.
///
/// # Errors
/// No values, values that are not finite, bad weights, no interval, a length or step not above 0.
#[expect(clippy::too_many_lines, reason = "one dynamic programme: table, recursion and way back")]
pub fn coverage_intervals(
    values: &[f64],
    weights: Option<&[f64]>,
    k: usize,
    length: f64,
    step: Option<(f64, f64)>,
) -> Result<(Vec<f64>, f64), StatsError> {
    check(values, weights)?;
    for (name, value) in
        [("the number of intervals", k as f64), ("a length", length), ("a step", step.map_or(1.0, |s| s.0))]
    {
        if !(value > 0.0 && value.is_finite()) {
            return Err(StatsError::OutOfRange { name, value, range: "above 0" });
        }
    }
    let (x, w) = ordered(values, weights);
    let n = x.len();
    let room = 1e-9 * length;
    let lows: Vec<f64> = match step {
        None => x.clone(),
        Some((step, offset)) => {
            let place = |v: f64| (v - offset) / step;
            let (first, last) = (place(x[0] - length).floor() as i64, place(x[n - 1]).ceil() as i64);
            // A step far finer than the values gains nothing over the values themselves.
            if last - first > 200_000 {
                x.clone()
            } else {
                (first..=last).map(|s| offset + s as f64 * step).collect()
            }
        }
    };
    let mut sums = vec![0.0];
    for v in &w {
        sums.push(sums[sums.len() - 1] + v);
    }
    let m = lows.len();
    let first: Vec<usize> = lows.iter().map(|l| x.partition_point(|v| *v < l - room)).collect();
    let after: Vec<usize> = lows.iter().map(|l| x.partition_point(|v| *v <= l + length + room)).collect();
    // gain[c] = most weight with the last interval at c; an earlier interval p takes away what both hold.
    let mut tables: Vec<Vec<(f64, usize)>> = Vec::new();
    for _ in 0..k {
        let row: Vec<(f64, usize)> = match tables.last() {
            None => (0..m).map(|c| (sums[after[c]] - sums[first[c]], usize::MAX)).collect(),
            Some(before) => {
                let mut row = Vec::with_capacity(m);
                let (mut apart, mut best_apart) = (0, (0.0, usize::MAX));
                for c in 0..m {
                    while apart < c && after[apart] <= first[c] {
                        if before[apart].0 > best_apart.0 {
                            best_apart = (before[apart].0, apart);
                        }
                        apart += 1;
                    }
                    let mut best = (best_apart.0 + sums[after[c]] - sums[first[c]], best_apart.1);
                    // Overlapping neighbours matter on a grid alone: free intervals can be moved apart.
                    if step.is_some() {
                        for p in apart..c {
                            let both = before[p].0 + sums[after[c]] - sums[after[p]];
                            if both > best.0 {
                                best = (both, p);
                            }
                        }
                    }
                    row.push(best);
                }
                row
            }
        };
        tables.push(row);
    }
    // The fewest intervals of the greatest weight.
    let mut best = (0.0, 0, 0);
    for (j, row) in tables.iter().enumerate() {
        for (c, (gain, _)) in row.iter().enumerate() {
            if *gain > best.0 + 1e-12 * sums[n] {
                best = (*gain, j, c);
            }
        }
    }
    let (weight, mut j, mut c) = best;
    let mut chosen = Vec::new();
    loop {
        chosen.push(lows[c]);
        let before = tables[j][c].1;
        if j == 0 || before == usize::MAX {
            break;
        }
        c = before;
        j -= 1;
    }
    chosen.reverse();
    Ok((chosen, weight))
}

#[cfg(test)]
mod tests {
    use rand::Rng;

    use super::*;
    use crate::random::stream;

    fn some(n: usize, seed: u64) -> (Vec<f64>, Vec<f64>) {
        let mut rng = stream(seed, "one dimension");
        (
            (0..n).map(|_| f64::from(rng.gen_range(0..60))).collect(),
            (0..n).map(|_| rng.gen_range(0.5..2.0)).collect(),
        )
    }

    /// Every way to cut the ascending values into at most k groups.
    fn all_cuts(x: &[f64], w: &[f64], k: usize) -> f64 {
        let cost = |r: std::ops::Range<usize>| {
            let total: f64 = w[r.clone()].iter().sum();
            let mean = r.clone().map(|i| w[i] * x[i]).sum::<f64>() / total;
            r.map(|i| w[i] * (x[i] - mean).powi(2)).sum::<f64>()
        };
        if k == 1 {
            return cost(0..x.len());
        }
        (1..x.len())
            .map(|c| cost(c..x.len()) + all_cuts(&x[..c], &w[..c], k - 1))
            .fold(if x.len() < 2 { 0.0 } else { cost(0..x.len()) }, f64::min)
    }

    #[test]
    fn groups_equal_exhaustive_search() {
        for seed in 0..10 {
            let (x, w) = some(13, seed);
            let (sx, sw) = ordered(&x, Some(&w));
            for k in 1..5 {
                let (means, cost) = least_squares_groups(&x, Some(&w), k).unwrap();
                assert!((cost - all_cuts(&sx, &sw, k)).abs() < 1e-8);
                let nearest: f64 = (0..x.len())
                    .map(|i| w[i] * means.iter().map(|m| (x[i] - m).powi(2)).fold(f64::INFINITY, f64::min))
                    .sum();
                assert!((nearest - cost).abs() < 1e-8);
            }
        }
    }

    fn all_choices(lows: &[f64], x: &[f64], w: &[f64], k: usize, length: f64, chosen: &mut Vec<f64>) -> f64 {
        let held = |chosen: &[f64]| -> f64 {
            (0..x.len())
                .filter(|&i| chosen.iter().any(|l| x[i] >= *l && x[i] <= l + length))
                .map(|i| w[i])
                .sum()
        };
        if k == 0 || lows.is_empty() {
            return held(chosen);
        }
        let mut best = held(chosen);
        for i in 0..lows.len() {
            chosen.push(lows[i]);
            best = best.max(all_choices(&lows[i + 1..], x, w, k - 1, length, chosen));
            chosen.pop();
        }
        best
    }

    #[test]
    fn intervals_equal_exhaustive_search() {
        for seed in 0..8 {
            let (x, w) = some(14, seed + 50);
            let (sx, _) = ordered(&x, Some(&w));
            let grid: Vec<f64> = (-2..16).map(|s| f64::from(s) * 4.0).collect();
            for k in 1..4 {
                let (lows, weight) = coverage_intervals(&x, Some(&w), k, 7.0, None).unwrap();
                assert!((weight - all_choices(&sx, &x, &w, k, 7.0, &mut Vec::new())).abs() < 1e-9);
                assert!(lows.len() <= k);
                let (_, weight) = coverage_intervals(&x, Some(&w), k, 7.0, Some((4.0, 0.0))).unwrap();
                assert!((weight - all_choices(&grid, &x, &w, k, 7.0, &mut Vec::new())).abs() < 1e-9);
            }
        }
    }

    #[test]
    fn bad_input_is_an_error() {
        assert!(least_squares_groups(&[1.0], None, 0).is_err());
        assert!(coverage_intervals(&[1.0], None, 1, 0.0, None).is_err());
        assert_eq!(least_squares_groups(&[1.0, 1.0], None, 3).unwrap().0, [1.0]);
    }
}
