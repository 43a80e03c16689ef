//! The delay of one signal behind another, by cross-correlation.
//!
//! For a delay d the correlation is Pearson's over the part in which both x(t) and y(t + d) are known; the delay with the largest is
//! taken, refined between samples by a golden-section search on the cubic through the samples. For two oscillations of one
//! frequency this is exact whatever part of a cycle the record ends in.

use serde::{Deserialize, Serialize};

use super::gaps::cubic_even;

/// Fewest samples that both signals must share.
const SHARED: usize = 8;

/// The delay of a signal behind another.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Lag {
    /// The delay, in s: positive where the signal comes later.
    pub seconds: f64,
    /// The delay as part of a cycle, in degrees, where the cycle is known.
    pub degrees: Option<f64>,
    /// The correlation at that delay.
    pub correlation: f64,
}

/// The delay of `y` behind `x`, both one value every `step_s` seconds, looked for within half a cycle (a quarter of the record where
/// the cycle's frequency is not known). `None` where one of them does not vary or they are too short.
#[must_use]
pub fn lag(x: &[f64], y: &[f64], step_s: f64, cycle_hz: Option<f64>) -> Option<Lag> {
    let n = x.len().min(y.len());
    let reach = match cycle_hz.filter(|f| *f > 0.0) {
        Some(hz) => (0.5 / hz / step_s).round() as usize,
        None => n / 4,
    };
    if n < SHARED + reach || reach == 0 {
        return None;
    }
    let at = |delay: f64| correlation(&x[..n], &y[..n], delay);
    let (mut best, mut largest) = (0.0, f64::NEG_INFINITY);
    for d in -(reach as i64)..=reach as i64 {
        let r = at(d as f64)?;
        if r > largest {
            (best, largest) = (d as f64, r);
        }
    }
    // golden section within one sample to either side
    let golden = 0.5 * (5f64.sqrt() - 1.0);
    let (mut low, mut high) = (best - 1.0, best + 1.0);
    for _ in 0..48 {
        let (a, b) = (high - golden * (high - low), low + golden * (high - low));
        if at(a)? >= at(b)? {
            high = b;
        } else {
            low = a;
        }
    }
    let delay = 0.5 * (low + high);
    let seconds = delay * step_s;
    // half a cycle early is half a cycle late
    let degrees = cycle_hz.map(|hz| 180.0 - (180.0 - 360.0 * hz * seconds).rem_euclid(360.0));
    Some(Lag { seconds, degrees, correlation: at(delay)? })
}

/// Pearson's correlation of x(t) and y(t + delay), the delay in samples, over the whole samples of x for which both are known.
fn correlation(x: &[f64], y: &[f64], delay: f64) -> Option<f64> {
    let n = x.len();
    let last = (n - 1) as f64;
    let from = (-delay).ceil().max(0.0) as usize;
    let to = (last - delay).floor().min(last) as usize;
    if to < from + SHARED {
        return None;
    }
    let (mut sx, mut sy, mut sxx, mut syy, mut sxy) = (0.0, 0.0, 0.0, 0.0, 0.0);
    let (x0, y0) = (x[from], y[from]);
    for i in from..=to {
        let (a, b) = (x[i] - x0, cubic_even(y, (i as f64 + delay).clamp(0.0, last)) - y0);
        sx += a;
        sy += b;
        sxx += a * a;
        syy += b * b;
        sxy += a * b;
    }
    let m = (to - from + 1) as f64;
    let (vx, vy, c) = (sxx - sx * sx / m, syy - sy * sy / m, sxy - sx * sy / m);
    (vx > 0.0 && vy > 0.0).then(|| c / (vx * vy).sqrt())
}

#[cfg(test)]
mod tests {
    use std::f64::consts::TAU;

    use super::*;

    #[test]
    fn a_lag_of_35_degrees_is_found() {
        let (hz, step) = (3.0, 1.0 / 60.0);
        for n in [60, 97, 143] {
            let x: Vec<f64> = (0..n).map(|i| 40.0 * (TAU * hz * f64::from(i) * step).sin() + 900.0).collect();
            let shift = 35f64.to_radians();
            let y: Vec<f64> = (0..n).map(|i| 11.0 * (TAU * hz * f64::from(i) * step - shift).sin()).collect();
            let found = lag(&x, &y, step, Some(hz)).unwrap();
            assert!((found.degrees.unwrap() - 35.0).abs() < 0.2, "{n} {found:?}");
            assert!(found.correlation > 0.999);
            let back = lag(&y, &x, step, Some(hz)).unwrap();
            assert!((back.degrees.unwrap() + 35.0).abs() < 0.2);
        }
    }

    #[test]
    fn still_or_short_signals_have_none() {
        assert!(lag(&[1.0; 100], &[2.0; 100], 0.01, Some(3.0)).is_none());
        assert!(lag(&[1.0, 2.0], &[1.0, 2.0], 0.01, None).is_none());
    }
}
