//! Smooth tables: monotone cubic interpolation of several columns, resampled evenly and smoothed.

/// Columns over an even grid, read with cubic interpolation.
#[derive(Debug, Clone)]
pub(crate) struct Table<const C: usize> {
    first: f64,
    step: f64,
    rows: Vec<[f64; C]>,
}

impl<const C: usize> Table<C> {
    /// From keys (place, columns) in ascending order of place: monotone cubic (Fritsch & Carlson 1980) in every column,
    /// sampled every `step`, smoothed by a Gaussian of standard deviation `blur` (ends held).
    pub(crate) fn new(keys: &[(f64, [f64; C])], step: f64, blur: f64) -> Self {
        let places: Vec<f64> = keys.iter().map(|k| k.0).collect();
        let slopes: Vec<Vec<f64>> = (0..C)
            .map(|c| monotone_slopes(&places, &keys.iter().map(|k| k.1[c]).collect::<Vec<_>>()))
            .collect();
        let (first, last) = (places[0], places[places.len() - 1]);
        let count = (((last - first) / step).ceil() as usize).max(1);
        let step = (last - first) / count as f64;
        let mut rows = Vec::with_capacity(count + 1);
        for i in 0..=count {
            let x = first + step * i as f64;
            let k = places.partition_point(|p| *p <= x).clamp(1, places.len() - 1) - 1;
            let mut row = [0.0; C];
            for (c, value) in row.iter_mut().enumerate() {
                *value = hermite(
                    x,
                    (places[k], places[k + 1]),
                    (keys[k].1[c], keys[k + 1].1[c]),
                    (slopes[c][k], slopes[c][k + 1]),
                );
            }
            rows.push(row);
        }
        let reach = (3.0 * blur / step).ceil() as isize;
        let smooth = if reach < 1 {
            rows
        } else {
            let at = |i: isize, c: usize| {
                // ends are continued along their last slope, so that they stay where they are
                let n = rows.len() as isize - 1;
                if i < 0 {
                    2.0 * rows[0][c] - rows[(-i).min(n) as usize][c]
                } else if i > n {
                    2.0 * rows[n as usize][c] - rows[(2 * n - i).max(0) as usize][c]
                } else {
                    rows[i as usize][c]
                }
            };
            (0..rows.len() as isize)
                .map(|i| {
                    let mut row = [0.0; C];
                    let mut total = 0.0;
                    for k in -reach..=reach {
                        let w = (-0.5 * (k as f64 * step / blur).powi(2)).exp();
                        total += w;
                        for (c, value) in row.iter_mut().enumerate() {
                            *value += w * at(i + k, c);
                        }
                    }
                    row.map(|v| v / total)
                })
                .collect()
        };
        Self { first, step, rows: smooth }
    }

    /// First and last place.
    pub(crate) fn range(&self) -> (f64, f64) {
        (self.first, self.first + self.step * (self.rows.len() - 1) as f64)
    }

    /// The columns at a place (held beyond the ends) and their slopes.
    pub(crate) fn at(&self, place: f64) -> ([f64; C], [f64; C]) {
        let n = self.rows.len() - 1;
        let t = ((place - self.first) / self.step).clamp(0.0, n as f64);
        let i = (t as usize).min(n - 1);
        let f = t - i as f64;
        let (a, b) = (&self.rows[i], &self.rows[i + 1]);
        let before = &self.rows[i.saturating_sub(1)];
        let after = &self.rows[(i + 2).min(n)];
        let mut value = [0.0; C];
        let mut slope = [0.0; C];
        for c in 0..C {
            let d = b[c] - a[c];
            let m0 = if i == 0 { d } else { (b[c] - before[c]) * 0.5 };
            let m1 = if i + 1 == n { d } else { (after[c] - a[c]) * 0.5 };
            let (p, q) = (3.0 * d - 2.0 * m0 - m1, m0 + m1 - 2.0 * d);
            value[c] = a[c] + f * (m0 + f * (p + f * q));
            slope[c] = (m0 + f * (2.0 * p + 3.0 * f * q)) / self.step;
        }
        (value, slope)
    }
}

/// Slopes of the monotone cubic through the points (Fritsch & Carlson 1980, weighted harmonic mean).
pub(crate) fn monotone_slopes(x: &[f64], y: &[f64]) -> Vec<f64> {
    let n = x.len();
    let secant: Vec<f64> = (0..n - 1).map(|i| (y[i + 1] - y[i]) / (x[i + 1] - x[i])).collect();
    (0..n)
        .map(|i| {
            if i == 0 {
                secant[0]
            } else if i == n - 1 {
                secant[n - 2]
            } else if secant[i - 1] * secant[i] <= 0.0 {
                0.0
            } else {
                let (h0, h1) = (x[i] - x[i - 1], x[i + 1] - x[i]);
                let (w0, w1) = (2.0 * h1 + h0, h1 + 2.0 * h0);
                (w0 + w1) / (w0 / secant[i - 1] + w1 / secant[i])
            }
        })
        .collect()
}

fn hermite(x: f64, (x0, x1): (f64, f64), (y0, y1): (f64, f64), (m0, m1): (f64, f64)) -> f64 {
    let h = x1 - x0;
    let t = ((x - x0) / h).clamp(0.0, 1.0);
    let (t2, t3) = (t * t, t * t * t);
    (2.0 * t3 - 3.0 * t2 + 1.0) * y0
        + (t3 - 2.0 * t2 + t) * h * m0
        + (3.0 * t2 - 2.0 * t3) * y1
        + (t3 - t2) * h * m1
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_table_goes_through_a_straight_line_and_does_not_overshoot_a_step() {
        let line = Table::new(&[(0.0, [1.0]), (10.0, [2.0]), (40.0, [5.0])], 1.0, 3.0);
        for x in [0.0, 3.3, 17.0, 40.0] {
            let (value, slope) = line.at(x);
            assert!((value[0] - 1.0 - x / 10.0).abs() < 1e-9);
            assert!((slope[0] - 0.1).abs() < 1e-6, "{x}: {}", slope[0]);
        }
        let step = Table::new(&[(0.0, [0.0]), (10.0, [0.0]), (20.0, [1.0]), (30.0, [1.0])], 1.0, 0.0);
        for i in 0..=300 {
            let v = step.at(f64::from(i) * 0.1).0[0];
            assert!((-3e-3..=1.003).contains(&v), "{v}");
        }
    }
}
