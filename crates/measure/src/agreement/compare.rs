//! Scan against hand: the mean error and its interval against the limit of ISO 20685-1, and the spread beside it.

use std::collections::BTreeMap;

use formkin_stats::distribution::student_t_quantile;
use formkin_stats::moments::{covariance, mean, sd, variance};
use formkin_table::unit::{Quantity, per_base};
use formkin_table::{NumberColumn, Table, TableError};
use serde::{Deserialize, Serialize};

use super::limits::TypeSource;
use crate::limit_type::LimitType;
use crate::{Dimensions, MeasureError};

/// People that the comparison of ISO 20685-1 asks for at least (from memory).
pub const LEAST_PEOPLE: usize = 40;

/// What every verdict must be read with.
pub(crate) const MEAN_ONLY: &str = "the limit tests the mean error alone: errors of both signs cancel, and a method that is wrong for every single person can pass; read the SD, the limits of agreement and the mean absolute error beside it";

/// How two tables are compared.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct CompareParams {
    /// Types given by name, which come before what a definition or a name says.
    pub types: BTreeMap<String, LimitType>,
    /// Definitions, whose kinds say the type.
    pub dimensions: Option<Dimensions>,
    /// Only these dimensions; empty for all that both tables hold.
    pub only: Vec<String>,
}

/// Whether the interval of the mean error lies inside the limit.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Verdict {
    /// Both ends lie strictly inside the limit.
    Within,
    /// An end lies on or beyond the limit.
    NotWithin,
    /// Fewer people than the standard asks for, so there is no verdict.
    TooFew,
    /// No limit is known for this type of dimension.
    NoLimit,
}

/// One person, in mm.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Pair {
    /// The person.
    pub id: String,
    /// Mean of scan and hand.
    pub mean_mm: f64,
    /// Scan less hand.
    pub error_mm: f64,
}

/// One dimension by scan and by hand, in mm. Errors are scan less hand.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Agreement {
    /// The dimension.
    pub dimension: String,
    /// People with both values.
    pub n: usize,
    /// Its type.
    pub limit_type: Option<LimitType>,
    /// Where the type comes from.
    pub type_from: Option<TypeSource>,
    /// The limit of the mean error.
    pub limit_mm: Option<f64>,
    /// Mean by scan.
    pub mean_scan_mm: f64,
    /// Mean by hand.
    pub mean_hand_mm: f64,
    /// Mean error.
    pub mean_error_mm: f64,
    /// Standard deviation of the errors, divisor n - 1.
    pub sd_error_mm: f64,
    /// Interval of the mean error as ISO 20685-1 has it: mean -+ 1.96 SD / sqrt(n).
    pub interval_mm: (f64, f64),
    /// The same by Student's t with n - 1 degrees of freedom, wider for few people.
    pub t_interval_mm: (f64, f64),
    /// Limits of agreement, mean -+ 1.96 SD (Bland & Altman 1986): where 95 % of the errors of single people lie if they are normal.
    pub limits_of_agreement_mm: (f64, f64),
    /// Half the width of the 95 % interval of each limit of agreement, t sqrt(3 SD^2 / n) (Bland & Altman 1986).
    pub limits_half_width_mm: f64,
    /// Mean absolute error.
    pub mean_absolute_error_mm: f64,
    /// Largest absolute error.
    pub largest_error_mm: f64,
    /// Technical error between the two methods, sqrt(sum d^2 / 2n); the mean error is in it.
    pub tem_mm: f64,
    /// Change of the error with the size of the dimension, mm for 1 mm of the mean of both (slope of Bland & Altman's chart).
    pub error_by_size: Option<f64>,
    /// The verdict.
    pub verdict: Verdict,
    /// What a reader must know.
    pub notes: Vec<String>,
    /// Every person.
    pub pairs: Vec<Pair>,
}

/// Two tables compared.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Comparison {
    /// One entry a dimension that both hold, in the order of the table by hand.
    pub dimensions: Vec<Agreement>,
    /// People in both tables.
    pub people: usize,
    /// People in the scan's table alone.
    pub only_scan: Vec<String>,
    /// People in the hand's table alone.
    pub only_hand: Vec<String>,
    /// Columns by hand that the scan's table does not have.
    pub not_scanned: Vec<String>,
    /// What every verdict must be read with.
    pub caution: String,
}

