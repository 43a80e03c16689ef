//! Grading: how secondary dimensions go with the control dimensions from size to size.

use formkin_stats::monotone::{broken_line, rising};
use formkin_stats::regression::least_squares;
use formkin_table::NumberColumn;
use ndarray::Array2;

use crate::GradeRule;
use crate::axes::{Axis, Place};
use crate::job::Job;
use crate::people::People;

/// Regresses a column on the control dimensions over all people of the group, not only the wearers, whose means jump. The first control dimension may have one break, at a mid-point
/// between sizes, and never a falling slope; where sizes are equal in the others, values never fall from a smaller size to a larger (pool adjacent violators). None with too few people.
pub(crate) fn rule(
    column: &NumberColumn,
    job: &Job,
    people: &People,
    axes: &[Axis],
    places: &[Place],
) -> Option<GradeRule> {
    let (mut x, mut y, mut w) = (Vec::new(), Vec::new(), Vec::new());
    for (place, &person) in job.members.iter().enumerate() {
        if let Some(value) = column.values[people.rows[person]].filter(|v| v.is_finite()) {
            x.push(job.points[place]);
            y.push(value);
            w.push(job.weights[place]);
        }
    }
    let d = axes.len();
    if y.len() < 10 + 2 * d || places.is_empty() {
        return None;
    }
    let matrix = Array2::from_shape_fn((y.len(), d), |(i, j)| x[i][j]);
    let fit = least_squares(matrix.view(), &y, Some(&w), true).ok()?;
    let rest: Vec<f64> =
        (0..y.len()).map(|i| y[i] - (1..d).map(|j| fit.coefficients[j] * x[i][j]).sum::<f64>()).collect();
    let first: Vec<f64> = x.iter().map(|p| p[0]).collect();
    let mut centres: Vec<f64> = places.iter().map(|p| p.centre[0]).collect();
    centres.sort_by(f64::total_cmp);
    centres.dedup();
    let mids: Vec<f64> = centres.windows(2).map(|c| (c[0] + c[1]) / 2.0).collect();
    let inner = if mids.len() > 2 { &mids[1..mids.len() - 1] } else { &[] };
    let line = broken_line(&first, &rest, Some(&w), inner, true).ok()?;
    let value = |p: &[f64]| line.at(p[0]) + (1..d).map(|j| fit.coefficients[j] * p[j]).sum::<f64>();
    let total: f64 = w.iter().sum();
    let mean = y.iter().zip(&w).map(|(y, w)| y * w).sum::<f64>() / total;
    let rss: f64 = (0..y.len()).map(|i| w[i] * (y[i] - value(x[i])).powi(2)).sum::<f64>() / total;
    let tss: f64 = (0..y.len()).map(|i| w[i] * (y[i] - mean).powi(2)).sum::<f64>() / total;
    let n = y.len() as f64;
    let fitted = d as f64 + 1.0 + f64::from(u8::from(line.break_at.is_some()));
    let mut values: Vec<f64> = places.iter().map(|p| value(&p.centre)).collect();
    if d == 1 {
        values = rising(&values, None).ok()?;
    }
    let increments = (0..values.len()).map(|s| (s > 0).then(|| values[s] - values[s - 1])).collect();
    let mut slopes = vec![line.slope];
    slopes.extend(&fit.coefficients[1..]);
    Some(GradeRule {
        dimension: column.name.clone(),
        unit: column.unit.clone(),
        people: y.len(),
        slopes,
        break_at: line.break_at,
        slope_above: line.slope_above,
        r2: if tss > 0.0 { (1.0 - rss / tss).clamp(0.0, 1.0) } else { 0.0 },
        residual_sd: (rss * n / (n - fitted).max(1.0)).sqrt(),
        values,
        increments,
    })
}
