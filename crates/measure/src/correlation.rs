//! The correlation of two dimensions, with the number of people that it is of.

use formkin_stats::moments::pearson;
use formkin_table::NumberColumn;

/// The correlation of two columns and the number of people that it is of.
pub(crate) fn correlation(
    a: &NumberColumn,
    b: &NumberColumn,
    weights: Option<&[f64]>,
) -> (Option<f64>, usize) {
    let (mut x, mut y, mut w) = (Vec::new(), Vec::new(), Vec::new());
    for (i, pair) in a.values.iter().zip(&b.values).enumerate() {
        let weight = weights.map_or(1.0, |w| w[i]);
        if let ((Some(p), Some(q)), true) = (pair, weight > 0.0) {
            x.push(*p);
            y.push(*q);
            w.push(weight);
        }
    }
    (pearson(&x, &y, weights.map(|_| w.as_slice())).ok().filter(|r| r.is_finite()), x.len())
}
