//! Many tests at once: how many of the findings are false.

use crate::StatsError;

/// Benjamini and Hochberg's (1995) adjusted p values: q_(i) = min over j >= i of m p_(j) / j, at most 1. Calling everything with q <= a a finding keeps the expected share of
/// false findings at or under a, where the tests are independent or positively dependent, as on neighbouring places of a body.
///
/// # Errors
/// [`StatsError::OutOfRange`] where a value is no probability.
pub fn false_discovery(p: &[f64]) -> Result<Vec<f64>, StatsError> {
    if let Some(&value) = p.iter().find(|v| !(0.0..=1.0).contains(*v)) {
        return Err(StatsError::OutOfRange { name: "p", value, range: "0 to 1" });
    }
    let m = p.len() as f64;
    let mut order: Vec<usize> = (0..p.len()).collect();
    order.sort_by(|&a, &b| p[b].total_cmp(&p[a]));
    let mut q = vec![1.0; p.len()];
    let mut least = 1.0f64;
    for (i, &at) in order.iter().enumerate() {
        least = least.min(p[at] * m / (m - i as f64));
        q[at] = least;
    }
    Ok(q)
}

/// Holm's (1979) adjusted p values: p_(i) becomes the largest of (m - j + 1) p_(j) over j <= i, at most 1. Calling everything at or under a a finding keeps the chance of any false
/// finding at or under a, however the tests hang together.
///
/// # Errors
/// As [`false_discovery`].
pub fn holm(p: &[f64]) -> Result<Vec<f64>, StatsError> {
    if let Some(&value) = p.iter().find(|v| !(0.0..=1.0).contains(*v)) {
        return Err(StatsError::OutOfRange { name: "p", value, range: "0 to 1" });
    }
    let mut order: Vec<usize> = (0..p.len()).collect();
    order.sort_by(|&a, &b| p[a].total_cmp(&p[b]));
    let mut adjusted = vec![1.0; p.len()];
    let mut most = 0.0f64;
    for (i, &at) in order.iter().enumerate() {
        most = most.max(((p.len() - i) as f64 * p[at]).min(1.0));
        adjusted[at] = most;
    }
    Ok(adjusted)
}

#[cfg(test)]
mod tests {
    use approx::assert_abs_diff_eq;

    use super::*;

    #[test]
    fn adjusted_values_of_a_small_set() {
        // by hand: sorted .01 .02 .03 .5 -> 4 * .01 = .04, 2 * .02 = .04, 4/3 * .03 = .04, .5
        let q = false_discovery(&[0.03, 0.5, 0.01, 0.02]).unwrap();
        for (found, want) in q.iter().zip([0.04, 0.5, 0.04, 0.04]) {
            assert_abs_diff_eq!(*found, want, epsilon = 1e-12);
        }
        assert!(false_discovery(&[1.2]).is_err());
        assert!(false_discovery(&[f64::NAN]).is_err());
        assert!(false_discovery(&[]).unwrap().is_empty());
    }

    #[test]
    fn adjusted_values_of_a_family() {
        // by hand: sorted .01 .02 .03 .5 -> 4 * .01, 3 * .02, 2 * .03, .5
        let adjusted = holm(&[0.03, 0.5, 0.01, 0.02]).unwrap();
        for (found, want) in adjusted.iter().zip([0.06, 0.5, 0.04, 0.06]) {
            assert_abs_diff_eq!(*found, want, epsilon = 1e-12);
        }
        assert_eq!(holm(&[0.9, 0.8]).unwrap(), [1.0, 1.0]);
        assert!(holm(&[-0.1]).is_err());
    }
}
