//! Dimensions of a population, in all and by group.

use std::collections::{BTreeMap, BTreeSet};

use formkin_stats::quantile::quantile;
use formkin_table::{NumberColumn, Table, TableError};
use serde::{Deserialize, Serialize};

use crate::MeasureError;

/// P5 and P95 are given from this many people on: below, fewer than three are expected beyond each (common practice, no source).
pub const PEOPLE_FOR_P5: usize = 60;
/// P1 and P99 are given from this many people on, by the same rule.
pub const PEOPLE_FOR_P1: usize = 300;

/// One dimension of the people of one group. A person counts once, whatever the number of items.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct DimensionSummary {
    /// The name of the dimension.
    pub name: String,
    /// Its unit; `None` for a pure number.
    pub unit: Option<String>,
    /// The group; `None` for all people together.
    pub group: Option<String>,
    /// People with a value.
    pub n: usize,
    /// People without one.
    pub missing: usize,
    /// Mean.
    pub mean: Option<f64>,
    /// Standard deviation, divisor n - 1; `None` under two people.
    pub sd: Option<f64>,
    /// Half the width of the 95 % interval of the mean, 1.96 sd / sqrt(n) (normal theory); `None` under 20 people.
    pub mean_half_width: Option<f64>,
    /// Least value.
    pub min: Option<f64>,
    /// 1st percentile; `None` under 300 people.
    pub p1: Option<f64>,
    /// 5th percentile; `None` under 60 people.
    pub p5: Option<f64>,
    /// Median.
    pub p50: Option<f64>,
    /// 95th percentile; `None` under 60 people.
    pub p95: Option<f64>,
    /// 99th percentile; `None` under 300 people.
    pub p99: Option<f64>,
    /// Largest value.
    pub max: Option<f64>,
}

/// Summaries of every column of numbers: all people first, then group by group in alphabetical order where `by` names a
/// column. `people` names the person of each row; rows of one person count once, by the first of them that has a
/// value (the first session), so that people scanned often do not weigh more. Without `people` every row is a person.
/// Percentiles are of type 7 (Hyndman & Fan 1996: linear between order statistics).
///
/// # Errors
/// [`MeasureError::Count`] where `people` has another length than the table; [`TableError::Column`] for an unknown `by`;
/// [`TableError::Table`] where one person is in two groups.
pub fn summarise(
    table: &Table,
    people: Option<&[String]>,
    by: Option<&str>,
) -> Result<Vec<DimensionSummary>, MeasureError> {
    let people = people.unwrap_or(&table.ids);
    if people.len() != table.rows() {
        return Err(MeasureError::Count {
            what: "people of the rows of a table",
            expected: table.rows(),
            found: people.len(),
        });
    }
    let everyone: Vec<usize> = (0..table.rows()).collect();
    let mut groups: Vec<(Option<String>, Vec<usize>)> = vec![(None, everyone)];
    if let Some(by) = by {
        let words = table.text(by)?;
        let mut of_person: BTreeMap<&str, &str> = BTreeMap::new();
        let mut rows: BTreeMap<&str, Vec<usize>> = BTreeMap::new();
        for (i, word) in words.iter().enumerate() {
            let before = *of_person.entry(&people[i]).or_insert(word);
            if before != word {
                return Err(TableError::Table {
                    table: "the table".to_owned(),
                    reason: format!("`{}` is in two groups of `{by}`: `{before}` and `{word}`", people[i]),
                }
                .into());
            }
            rows.entry(word).or_default().push(i);
        }
        groups.extend(rows.into_iter().map(|(word, rows)| (Some(word.to_owned()), rows)));
    }
    let mut summaries = Vec::new();
    for (group, rows) in &groups {
        for column in &table.numbers {
            summaries.push(one(column, group.clone(), rows, people)?);
        }
    }
    Ok(summaries)
}

