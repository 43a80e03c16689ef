//! Agreement of two groupings.

use std::collections::BTreeMap;

/// The adjusted Rand index of two groupings (Hubert & Arabie 1985), weighted: 1 where they are the same, about 0 where they agree by chance alone. None
/// where lengths differ, there are no points, or both put all points into one group.
#[must_use]
pub fn adjusted_rand(a: &[usize], b: &[usize], weights: Option<&[f64]>) -> Option<f64> {
    if a.len() != b.len() || a.is_empty() || weights.is_some_and(|w| w.len() != a.len()) {
        return None;
    }
    let mut cells: BTreeMap<(usize, usize), f64> = BTreeMap::new();
    let (mut rows, mut columns): (BTreeMap<usize, f64>, BTreeMap<usize, f64>) = Default::default();
    let mut total = 0.0;
    for i in 0..a.len() {
        let w = weights.map_or(1.0, |w| w[i]);
        *cells.entry((a[i], b[i])).or_default() += w;
        *rows.entry(a[i]).or_default() += w;
        *columns.entry(b[i]).or_default() += w;
        total += w;
    }
    let pairs = |n: f64| n * (n - 1.0) / 2.0;
    let together: f64 = cells.values().map(|n| pairs(*n)).sum();
    let (of_a, of_b): (f64, f64) =
        (rows.values().map(|n| pairs(*n)).sum(), columns.values().map(|n| pairs(*n)).sum());
    let expected = of_a * of_b / pairs(total);
    let most = (of_a + of_b) / 2.0;
    ((most - expected).abs() > 1e-12 * most).then(|| (together - expected) / (most - expected))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn known_values() {
        assert_eq!(adjusted_rand(&[0, 0, 1, 1], &[5, 5, 2, 2], None), Some(1.0));
        // scikit-learn's documentation: adjusted_rand_score([0, 0, 1, 2], [0, 0, 1, 1]) = 0.571428...
        assert!((adjusted_rand(&[0, 0, 1, 2], &[0, 0, 1, 1], None).unwrap() - 4.0 / 7.0).abs() < 1e-12);
        assert_eq!(adjusted_rand(&[0, 0], &[0], None), None);
    }
}
