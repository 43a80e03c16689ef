//! Paired differences: Student's t and Wilcoxon's signed ranks.

use serde::{Deserialize, Serialize};
use statrs::distribution::{ContinuousCDF, Normal, StudentsT};

use crate::StatsError;
use crate::moments::{mean, sd};

/// Up to so many differences the distribution of the signed ranks is counted out.
const EXACT_RANKS: usize = 50;

/// A test of paired differences against 0, two-sided.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct PairedTest {
    /// Number of pairs.
    pub n: usize,
    /// Mean difference.
    pub mean: f64,
    /// Standard deviation of the differences, divisor n - 1.
    pub sd: f64,
    /// Lower end of the t interval of the mean.
    pub low: f64,
    /// Upper end of it.
    pub high: f64,
    /// Level of the interval.
    pub level: f64,
    /// mean / (sd / sqrt n), n - 1 degrees of freedom; `None` where the differences do not vary.
    pub t: Option<f64>,
    /// Two-sided p of t.
    pub p_t: Option<f64>,
    /// Sum of the ranks of the positive differences (zeros left out, ties share their mean rank).
    pub signed_rank: f64,
    /// Two-sided p of the signed ranks: counted out for up to 50 differences without ties, else by the normal approximation with the
    /// correction for ties. `None` where all differences are 0.
    pub p_signed_rank: Option<f64>,
}

/// Tests paired differences against 0 (Student 1908; Wilcoxon 1945).
///
/// # Errors
/// [`StatsError::TooFew`] under two pairs, [`StatsError::NotFinite`], [`StatsError::OutOfRange`] for a level outside 0 to 1.
pub fn paired_test(differences: &[f64], level: f64) -> Result<PairedTest, StatsError> {
    let n = differences.len();
    if n < 2 {
        return Err(StatsError::TooFew { what: "pairs", least: 2, found: n });
    }
    if !(level > 0.0 && level < 1.0) {
        return Err(StatsError::OutOfRange { name: "the level", value: level, range: "between 0 and 1" });
    }
    let (mean, sd) = (mean(differences, None)?, sd(differences, None)?);
    let failed = |_| StatsError::TooFew { what: "pairs", least: 2, found: n };
    let student = StudentsT::new(0.0, 1.0, (n - 1) as f64).map_err(failed)?;
    let error = sd / (n as f64).sqrt();
    let reach = student.inverse_cdf(0.5 + 0.5 * level) * error;
    let t = (error > 0.0).then(|| mean / error);
    let (signed_rank, p_signed_rank) = signed_ranks(differences);
    Ok(PairedTest {
        n,
        mean,
        sd,
        low: mean - reach,
        high: mean + reach,
        level,
        t,
        p_t: t.map(|t| 2.0 * student.cdf(-t.abs())),
        signed_rank,
        p_signed_rank,
    })
}

fn signed_ranks(differences: &[f64]) -> (f64, Option<f64>) {
    let mut sizes: Vec<(f64, bool)> =
        differences.iter().filter(|d| **d != 0.0).map(|d| (d.abs(), *d > 0.0)).collect();
    sizes.sort_by(|a, b| a.0.total_cmp(&b.0));
    let n = sizes.len();
    let (mut positive, mut ties, mut tied) = (0.0, 0.0, false);
    let mut i = 0;
    while i < n {
        let mut j = i;
        while j + 1 < n && sizes[j + 1].0 == sizes[i].0 {
            j += 1;
        }
        let rank = (i + j) as f64 / 2.0 + 1.0;
        let group = (j - i + 1) as f64;
        if j > i {
            tied = true;
            ties += group * group * group - group;
        }
        positive += rank * sizes[i..=j].iter().filter(|s| s.1).count() as f64;
        i = j + 1;
    }
    if n == 0 {
        return (0.0, None);
    }
    let all = n * (n + 1) / 2;
    let p = if !tied && n <= EXACT_RANKS {
        // in how many of the 2^n choices of signs the sum is s
        let mut ways = vec![0.0f64; all + 1];
        ways[0] = 1.0;
        for rank in 1..=n {
            for s in (rank..=all).rev() {
                ways[s] += ways[s - rank];
            }
        }
        let least = positive.min(all as f64 - positive).round() as usize;
        let tail: f64 = ways[..=least].iter().sum::<f64>() / 2f64.powi(n as i32);
        (2.0 * tail).min(1.0)
    } else {
        let m = n as f64;
        let variance = m * (m + 1.0) * (2.0 * m + 1.0) / 24.0 - ties / 48.0;
        let z = (positive - all as f64 / 2.0) / variance.sqrt();
        2.0 * Normal::standard().cdf(-z.abs())
    };
    (positive, Some(p))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sleep_of_ten_patients() {
        // Student 1908: extra hours of sleep under the second drug less the first; t = 4.0621, p = 0.002833 (from memory)
        let d = [1.2, 2.4, 1.3, 1.3, 0.0, 1.0, 1.8, 0.8, 4.6, 1.4];
        let found = paired_test(&d, 0.95).unwrap();
        assert!((found.t.unwrap() - 4.0621).abs() < 1e-4 && (found.p_t.unwrap() - 0.002833).abs() < 1e-6);
        assert!((found.mean - 1.58).abs() < 1e-12 && (found.low - 0.7001).abs() < 1e-3);
        assert!((found.signed_rank - 45.0).abs() < 1e-12);
    }

    #[test]
    fn signed_ranks_are_counted_out() {
        // all five positive: 2 of the 32 choices of signs are as extreme
        let found = paired_test(&[1.0, 2.0, 3.0, 4.0, 5.0], 0.95).unwrap();
        assert!((found.p_signed_rank.unwrap() - 2.0 / 32.0).abs() < 1e-12);
        let none = paired_test(&[0.0, 0.0], 0.95).unwrap();
        assert_eq!((none.t, none.p_signed_rank), (None, None));
        assert!(paired_test(&[1.0], 0.95).is_err());
    }
}
