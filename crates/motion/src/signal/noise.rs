//! The noise floor of a signal: what differs from frame to frame without a course.
//!
//! The third difference of independent noise of standard deviation s has the variance 20 s^2 (1 + 9 + 9 + 1), that of a smooth
//! movement almost none. Its median absolute size / 0.6745, over sqrt 20, is the floor; fast movement at a low frame rate raises it, so it is
//! an upper bound.

use formkin_stats::quantile::{MAD_TO_SD, median_of};

/// Samples before which there is no floor.
const FEWEST: usize = 12;

/// The standard deviation of the noise of values an even step apart, `None` where there are too few.
#[must_use]
pub fn noise_floor(values: &[f64]) -> Option<f64> {
    if values.len() < FEWEST {
        return None;
    }
    let mut third: Vec<f64> =
        values.windows(4).map(|w| (w[3] - 3.0 * w[2] + 3.0 * w[1] - w[0]).abs()).collect();
    median_of(&mut third).map(|median| median * MAD_TO_SD / 20f64.sqrt())
}

#[cfg(test)]
mod tests {
    use formkin_stats::random::stream;
    use rand::Rng;

    use super::*;

    #[test]
    fn noise_over_a_swing_is_sized() {
        let mut rng = stream(2, "noise");
        let v: Vec<f64> = (0..2000)
            .map(|i| {
                let g: f64 = (0..12).map(|_| rng.r#gen::<f64>()).sum::<f64>() - 6.0;
                50.0 * (f64::from(i) * 0.1).sin() + 0.7 * g
            })
            .collect();
        assert!((noise_floor(&v).unwrap() - 0.7).abs() < 0.05);
        assert!(noise_floor(&[1.0; 5]).is_none());
    }
}
