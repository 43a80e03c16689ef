//! Weighted rounds of k-means from given centres: for resamples, where a good start is known.

use ndarray::{Array2, ArrayView2};

use crate::StatsError;

/// Lloyd's rounds (1982) from `start` (clusters x dimensions) until no point changes its cluster, at most `rounds`. Points of weight 0 take no part;
/// a cluster that loses all its points keeps its centre. The sum of weighted squared distances never rises.
///
/// # Errors
/// [`StatsError::Size`] where dimensions or weights differ in number, [`StatsError::TooFew`] without a start.
pub fn lloyd(
    points: ArrayView2<f64>,
    weights: &[f64],
    start: &Array2<f64>,
    rounds: usize,
) -> Result<Array2<f64>, StatsError> {
    let (n, d) = points.dim();
    let k = start.nrows();
    for (what, expected, found) in
        [("dimensions of the start", d, start.ncols()), ("weights", n, weights.len())]
    {
        if expected != found {
            return Err(StatsError::Size { what, expected, found });
        }
    }
    if k == 0 {
        return Err(StatsError::TooFew { what: "centres to start from", least: 1, found: 0 });
    }
    let flat: Vec<f64> = points.iter().copied().collect();
    let mut centres: Vec<f64> = start.iter().copied().collect();
    let mut labels = vec![usize::MAX; n];
    let mut sums = vec![0.0; k * d];
    let mut totals = vec![0.0; k];
    for _ in 0..rounds {
        let mut changed = false;
        sums.fill(0.0);
        totals.fill(0.0);
        for i in 0..n {
            if weights[i] <= 0.0 {
                continue;
            }
            let x = &flat[i * d..(i + 1) * d];
            let (mut best, mut least) = (0, f64::INFINITY);
            for (c, centre) in centres.chunks_exact(d).enumerate() {
                let distance: f64 = x.iter().zip(centre).map(|(a, b)| (a - b) * (a - b)).sum();
                if distance < least {
                    (best, least) = (c, distance);
                }
            }
            changed |= labels[i] != best;
            labels[i] = best;
            totals[best] += weights[i];
            for (s, v) in sums[best * d..(best + 1) * d].iter_mut().zip(x) {
                *s += weights[i] * v;
            }
        }
        for c in 0..k {
            if totals[c] > 0.0 {
                for j in 0..d {
                    centres[c * d + j] = sums[c * d + j] / totals[c];
                }
            }
        }
        if !changed {
            break;
        }
    }
    Ok(Array2::from_shape_fn((k, d), |(c, j)| centres[c * d + j]))
}

#[cfg(test)]
mod tests {
    use approx::assert_relative_eq;
    use ndarray::array;

    use super::*;

    #[test]
    fn heaps_from_a_near_start() {
        let x = array![[0.0], [1.0], [10.0], [12.0], [99.0]];
        let found = lloyd(x.view(), &[1.0, 3.0, 1.0, 1.0, 0.0], &array![[2.0], [9.0]], 50).unwrap();
        assert_relative_eq!(found[[0, 0]], 0.75);
        assert_relative_eq!(found[[1, 0]], 11.0);
        assert!(lloyd(x.view(), &[1.0; 4], &array![[2.0]], 5).is_err());
    }
}