fn one(
    column: &NumberColumn,
    group: Option<String>,
    rows: &[usize],
    people: &[String],
) -> Result<DimensionSummary, MeasureError> {
    let mut first: BTreeMap<&str, f64> = BTreeMap::new();
    let mut all: BTreeSet<&str> = BTreeSet::new();
    for &i in rows {
        all.insert(&people[i]);
        if let Some(value) = column.values.get(i).copied().flatten().filter(|v| v.is_finite()) {
            first.entry(&people[i]).or_insert(value);
        }
    }
    let mut values: Vec<f64> = first.into_values().collect();
    values.sort_unstable_by(f64::total_cmp);
    let n = values.len();
    let mean = (n > 0).then(|| values.iter().sum::<f64>() / n as f64);
    let sd = mean
        .filter(|_| n > 1)
        .map(|mean| (values.iter().map(|v| (v - mean) * (v - mean)).sum::<f64>() / (n - 1) as f64).sqrt());
    let at = |p: f64, people: usize| {
        if n < people { Ok(None) } else { quantile(&values, None, p).map(Some) }
    };
    Ok(DimensionSummary {
        name: column.name.clone(),
        unit: column.unit.clone(),
        group,
        n,
        missing: all.len() - n,
        mean,
        sd,
        mean_half_width: sd.filter(|_| n >= 20).map(|sd| 1.96 * sd / (n as f64).sqrt()),
        min: values.first().copied(),
        p1: at(0.01, PEOPLE_FOR_P1)?,
        p5: at(0.05, PEOPLE_FOR_P5)?,
        p50: at(0.5, 1)?,
        p95: at(0.95, PEOPLE_FOR_P5)?,
        p99: at(0.99, PEOPLE_FOR_P1)?,
        max: values.last().copied(),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn table(n: usize) -> Table {
        let rows: String =
            (0..n).map(|i| format!("P{i},{},{}\n", i + 1, if i % 2 == 0 { "f" } else { "m" })).collect();
        Table::parse_csv(&format!("id,x_mm,sex\n{rows}"), "t", None).unwrap()
    }

    #[test]
    fn percentiles_that_the_people_do_not_support_are_not_given() {
        for (n, p5, p1) in [(59, false, false), (60, true, false), (299, true, false), (300, true, true)] {
            let s = &summarise(&table(n), None, None).unwrap()[0];
            assert_eq!((s.n, s.p5.is_some(), s.p95.is_some()), (n, p5, p5));
            assert_eq!((s.p1.is_some(), s.p99.is_some()), (p1, p1));
        }
        let s = summarise(&table(120), None, Some("sex")).unwrap();
        assert_eq!(s.len(), 3);
        assert_eq!((s[1].group.as_deref(), s[1].n, s[2].group.as_deref()), (Some("f"), 60, Some("m")));
        assert!(s[1].p5.is_some());
    }

    #[test]
    fn values_agree_with_their_formulas() {
        let s = &summarise(&table(101), None, None).unwrap()[0];
        assert_eq!((s.mean, s.p50, s.min, s.max), (Some(51.0), Some(51.0), Some(1.0), Some(101.0)));
        assert_eq!((s.p5, s.p95), (Some(6.0), Some(96.0)));
        // variance of 1..n is n (n + 1) / 12
        assert!((s.sd.unwrap() - (101.0f64 * 102.0 / 12.0).sqrt()).abs() < 1e-12);
    }

    #[test]
    fn a_person_counts_once_by_the_first_value() {
        let t = Table::parse_csv("id,x_mm,sex\n1,,f\n2,10,f\n3,99,f\n4,20,m\n5,,m2\n", "t", None).unwrap();
        let people = ["A", "A", "A", "B", "C"].map(str::to_owned);
        let s = &summarise(&t, Some(&people), None).unwrap()[0];
        assert_eq!((s.n, s.missing, s.mean), (2, 1, Some(15.0)));
        let mixed = ["A", "A", "A", "A", "C"].map(str::to_owned);
        assert!(summarise(&t, Some(&mixed), Some("sex")).unwrap_err().to_string().contains("two groups"));
        assert!(summarise(&t, Some(&people[..2]), None).is_err());
        assert!(summarise(&t, None, Some("gender")).is_err());
    }
}
