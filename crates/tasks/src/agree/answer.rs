//! The answers of a terminal: errors of every dimension, or how well one way of measuring repeats.

use formkin_measure::agreement::{Agreement, Comparison, LimitType, Repeatability, Verdict};
use formkin_report::format::counted;

fn people(n: usize) -> String {
    counted(n, "person", "people")
}

fn verdict(a: &Agreement) -> &'static str {
    match a.verdict {
        Verdict::Within => "within",
        Verdict::NotWithin => "NOT within",
        Verdict::TooFew => "too few",
        Verdict::NoLimit => "no limit",
    }
}

/// Scan against hand.
pub(super) fn of_errors(made: &Comparison) -> Vec<String> {
    let mut lines = vec![format!(
        "{} in both tables, {} dimensions; errors are scan less hand, in mm",
        people(made.people),
        made.dimensions.len()
    )];
    lines.push(format!(
        "{:<26} {:<17} {:>4} {:>5} {:>7} {:>6} {:>15} {:>15} {:>6}  verdict",
        "dimension", "type", "n", "limit", "mean", "SD", "95 % CI", "agreement", "MAE"
    ));
    for a in &made.dimensions {
        let range = |(low, high): (f64, f64)| format!("{low:.1} to {high:.1}");
        lines.push(format!(
            "{:<26} {:<17} {:>4} {:>5} {:>7.1} {:>6.1} {:>15} {:>15} {:>6.1}  {}",
            a.dimension,
            a.limit_type.map_or("-", LimitType::name),
            a.n,
            a.limit_mm.map_or("-".to_owned(), |l| l.to_string()),
            a.mean_error_mm,
            a.sd_error_mm,
            range(a.interval_mm),
            range(a.limits_of_agreement_mm),
            a.mean_absolute_error_mm,
            verdict(a)
        ));
    }
    for a in &made.dimensions {
        lines.extend(a.notes.iter().map(|n| format!("note: {}: {n}", a.dimension)));
    }
    for (list, whose) in [(&made.only_scan, "the scans"), (&made.only_hand, "the table by hand")] {
        if let Some(first) = list.first() {
            lines.push(format!("note: {} in {whose} alone, such as {first}", people(list.len())));
        }
    }
    lines.push(format!("caution: {}", made.caution));
    lines
}

/// Repeats against each other.
pub(super) fn of_repeats(made: &[Repeatability]) -> Vec<String> {
    let mut lines = vec![format!(
        "{:<28} {:>6} {:>7} {:>9} {:>7} {:>6} {:>7} {:>9} {:>8}",
        "dimension", "people", "values", "mean", "TEM", "%TEM", "R", "ICC(2,1)", "LDC"
    )];
    let number =
        |x: Option<f64>, decimals: usize| x.map_or_else(|| "-".to_owned(), |x| format!("{x:.decimals$}"));
    for r in made {
        let header =
            r.unit.as_ref().map_or_else(|| r.dimension.clone(), |u| format!("{} [{u}]", r.dimension));
        lines.push(format!(
            "{header:<28} {:>6} {:>7} {:>9.1} {:>7.2} {:>6} {:>7} {:>9} {:>8.2}",
            r.people,
            r.values,
            r.mean,
            r.tem,
            number(r.tem_percent, 2),
            number(r.reliability, 3),
            number(r.icc_agreement.or(r.icc_one_way.map(|i| i.value)), 3),
            r.least_detectable_change
        ));
    }
    for r in made {
        lines.extend(r.notes.iter().map(|n| format!("note: {}: {n}", r.dimension)));
    }
    lines.push("TEM: technical error of measurement; LDC: least detectable change, 2.77 TEM; ICC one-way where sessions are missing".to_owned());
    lines
}
