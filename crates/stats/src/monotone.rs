//! Monotone regression, and a line with one break.

use serde::{Deserialize, Serialize};

use crate::StatsError;
use crate::moments::check;

/// The values nearest to `y` (weighted squares) that never fall: pool adjacent violators (Ayer et al. 1955). `y` is in the order of the predictor.
///
/// # Errors
/// [`StatsError::TooFew`] for no values, [`StatsError::NotFinite`], bad weights.
pub fn rising(y: &[f64], weights: Option<&[f64]>) -> Result<Vec<f64>, StatsError> {
    check(y, weights)?;
    // Blocks: mean, weight, length.
    let mut blocks: Vec<(f64, f64, usize)> = Vec::new();
    for (i, &value) in y.iter().enumerate() {
        let w = weights.map_or(1.0, |w| w[i]);
        blocks.push((value, w, 1));
        while let [.., a, b] = blocks.as_slice() {
            if a.0 <= b.0 {
                break;
            }
            let weight = a.1 + b.1;
            let mean = if weight > 0.0 { (a.0 * a.1 + b.0 * b.1) / weight } else { (a.0 + b.0) / 2.0 };
            let pooled = (mean, weight, a.2 + b.2);
            blocks.truncate(blocks.len() - 2);
            blocks.push(pooled);
        }
    }
    Ok(blocks.into_iter().flat_map(|(mean, _, length)| std::iter::repeat_n(mean, length)).collect())
}

/// A line, or two lines that meet.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct BrokenLine {
    /// Where the slope changes; None for one line.
    pub break_at: Option<f64>,
    /// Value at `from`.
    pub start: f64,
    /// The least x.
    pub from: f64,
    /// Slope to the break (or everywhere).
    pub slope: f64,
    /// Slope beyond it; the same without a break.
    pub slope_above: f64,
    /// Weighted residual standard deviation.
    pub residual_sd: f64,
}

impl BrokenLine {
    /// The value at x; the lines go on beyond the ends.
    #[must_use]
    pub fn at(&self, x: f64) -> f64 {
        let below = self.break_at.map_or(x, |b| x.min(b));
        let above = self.break_at.map_or(0.0, |b| (x - b).max(0.0));
        self.start + self.slope * (below - self.from) + self.slope_above * above
    }
}

/// Fits one line, and two lines that meet at one of `breaks`; the break is kept where it lowers n ln RSS by more than 3 ln n, the price of a break and a slope
/// and of the choice among breaks (after Schwarz 1978). Slopes below 0 are set to 0 where `monotone`.
///
/// # Errors
/// [`StatsError::TooFew`] under four points, [`StatsError::Size`], [`StatsError::Constant`] where x does not vary.
pub fn broken_line(
    x: &[f64],
    y: &[f64],
    weights: Option<&[f64]>,
    breaks: &[f64],
    monotone: bool,
) -> Result<BrokenLine, StatsError> {
    check(x, weights)?;
    check(y, weights)?;
    if x.len() != y.len() {
        return Err(StatsError::Size { what: "values of y", expected: x.len(), found: y.len() });
    }
    if x.len() < 4 {
        return Err(StatsError::TooFew { what: "points of a line", least: 4, found: x.len() });
    }
    let from = x.iter().copied().fold(f64::INFINITY, f64::min);
    if x.iter().all(|v| *v == from) {
        return Err(StatsError::Constant { what: "the predictor" });
    }
    let n = x.len() as f64;
    let scale = n / weights.map_or(n, |w| w.iter().sum());
    let weight = |i: usize| weights.map_or(1.0, |w| w[i]) * scale;
    let fit = |break_at: Option<f64>| -> Option<(BrokenLine, f64)> {
        let columns = |v: f64| -> [f64; 3] {
            match break_at {
                None => [1.0, v - from, 0.0],
                Some(b) => [1.0, v.min(b) - from, (v - b).max(0.0)],
            }
        };
        let solve = |kept: [bool; 3]| -> Option<[f64; 3]> {
            let mut a = [[0.0; 4]; 3];
            for i in 0..x.len() {
                let c = columns(x[i]);
                for r in 0..3 {
                    for s in 0..3 {
                        a[r][s] += weight(i) * c[r] * c[s];
                    }
                    a[r][3] += weight(i) * c[r] * y[i];
                }
            }
            for r in 0..3 {
                if !kept[r] {
                    a[r] = [0.0; 4];
                    (0..3).for_each(|s| a[s][r] = 0.0);
                    a[r][r] = 1.0;
                }
            }
            gauss(a)
        };
        let mut kept = [true, true, break_at.is_some()];
        let mut found = solve(kept)?;
        // Each round takes a falling slope out, of which there are at most two.
        for _ in 0..2 {
            let Some(down) = (1..3).find(|&r| monotone && kept[r] && found[r] < 0.0) else { break };
            kept[down] = false;
            found = solve(kept)?;
        }
        let [start, slope, above] = found;
        let line = BrokenLine {
            break_at,
            start,
            from,
            slope,
            slope_above: if break_at.is_some() { above } else { slope },
            residual_sd: 0.0,
        };
        let rss: f64 = (0..x.len()).map(|i| weight(i) * (y[i] - line.at(x[i])).powi(2)).sum();
        Some((line, rss))
    };
    let (mut line, mut rss) = fit(None).ok_or(StatsError::Constant { what: "the predictor" })?;
    let single = rss;
    let floor = 1e-18 * y.iter().map(|v| v * v).sum::<f64>();
    for &b in breaks {
        if let Some((broken, r)) = fit(Some(b))
            && n * ((r + floor) / (single + floor)).ln() < -3.0 * n.ln()
            && r < rss
        {
            (line, rss) = (broken, r);
        }
    }
    let df = n - if line.break_at.is_some() { 3.0 } else { 2.0 };
    line.residual_sd = (rss / df.max(1.0)).sqrt();
    Ok(line)
}

