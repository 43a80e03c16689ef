//! How far repeated scans of people lie from each other, in coefficients.

use std::collections::BTreeMap;

use crate::people::Rows;

/// Distances of repeated scans from their person's mean body, brought to those of one scan from the person's true mean by root of m / (m - 1).
pub(crate) fn repeats(rows: &Rows, names: &[&str], modes: usize) -> Vec<f64> {
    let mut own: BTreeMap<&str, Vec<&[f64]>> = names.iter().map(|n| (*n, Vec::new())).collect();
    for (person, c) in rows.participants.iter().zip(&rows.coefficients) {
        if let Some(list) = own.get_mut(person.as_str()) {
            list.push(&c[..modes]);
        }
    }
    let mut out = Vec::new();
    for list in own.values().filter(|l| l.len() > 1) {
        let m = list.len() as f64;
        let mean: Vec<f64> = (0..modes).map(|k| list.iter().map(|c| c[k]).sum::<f64>() / m).collect();
        for c in list {
            let square: f64 = c.iter().zip(&mean).map(|(a, b)| (a - b).powi(2)).sum();
            out.push((square * m / (m - 1.0)).sqrt());
        }
    }
    out
}
