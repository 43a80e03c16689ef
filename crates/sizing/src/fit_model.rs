//! The wearer who stands for a size.

use formkin_stats::cluster::medoid;
use formkin_stats::moments::{mean, sd};
use formkin_table::NumberColumn;

use crate::Deviation;

/// A wearer: row in the table and weight.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Wearer {
    pub(crate) row: usize,
    pub(crate) weight: f64,
}

/// The weighted medoid of the wearers over the fit dimensions, each over its standard deviation in the group: the wearer from whom all others are
/// least far, in the sum of Euclidean distances. Only wearers with all fit dimensions count. Returns their row and deviations from the mean of those
/// wearers; None without one.
///
/// A person, not the mean of people, which is smoother and more even than anyone.
pub(crate) fn fit_model(
    wearers: &[Wearer],
    group: &[Wearer],
    columns: &[&NumberColumn],
) -> Option<(usize, Vec<Deviation>)> {
    let whole: Vec<Wearer> = wearers
        .iter()
        .copied()
        .filter(|p| columns.iter().all(|c| c.values[p.row].is_some_and(f64::is_finite)))
        .collect();
    let value = |c: &NumberColumn, row: usize| c.values[row].unwrap_or(f64::NAN);
    let weights: Vec<f64> = whole.iter().map(|p| p.weight).collect();
    let mut standard: Vec<(&NumberColumn, f64)> = Vec::new();
    for column in columns {
        let (values, weights): (Vec<f64>, Vec<f64>) = group
            .iter()
            .filter_map(|p| column.values[p.row].filter(|v| v.is_finite()).map(|v| (v, p.weight)))
            .unzip();
        if let Some(sd) = sd(&values, Some(&weights)).ok().filter(|s| *s > 0.0) {
            standard.push((column, sd));
        }
    }
    let apart = |i: usize, m: usize| {
        let square =
            |(c, sd): &(&NumberColumn, f64)| ((value(c, whole[i].row) - value(c, whole[m].row)) / sd).powi(2);
        standard.iter().map(square).sum::<f64>().sqrt()
    };
    let chosen = whole[medoid(whole.len(), Some(&weights), apart).ok()?].row;
    let deviations = columns
        .iter()
        .filter_map(|c| {
            let values: Vec<f64> = whole.iter().map(|p| value(c, p.row)).collect();
            let mean = mean(&values, Some(&weights)).ok()?;
            let value = value(c, chosen);
            Some(Deviation {
                dimension: c.name.clone(),
                unit: c.unit.clone(),
                value,
                mean,
                deviation: value - mean,
            })
        })
        .collect();
    Some((chosen, deviations))
}