/// Compares a table of scan-derived dimensions with one by hand. Rows are matched by identifier, columns by name; columns in other units
/// are converted.
///
/// # Errors
/// [`TableError::Column`] where a dimension asked for is missing, its column has no unit of length, or a person (column `participant`) has several rows; [`TableError::Table`] where the
/// tables share no person or no dimension.
pub fn compare(scan: &Table, hand: &Table, params: &CompareParams) -> Result<Comparison, MeasureError> {
    let fault =
        |reason: String| MeasureError::from(TableError::Table { table: "the two tables".to_owned(), reason });
    let row_of: BTreeMap<&str, usize> = scan.ids.iter().enumerate().map(|(i, id)| (id.as_str(), i)).collect();
    let rows: Vec<(usize, usize)> =
        hand.ids.iter().enumerate().filter_map(|(h, id)| row_of.get(id.as_str()).map(|&s| (s, h))).collect();
    if rows.is_empty() {
        let first = |t: &Table| t.ids.first().cloned().unwrap_or_default();
        return Err(fault(format!(
            "they share no person: the scan's begins with `{}` in column `{}`, the other with `{}` in column `{}`; identifiers must be the same",
            first(scan),
            scan.id,
            first(hand),
            hand.id
        )));
    }
    scan.one_row_a_person(rows.iter().map(|r| r.0))?;
    hand.one_row_a_person(rows.iter().map(|r| r.1))?;
    for name in &params.only {
        scan.number(name)?;
        hand.number(name)?;
    }
    for name in params.types.keys() {
        let known = |t: &Table| t.number(name).map(|_| ());
        known(scan).and(known(hand)).map_err(|e| match e {
            TableError::Column { column, reason } => {
                TableError::Column { column, reason: format!("it is given a type of limit, and {reason}") }
            }
            other => other,
        })?;
    }
    let mut dimensions = Vec::new();
    let mut not_scanned = Vec::new();
    for column in &hand.numbers {
        let asked = params.only.iter().any(|n| *n == column.name || *n == column.header());
        if !params.only.is_empty() && !asked {
            continue;
        }
        let Some(other) = scan.numbers.iter().find(|c| c.name == column.name) else {
            not_scanned.push(column.name.clone());
            continue;
        };
        match (factor(other), factor(column)) {
            (Ok(a), Ok(b)) => dimensions.extend(one((other, a), (column, b), &rows, hand, params)),
            (Err(e), _) | (_, Err(e)) if asked => return Err(e.into()),
            // age, weight and other columns that are no lengths
            _ => {}
        }
    }
    if dimensions.is_empty() {
        let names: Vec<&str> = hand.numbers.iter().map(|c| c.name.as_str()).take(6).collect();
        return Err(fault(format!(
            "they share no dimension of length with two people or more; the one by hand has {}; names must be the same, and headers must end with mm, cm or m",
            names.join(", ")
        )));
    }
    let in_hand: std::collections::BTreeSet<&str> = hand.ids.iter().map(String::as_str).collect();
    let only = |table: &Table, has: &dyn Fn(&str) -> bool| -> Vec<String> {
        table.ids.iter().filter(|id| !has(id)).cloned().collect()
    };
    Ok(Comparison {
        dimensions,
        people: rows.len(),
        only_scan: only(scan, &|id| in_hand.contains(id)),
        only_hand: only(hand, &|id| row_of.contains_key(id)),
        not_scanned,
        caution: MEAN_ONLY.to_owned(),
    })
}

/// How many mm the unit of a column is.
fn factor(column: &NumberColumn) -> Result<f64, TableError> {
    column.unit.as_deref().and_then(|u| per_base(Quantity::Length, u)).map(|f| 1.0 / f).ok_or_else(|| {
        TableError::Column {
            column: column.header(),
            reason: "it has no unit of length; let its header end with _mm, _cm or _m".to_owned(),
        }
    })
}

