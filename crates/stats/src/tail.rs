//! Tails of distributions, from which tests are read.

use statrs::distribution::{ContinuousCDF, FisherSnedecor};

/// The chance that an F variable of (df1, df2) degrees of freedom exceeds `f`; NaN where a degree of freedom is not above 0.
#[must_use]
pub fn f_tail(f: f64, df1: f64, df2: f64) -> f64 {
    match FisherSnedecor::new(df1, df2) {
        Ok(_) if f.is_nan() => f64::NAN,
        Ok(law) => {
            if f <= 0.0 {
                1.0
            } else if f.is_infinite() {
                0.0
            } else {
                law.sf(f)
            }
        }
        Err(_) => f64::NAN,
    }
}

#[cfg(test)]
mod tests {
    use approx::assert_abs_diff_eq;

    use super::*;

    #[test]
    fn known_values() {
        // scipy: f.sf(7.795607, 4, 55) = 4.736e-05
        assert_abs_diff_eq!(f_tail(7.795_607, 4.0, 55.0), 4.736e-5, epsilon = 1e-8);
        assert!(f_tail(1.0, 0.0, 3.0).is_nan());
        assert_eq!((f_tail(0.0, 2.0, 3.0), f_tail(f64::INFINITY, 2.0, 3.0)), (1.0, 0.0));
    }
}
