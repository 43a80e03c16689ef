//! Greatest coverage against exhaustive search and its bound.

use rand::Rng;

use super::*;
use crate::random::stream;

fn boxes(n: usize, half: f64, seed: u64) -> (Coverage, Vec<f64>) {
    let mut rng = stream(seed, "boxes");
    let points: Vec<[f64; 2]> = (0..n).map(|_| [rng.r#gen(), rng.r#gen()]).collect();
    let weights = (0..n).map(|_| rng.gen_range(0.5..2.0)).collect();
    let near = |a: &[f64; 2], b: &[f64; 2]| (a[0] - b[0]).abs() <= half && (a[1] - b[1]).abs() <= half;
    let sets =
        points.iter().map(|c| (0..n).filter(|&i| near(&points[i], c)).map(|i| i as u32).collect()).collect();
    (Coverage::new(sets, n), weights)
}

/// Every choice of k sets, one after the other.
fn exhaustive(c: &Coverage, weights: &[f64], k: usize) -> f64 {
    fn go(c: &Coverage, w: &[f64], k: usize, from: usize, chosen: &mut Vec<usize>) -> f64 {
        if chosen.len() == k {
            return c.weight_of(w, chosen);
        }
        let mut best: f64 = 0.0;
        for s in from..c.sets().len() {
            chosen.push(s);
            best = best.max(go(c, w, k, s + 1, chosen));
            chosen.pop();
        }
        best
    }
    go(c, weights, k, 0, &mut Vec::new())
}

#[test]
fn small_cases_equal_exhaustive_search() {
    for seed in 0..12 {
        let (c, w) = boxes(18, 0.12, seed);
        for k in [1, 2, 4] {
            let best = exhaustive(&c, &w, k);
            let found = c.best(&w, k, None, None, 5000).unwrap();
            assert!(found.proven, "{found:?}");
            assert!((found.covered - best).abs() < 1e-9, "{} of {best}", found.covered);
            assert!((c.weight_of(&w, &found.chosen) - found.covered).abs() < 1e-9);
            assert!(c.bound(&w, k, 0.0).unwrap() >= best - 1e-9);
        }
    }
}

#[test]
fn a_true_gap_on_a_large_case() {
    let (c, w) = boxes(600, 0.08, 3);
    let total: f64 = w.iter().sum();
    let cut = c.best(&w, 10, None, None, 5).unwrap();
    let longer = c.best(&w, 10, None, None, 60).unwrap();
    assert!(longer.covered >= cut.covered - 1e-9);
    // Every bound holds for every choice.
    assert!(cut.bound >= longer.covered - 1e-9 && longer.bound >= cut.covered - 1e-9);
    assert!(cut.bound - cut.covered < 0.1 * total, "{} {}", cut.bound / total, cut.covered / total);
}

#[test]
fn bad_input_is_an_error() {
    let (c, w) = boxes(5, 0.1, 1);
    assert!(c.choose(&w, 0, None, None, 1).is_err());
    assert!(c.choose(&w[1..], 1, None, None, 1).is_err());
    assert_eq!(c.choose(&w, 9, None, None, 1).unwrap().covered, w.iter().sum::<f64>());
}