#[expect(
    clippy::too_many_lines,
    reason = "the figures of one dimension, of which later ones need the earlier"
)]
fn one(
    (scan, scan_mm): (&NumberColumn, f64),
    (by_hand, hand_mm): (&NumberColumn, f64),
    rows: &[(usize, usize)],
    table: &Table,
    params: &CompareParams,
) -> Option<Agreement> {
    let mut pairs = Vec::new();
    let (mut s, mut h) = (Vec::new(), Vec::new());
    for &(i, j) in rows {
        if let (Some(a), Some(b)) = (scan.values[i], by_hand.values[j]) {
            let (a, b) = (a * scan_mm, b * hand_mm);
            pairs.push(Pair { id: table.ids[j].clone(), mean_mm: 0.5 * (a + b), error_mm: a - b });
            s.push(a);
            h.push(b);
        }
    }
    let n = pairs.len();
    if n < 2 {
        return None;
    }
    let errors: Vec<f64> = pairs.iter().map(|p| p.error_mm).collect();
    let means: Vec<f64> = pairs.iter().map(|p| p.mean_mm).collect();
    let (mean_scan_mm, mean_hand_mm) = (mean(&s, None).ok()?, mean(&h, None).ok()?);
    let (m, sd) = (mean(&errors, None).ok()?, sd(&errors, None).ok()?);
    let root = (n as f64).sqrt();
    let about = |half: f64| (m - half, m + half);
    let t = student_t_quantile(0.95, (n - 1) as f64);
    let interval_mm = about(1.96 * sd / root);
    let typed = type_of(by_hand, mean_hand_mm, params);
    let limit_mm = typed.map(|(t, _)| t.limit_mm());
    let verdict = match limit_mm {
        None => Verdict::NoLimit,
        Some(_) if n < LEAST_PEOPLE => Verdict::TooFew,
        Some(limit) if interval_mm.0 > -limit && interval_mm.1 < limit => Verdict::Within,
        Some(_) => Verdict::NotWithin,
    };
    let size_variance = variance(&means, None).ok()?;
    let error_by_size = (n > 2 && size_variance > 0.0)
        .then(|| covariance(&means, &errors, None).ok().map(|c| c / size_variance))
        .flatten();
    let mut notes = Vec::new();
    if n < LEAST_PEOPLE {
        notes.push(format!(
            "{n} people: the standard asks for {LEAST_PEOPLE} at least, so there is no verdict"
        ));
    }
    let absolute: Vec<f64> = errors.iter().map(|e| e.abs()).collect();
    let mean_absolute_error_mm = mean(&absolute, None).ok()?;
    if let Some(limit) = limit_mm
        && verdict == Verdict::Within
        && mean_absolute_error_mm > limit
    {
        notes.push(format!(
            "the mean is within the limit, but a single person is off by {mean_absolute_error_mm:.1} mm on average: errors of both signs cancel"
        ));
    }
    if let (Some(slope), true) = (error_by_size, size_variance > 0.0) {
        // the slope's own error, by least squares
        let residual: f64 = pairs
            .iter()
            .zip(&means)
            .map(|(p, x)| (p.error_mm - m - slope * (x - (mean_scan_mm + mean_hand_mm) / 2.0)).powi(2))
            .sum();
        let error = (residual / (n as f64 - 2.0) / (size_variance * (n as f64 - 1.0))).sqrt();
        if n > 9 && slope.abs() > student_t_quantile(0.95, n as f64 - 2.0) * error {
            notes.push(format!(
                "the error changes with size, {:.1} mm for 100 mm: one mean error does not describe all",
                100.0 * slope
            ));
        }
    }
    Some(Agreement {
        dimension: by_hand.name.clone(),
        n,
        limit_type: typed.map(|t| t.0),
        type_from: typed.map(|t| t.1),
        limit_mm,
        mean_scan_mm,
        mean_hand_mm,
        mean_error_mm: m,
        sd_error_mm: sd,
        interval_mm,
        t_interval_mm: about(t * sd / root),
        limits_of_agreement_mm: about(1.96 * sd),
        limits_half_width_mm: t * sd * 3f64.sqrt() / root,
        mean_absolute_error_mm,
        largest_error_mm: absolute.iter().copied().fold(0.0, f64::max),
        tem_mm: (errors.iter().map(|e| e * e).sum::<f64>() / (2.0 * n as f64)).sqrt(),
        error_by_size,
        verdict,
        notes,
        pairs,
    })
}

fn type_of(by_hand: &NumberColumn, mean_mm: f64, params: &CompareParams) -> Option<(LimitType, TypeSource)> {
    let name = by_hand.name.as_str();
    if let Some(&given) = params.types.get(name).or_else(|| params.types.get(&by_hand.header())) {
        return Some((given, TypeSource::Given));
    }
    match params.dimensions.as_ref().and_then(|d| d.get(name)) {
        Some(definition) => match definition.limit_type {
            Some(stated) => Some((stated, TypeSource::Definition)),
            None => LimitType::of_kind(&definition.kind, mean_mm).map(|t| (t, TypeSource::Kind)),
        },
        None => LimitType::of_name(name, mean_mm).map(|t| (t, TypeSource::Name)),
    }
}

#[cfg(test)]
#[path = "compare_tests.rs"]
mod tests;
