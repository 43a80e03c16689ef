//! Repeatability of one way of measuring: the same people measured again.
//!
//! With the trials M of person i, K_i of them, and SS_i their sum of squares about their mean: TEM = sqrt(sum SS_i / sum (K_i - 1)), which for
//! two trials is sqrt(sum d^2 / 2N) and for K trials the formula of Ulijaszek & Kerr 1999. Intraclass correlations after Shrout & Fleiss 1979.

use std::collections::{BTreeMap, BTreeSet};

use formkin_stats::distribution::{chi_square_quantile, f_quantile};
use formkin_table::{NumberColumn, Table, TableError};
use serde::{Deserialize, Serialize};

use crate::MeasureError;

/// People that a repeatability needs at least (common practice, no source).
pub const LEAST_PEOPLE: usize = 20;
/// Least detectable change over TEM: 1.96 sqrt 2.
pub(crate) const DETECTABLE: f64 = 2.77;

/// How repeats are read from a table.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct RepeatsParams {
    /// The column that says whose row it is.
    pub participant: String,
    /// The column that says which trial it is.
    pub session: String,
    /// Only these dimensions; empty for every column of numbers.
    pub only: Vec<String>,
}

impl Default for RepeatsParams {
    fn default() -> Self {
        Self { participant: "participant".to_owned(), session: "session".to_owned(), only: Vec::new() }
    }
}

/// An intraclass correlation with its interval.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Icc {
    /// The value.
    pub value: f64,
    /// Lower end of the 95 % interval.
    pub low: f64,
    /// Upper end.
    pub high: f64,
}

/// Mean of one trial against the mean of all.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SessionShift {
    /// The session.
    pub session: String,
    /// People with a value in it.
    pub n: usize,
    /// Mean over its people of (their value less their own mean).
    pub shift: f64,
}

/// How well a dimension repeats, in the unit of its column.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Repeatability {
    /// The dimension.
    pub dimension: String,
    /// Its unit.
    pub unit: Option<String>,
    /// People with two trials or more.
    pub people: usize,
    /// Their values.
    pub values: usize,
    /// Trials of each person, where all have as many.
    pub trials: Option<usize>,
    /// Mean of all values.
    pub mean: f64,
    /// Standard deviation of all values, divisor n - 1.
    pub sd: f64,
    /// Technical error of measurement.
    pub tem: f64,
    /// Its 95 % interval, by chi-square with sum (K_i - 1) degrees of freedom.
    pub tem_interval: (f64, f64),
    /// 100 TEM / mean; `None` where the mean is not above 0.
    pub tem_percent: Option<f64>,
    /// Reliability, 1 - TEM^2 / SD^2; `None` where the values do not vary.
    pub reliability: Option<f64>,
    /// One-way intraclass correlation of single values, ICC(1,1): who measured when does not matter.
    pub icc_one_way: Option<Icc>,
    /// Two-way intraclass correlation of single values for absolute agreement, ICC(2,1); `None` unless every person has every session once.
    pub icc_agreement: Option<f64>,
    /// Two-way intraclass correlation for consistency, ICC(3,1): shifts between sessions are forgiven.
    pub icc_consistency: Option<f64>,
    /// Least detectable change between two single values, 2.77 TEM: smaller changes of a person cannot be told from error.
    pub least_detectable_change: f64,
    /// Shift of each session.
    pub sessions: Vec<SessionShift>,
    /// What a reader must know.
    pub notes: Vec<String>,
}

/// Repeatability of every dimension of a table with several rows a person.
///
/// # Errors
/// [`TableError::Column`] where a column is missing; [`TableError::Table`] where nobody was measured twice, or one person has two rows of one
/// session.
pub fn repeatability(table: &Table, params: &RepeatsParams) -> Result<Vec<Repeatability>, MeasureError> {
    let people = table.text(&params.participant)?;
    let sessions = table.text(&params.session)?;
    let fault = |reason: String| {
        MeasureError::from(TableError::Table { table: "the table of repeats".to_owned(), reason })
    };
    let mut seen = BTreeSet::new();
    for pair in people.iter().zip(&sessions) {
        if !seen.insert(pair) {
            return Err(fault(format!(
                "`{}` has two rows of `{}` `{}`; give every trial a name of its own",
                pair.0, params.session, pair.1
            )));
        }
    }
    for name in &params.only {
        table.number(name)?;
    }
    let wanted = |c: &NumberColumn| {
        c.name != params.session
            && c.name != params.participant
            && (params.only.is_empty() || params.only.iter().any(|n| *n == c.name || *n == c.header()))
    };
    let found: Vec<Repeatability> =
        table.numbers.iter().filter(|c| wanted(c)).filter_map(|c| one(c, &people, &sessions)).collect();
    if found.is_empty() {
        return Err(fault(format!(
            "no two people have two values of one dimension each; rows are people of column `{}` in sessions of column `{}`",
            params.participant, params.session
        )));
    }
    Ok(found)
}

