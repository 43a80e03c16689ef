//! Quantiles of the usual distributions.

use statrs::distribution::{ChiSquared, ContinuousCDF, FisherSnedecor, StudentsT};

/// The quantile of the chi-square distribution with `df` degrees of freedom: 6.635 for p = 0.99 and df = 1. Not a number where `df` is not above 0 or p lies
/// outside 0 to 1.
#[must_use]
pub fn chi_square_quantile(p: f64, df: f64) -> f64 {
    match ChiSquared::new(df) {
        Ok(law) if (0.0..=1.0).contains(&p) => law.inverse_cdf(p),
        _ => f64::NAN,
    }
}

/// Two-sided quantile of Student's t with `df` degrees of freedom: 2.228 for a level of 0.95 and df = 10. Not a number where `df` is not above 0; a level
/// outside 0 to 1 is taken as its nearest end.
#[must_use]
pub fn student_t_quantile(level: f64, df: f64) -> f64 {
    match StudentsT::new(0.0, 1.0, df) {
        Ok(law) => law.inverse_cdf(0.5 + level.clamp(0.0, 1.0) / 2.0),
        Err(_) => f64::NAN,
    }
}

/// The quantile of the F distribution with `df1` and `df2` degrees of freedom: 4.103 for p = 0.95, df 2 and 10. Not a number where a df is not above 0 or p lies
/// outside 0 to 1.
#[must_use]
pub fn f_quantile(p: f64, df1: f64, df2: f64) -> f64 {
    match FisherSnedecor::new(df1, df2) {
        Ok(law) if (0.0..=1.0).contains(&p) => law.inverse_cdf(p),
        _ => f64::NAN,
    }
}

#[cfg(test)]
mod tests {
    use approx::assert_abs_diff_eq;

    use super::*;

    #[test]
    fn quantiles_of_printed_tables() {
        // printed tables, from memory
        assert_abs_diff_eq!(chi_square_quantile(0.99, 1.0), 6.6349, epsilon = 1e-4);
        assert_abs_diff_eq!(chi_square_quantile(0.99, 3.0), 11.3449, epsilon = 1e-4);
        assert_abs_diff_eq!(student_t_quantile(0.95, 10.0), 2.2281, epsilon = 1e-4);
        assert_abs_diff_eq!(f_quantile(0.95, 2.0, 10.0), 4.1028, epsilon = 1e-4);
        assert!(f_quantile(0.5, 0.0, 1.0).is_nan());
        assert!(chi_square_quantile(0.5, 0.0).is_nan());
        assert!(student_t_quantile(0.5, -1.0).is_nan());
    }
}
