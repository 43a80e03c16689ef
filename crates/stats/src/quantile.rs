//! Quantiles, median, median absolute deviation.

use crate::StatsError;
use crate::moments::check;

/// MAD times this estimates the standard deviation of normal values: 1 / quantile(0.75) of the normal.
pub const MAD_TO_SD: f64 = 1.482_602_218_505_602;

/// The `p` quantile. Without weights type 7 of Hyndman & Fan 1996: linear between the order statistics, at place 1 + (n - 1) p. With weights
/// the place of value k among the ascending values is (C_k - C_1) / (C_n - C_1), C_k = w_1 + .. + w_(k-1) + w_k / 2; equal weights give type 7.
/// Values of weight 0 take no part.
///
/// # Errors
/// [`StatsError::OutOfRange`] for `p` outside 0 to 1, and for no values, values that are not finite, and bad weights as
/// [`mean`](crate::moments::mean).
pub fn quantile(values: &[f64], weights: Option<&[f64]>, p: f64) -> Result<f64, StatsError> {
    check(values, weights)?;
    if !(0.0..=1.0).contains(&p) {
        return Err(StatsError::OutOfRange {
            name: "the quantile's probability",
            value: p,
            range: "from 0 to 1",
        });
    }
    let mut sorted: Vec<(f64, f64)> = values
        .iter()
        .enumerate()
        .map(|(i, &x)| (x, weights.map_or(1.0, |w| w[i])))
        .filter(|(_, w)| *w > 0.0)
        .collect();
    sorted.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.total_cmp(&b.1)));
    let last = sorted.len() - 1;
    if weights.is_none() {
        let place = p * last as f64;
        let low = (place.floor() as usize).min(last);
        return Ok(between(sorted[low].0, sorted[(low + 1).min(last)].0, place - low as f64));
    }
    let mut places = Vec::with_capacity(sorted.len());
    let mut below = 0.0;
    for (_, w) in &sorted {
        places.push(below + w / 2.0);
        below += w;
    }
    let target = places[0] + p * (places[last] - places[0]);
    let high = places.partition_point(|&c| c < target).min(last);
    if high == 0 {
        return Ok(sorted[0].0);
    }
    let part = (target - places[high - 1]) / (places[high] - places[high - 1]);
    Ok(between(sorted[high - 1].0, sorted[high].0, part.clamp(0.0, 1.0)))
}

fn between(low: f64, high: f64, part: f64) -> f64 {
    if low == high { low } else { low + part * (high - low) }
}

/// The median, [`quantile`] at 0.5.
///
/// # Errors
/// As [`quantile`].
pub fn median(values: &[f64], weights: Option<&[f64]>) -> Result<f64, StatsError> {
    quantile(values, weights, 0.5)
}

/// The middle one of the values in ascending order, or half way between the middle two; the values are left in another order. None of no values. As [`median`]
/// without weights, but quicker, and nothing is refused: values that are not numbers count as the largest.
pub fn median_of(values: &mut [f64]) -> Option<f64> {
    let half = values.len() / 2;
    if values.is_empty() {
        return None;
    }
    let even = values.len().is_multiple_of(2);
    let (below, &mut upper, _) = values.select_nth_unstable_by(half, f64::total_cmp);
    let lower = if even { below.iter().copied().max_by(f64::total_cmp) } else { None };
    Some(lower.map_or(upper, |lower| between(lower, upper, 0.5)))
}

/// Median absolute deviation from the median, in the unit of the values. Times [`MAD_TO_SD`] it estimates the standard deviation of normal
/// values.
///
/// # Errors
/// As [`quantile`].
pub fn mad(values: &[f64], weights: Option<&[f64]>) -> Result<f64, StatsError> {
    let centre = median(values, weights)?;
    let away: Vec<f64> = values.iter().map(|x| (x - centre).abs()).collect();
    median(&away, weights)
}

#[cfg(test)]
mod tests {
    use approx::assert_relative_eq;

    use super::*;

    #[test]
    fn type_seven() {
        // numpy.percentile([1, 2, 4, 8], [0, 10, 25, 50, 90, 100]) with its default method, and by hand.
        let x = [8.0, 1.0, 4.0, 2.0];
        for (p, q) in [(0.0, 1.0), (0.1, 1.3), (0.25, 1.75), (0.5, 3.0), (0.9, 6.8), (1.0, 8.0)] {
            assert_relative_eq!(quantile(&x, None, p).unwrap(), q, max_relative = 1e-14);
            assert_relative_eq!(quantile(&x, Some(&[5.0; 4]), p).unwrap(), q, max_relative = 1e-12);
        }
        assert_relative_eq!(median(&[7.0], None).unwrap(), 7.0);
        assert_relative_eq!(median(&[7.0], Some(&[0.1])).unwrap(), 7.0);
    }

    #[test]
    fn weights_pull() {
        let x = [1.0, 2.0, 3.0];
        let even = median(&x, Some(&[1.0, 1.0, 1.0])).unwrap();
        let pulled = median(&x, Some(&[1.0, 1.0, 8.0])).unwrap();
        assert_relative_eq!(even, 2.0);
        assert!(pulled > 2.2 && pulled < 3.0, "{pulled}");
        assert_relative_eq!(median(&[1.0, 2.0, 3.0, 50.0], Some(&[1.0, 1.0, 1.0, 0.0])).unwrap(), 2.0);
    }

    #[test]
    fn the_quick_median_is_the_median() {
        assert_eq!(median_of(&mut []), None);
        for n in 1..40usize {
            let mut x: Vec<f64> = (0..n).map(|i| ((i * 37 + 11) % 29) as f64 - 7.5).collect();
            let expected = median(&x, None).unwrap();
            assert_eq!(median_of(&mut x), Some(expected), "{n}");
        }
        assert_eq!(median_of(&mut [4.0, 1.0, 2.0, 8.0]), Some(3.0));
        assert!(median_of(&mut [f64::NAN, 1.0]).unwrap().is_nan());
    }

    #[test]
    fn mad_of_known_values() {
        assert_relative_eq!(mad(&[1.0, 1.0, 2.0, 2.0, 4.0, 6.0, 9.0], None).unwrap(), 1.0);
    }

    #[test]
    fn bad_input_is_an_error() {
        assert!(quantile(&[], None, 0.5).is_err());
        assert!(quantile(&[1.0], None, 1.5).is_err());
        assert!(quantile(&[1.0], None, f64::NAN).is_err());
    }
}