#[expect(
    clippy::too_many_lines,
    reason = "the figures of one dimension, of which later ones need the earlier"
)]
fn one(column: &NumberColumn, people: &[String], sessions: &[String]) -> Option<Repeatability> {
    let mut of_person: BTreeMap<&str, BTreeMap<&str, f64>> = BTreeMap::new();
    for (i, value) in column.values.iter().enumerate() {
        if let Some(v) = value.filter(|v| v.is_finite()) {
            of_person.entry(&people[i]).or_default().insert(&sessions[i], v);
        }
    }
    let single = of_person.values().filter(|trials| trials.len() == 1).count();
    of_person.retain(|_, trials| trials.len() > 1);
    let n = of_person.len();
    if n < 2 {
        return None;
    }
    let values: usize = of_person.values().map(BTreeMap::len).sum();
    let total = values as f64;
    let mean = of_person.values().flat_map(BTreeMap::values).sum::<f64>() / total;
    let all = of_person.values().flat_map(BTreeMap::values).map(|v| (v - mean).powi(2)).sum::<f64>();
    let own_mean = |trials: &BTreeMap<&str, f64>| trials.values().sum::<f64>() / trials.len() as f64;
    let (mut within, mut between, mut squares) = (0.0, 0.0, 0.0);
    for trials in of_person.values() {
        let m = own_mean(trials);
        let k = trials.len() as f64;
        within += trials.values().map(|v| (v - m).powi(2)).sum::<f64>();
        between += k * (m - mean).powi(2);
        squares += k * k;
    }
    let df = total - n as f64;
    let tem = (within / df).sqrt();
    let sd = (all / (total - 1.0)).sqrt();
    // mean number of trials where they differ (Shrout & Fleiss; Snedecor & Cochran)
    let k = (total - squares / total) / (n as f64 - 1.0);
    let (msb, msw) = (between / (n as f64 - 1.0), within / df);
    let icc_one_way = (msb + (k - 1.0) * msw > 0.0).then(|| {
        let of = |f: f64| if f.is_finite() { (f - 1.0) / (f + k - 1.0) } else { 1.0 };
        let f = msb / msw;
        let (df1, df2) = (n as f64 - 1.0, df);
        Icc {
            value: (msb - msw) / (msb + (k - 1.0) * msw),
            low: of(f / f_quantile(0.975, df1, df2)),
            high: of(f * f_quantile(0.975, df2, df1)),
        }
    });
    let names: BTreeSet<&str> = of_person.values().flat_map(|t| t.keys().copied()).collect();
    let shifts: Vec<SessionShift> = names
        .iter()
        .map(|&session| {
            let own: Vec<f64> =
                of_person.values().filter_map(|t| t.get(session).map(|v| v - own_mean(t))).collect();
            SessionShift {
                session: session.to_owned(),
                n: own.len(),
                shift: own.iter().sum::<f64>() / own.len() as f64,
            }
        })
        .collect();
    let complete = of_person.values().all(|t| t.len() == names.len());
    let two_way = complete.then(|| {
        let (k, n) = (names.len() as f64, n as f64);
        let ssj: f64 = shifts.iter().map(|s| n * s.shift * s.shift).sum();
        let (msj, mse) = (ssj / (k - 1.0), (within - ssj).max(0.0) / ((n - 1.0) * (k - 1.0)));
        let ratio = |over: f64, under: f64| (under > 0.0).then_some(over / under);
        (
            ratio(msb - mse, msb + (k - 1.0) * mse + k * (msj - mse) / n),
            ratio(msb - mse, msb + (k - 1.0) * mse),
        )
    });
    let mut notes = Vec::new();
    if n < LEAST_PEOPLE {
        notes.push(format!(
            "{n} people: {LEAST_PEOPLE} at least are needed for a technical error to be relied on"
        ));
    }
    if single > 0 {
        notes.push(format!("{single} people have one value only and take no part"));
    }
    let reliability = (sd > 0.0).then(|| 1.0 - tem * tem / (sd * sd));
    if reliability.is_some_and(|r| r < 0.90) {
        notes.push("the reliability is under 0.90: differences between people drown in error".to_owned());
    }
    let trials =
        of_person.values().next().map(BTreeMap::len).filter(|k| of_person.values().all(|t| t.len() == *k));
    let at = |p: f64| tem * (df / chi_square_quantile(p, df)).sqrt();
    Some(Repeatability {
        dimension: column.name.clone(),
        unit: column.unit.clone(),
        people: n,
        values,
        trials,
        mean,
        sd,
        tem,
        tem_interval: (at(0.975), at(0.025)),
        tem_percent: (mean > 0.0).then(|| 100.0 * tem / mean),
        reliability,
        icc_one_way,
        icc_agreement: two_way.and_then(|t| t.0),
        icc_consistency: two_way.and_then(|t| t.1),
        least_detectable_change: DETECTABLE * tem,
        sessions: shifts,
        notes,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn long(rows: &[&[f64]]) -> Table {
        let mut csv = String::from("row,participant,session,x_mm\n");
        for (i, trials) in rows.iter().enumerate() {
            for (j, v) in trials.iter().enumerate() {
                csv.push_str(&format!("{i}-{j},P{i},S{j},{v}\n"));
            }
        }
        Table::parse_csv(&csv, "t", None).unwrap()
    }

    fn made(rows: &[&[f64]]) -> Repeatability {
        repeatability(&long(rows), &RepeatsParams::default()).unwrap().remove(0)
    }

    #[test]
    fn ratings_of_shrout_and_fleiss() {
        // Shrout & Fleiss 1979 (Psychological Bulletin 86), Table 2, six targets and four judges, from memory; the paper prints ICC(1,1) = .17,
        // ICC(2,1) = .29, ICC(3,1) = .71, and an interval of -.13 to .72 for the first
        let r = made(&[
            &[9., 2., 5., 8.],
            &[6., 1., 3., 2.],
            &[8., 4., 6., 8.],
            &[7., 1., 2., 6.],
            &[10., 5., 6., 9.],
            &[6., 2., 4., 7.],
        ]);
        let icc = r.icc_one_way.unwrap();
        assert!((icc.value - 0.17).abs() < 0.005, "{icc:?}");
        assert!((icc.low - -0.13).abs() < 0.006 && (icc.high - 0.72).abs() < 0.006, "{icc:?}");
        assert!((r.icc_agreement.unwrap() - 0.29).abs() < 0.005);
        assert!((r.icc_consistency.unwrap() - 0.71).abs() < 0.005 + 0.001);
        // mean square within of the paper's Table 3 is 6.26
        assert!((r.tem * r.tem - 6.26).abs() < 0.006);
        assert_eq!((r.trials, r.people, r.values), (Some(4), 6, 24));
    }

    #[test]
    fn two_trials_give_the_usual_formula() {
        let pairs: [[f64; 2]; 4] = [[100., 102.], [110., 109.], [95., 98.], [120., 120.]];
        let rows: Vec<&[f64]> = pairs.iter().map(|p| p.as_slice()).collect();
        let r = made(&rows);
        let tem = (pairs.iter().map(|p| (p[0] - p[1]).powi(2)).sum::<f64>() / 8.0).sqrt();
        assert!((r.tem - tem).abs() < 1e-12);
        assert!((r.tem_percent.unwrap() - 100.0 * tem / 106.75).abs() < 1e-9);
        assert!((r.least_detectable_change - 2.77 * tem).abs() < 1e-12);
        assert!((r.reliability.unwrap() - (1.0 - tem * tem / (r.sd * r.sd))).abs() < 1e-12);
        assert!(r.tem_interval.0 < r.tem && r.tem < r.tem_interval.1);
        assert!((r.sessions[0].shift + r.sessions[1].shift).abs() < 1e-12);
        assert!(r.notes[0].contains("4 people"));
    }

    #[test]
    fn perfect_repeats_have_no_error() {
        let r = made(&[&[1., 1., 1.], &[2., 2., 2.], &[5., 5., 5.]]);
        assert_eq!((r.tem, r.reliability, r.icc_one_way.unwrap().value), (0.0, Some(1.0), 1.0));
        assert_eq!(r.icc_agreement, Some(1.0));
    }

    #[test]
    fn people_with_one_value_take_no_part_and_double_rows_are_refused() {
        let r = made(&[&[1., 2.], &[3.], &[5., 7., 6.]]);
        assert_eq!((r.people, r.values, r.trials, r.icc_agreement), (2, 5, None, None));
        assert!(r.notes.iter().any(|n| n.contains("one value only")));
        assert!(repeatability(&long(&[&[1.], &[2.]]), &RepeatsParams::default()).is_err());
        let double = Table::parse_csv("r,participant,session,x_mm\n1,A,S,1\n2,A,S,2\n", "t", None).unwrap();
        assert!(
            repeatability(&double, &RepeatsParams::default()).unwrap_err().to_string().contains("two rows")
        );
    }

    #[test]
    fn a_known_error_is_found_again() {
        // person means 1..60, errors -+ e about them: TEM = e sqrt 2 for two trials
        let pairs: Vec<[f64; 2]> = (0..60).map(|i| [f64::from(i) + 3.0, f64::from(i) - 3.0]).collect();
        let rows: Vec<&[f64]> = pairs.iter().map(|p| p.as_slice()).collect();
        let r = made(&rows);
        assert!((r.tem - 3.0 * 2f64.sqrt()).abs() < 1e-12);
        assert!((r.sessions[0].shift - 3.0).abs() < 1e-12);
        assert!(r.icc_consistency.unwrap() > 0.9999 && r.icc_agreement.unwrap() < 0.98);
    }
}