fn gauss(mut a: [[f64; 4]; 3]) -> Option<[f64; 3]> {
    for c in 0..3 {
        let pivot = (c..3).max_by(|&p, &q| a[p][c].abs().total_cmp(&a[q][c].abs()))?;
        if a[pivot][c].abs() < 1e-12 {
            return None;
        }
        a.swap(c, pivot);
        for r in 0..3 {
            if r != c {
                let f = a[r][c] / a[c][c];
                for s in c..4 {
                    a[r][s] -= f * a[c][s];
                }
            }
        }
    }
    Some([a[0][3] / a[0][0], a[1][3] / a[1][1], a[2][3] / a[2][2]])
}

#[cfg(test)]
mod tests {
    use approx::assert_relative_eq;

    use super::*;

    #[test]
    fn violators_are_pooled() {
        // By hand; as scikit-learn's isotonic_regression([5, 3, 1, 2, 8, 10, 7, 9, 6, 4]) in its documentation:
        // 2.75 x 4, then 7.33 x 6.
        let found = rising(&[5.0, 3.0, 1.0, 2.0, 8.0, 10.0, 7.0, 9.0, 6.0, 4.0], None).unwrap();
        for (i, v) in found.iter().enumerate() {
            assert_relative_eq!(*v, if i < 4 { 2.75 } else { 44.0 / 6.0 }, max_relative = 1e-12);
        }
        assert_eq!(rising(&[1.0, 2.0, 2.0], None).unwrap(), [1.0, 2.0, 2.0]);
        assert_relative_eq!(rising(&[4.0, 1.0], Some(&[1.0, 2.0])).unwrap()[0], 2.0);
    }

    #[test]
    fn a_break_is_found_where_there_is_one() {
        let x: Vec<f64> = (0..40).map(f64::from).collect();
        let wobble = |v: f64| 0.3 * (v * 2.4).sin();
        let broken: Vec<f64> =
            x.iter().map(|v| 5.0 + 0.5 * v.min(20.0) + 2.0 * (v - 20.0).max(0.0) + wobble(*v)).collect();
        let line = broken_line(&x, &broken, None, &[10.0, 20.0, 30.0], true).unwrap();
        assert_eq!(line.break_at, Some(20.0));
        assert!((line.slope - 0.5).abs() < 0.02 && (line.slope_above - 2.0).abs() < 0.02);
        assert!((line.at(20.0) - 15.0).abs() < 0.3);
        let straight: Vec<f64> = x.iter().map(|v| 1.0 + 0.5 * v + wobble(*v)).collect();
        assert_eq!(broken_line(&x, &straight, None, &[10.0, 20.0, 30.0], true).unwrap().break_at, None);
        let falling: Vec<f64> = x.iter().map(|v| -v).collect();
        assert_eq!(broken_line(&x, &falling, None, &[], true).unwrap().slope, 0.0);
    }
}
