//! What a comparison works on: one row a person, and the columns of its linear models.

use formkin_stats::StatsError;
use ndarray::{Array1, Array2, ArrayView2, Axis};

use crate::ShapeError;

/// One row a person: the mean of that person's rows. `people[i]` is the person of row i, from 0 without gaps.
///
/// # Errors
/// [`ShapeError::Count`] where the lengths differ or a person has no row.
pub fn by_person(rows: &[Vec<f64>], people: &[usize]) -> Result<Array2<f64>, ShapeError> {
    if rows.len() != people.len() {
        return Err(ShapeError::Count {
            what: "participants of the rows",
            expected: rows.len(),
            found: people.len(),
        });
    }
    let persons = people.iter().max().map_or(0, |m| m + 1);
    let width = rows.first().map_or(0, Vec::len);
    let mut out = Array2::zeros((persons, width));
    let mut counts = vec![0.0; persons];
    for (row, &p) in rows.iter().zip(people) {
        if row.len() != width {
            return Err(ShapeError::Count {
                what: "coefficients of a row",
                expected: width,
                found: row.len(),
            });
        }
        for (sum, x) in out.row_mut(p).iter_mut().zip(row) {
            *sum += x;
        }
        counts[p] += 1.0;
    }
    if counts.contains(&0.0) {
        return Err(ShapeError::Count { what: "rows of a person", expected: 1, found: 0 });
    }
    for (mut row, n) in out.axis_iter_mut(Axis(0)).zip(counts) {
        row /= n;
    }
    Ok(out)
}

/// A column of ones beside the covariates.
#[must_use]
pub fn with_intercept(n: usize, covariates: Option<ArrayView2<f64>>) -> Array2<f64> {
    let extra = covariates.map_or(0, |c| c.ncols());
    Array2::from_shape_fn((n, 1 + extra), |(i, j)| match (&covariates, j) {
        (Some(c), 1..) => c[[i, j - 1]],
        _ => 1.0,
    })
}

/// One column for every group but the first: 1 for its members.
#[must_use]
pub fn indicators(groups: &[usize], count: usize) -> Array2<f64> {
    Array2::from_shape_fn((groups.len(), count.saturating_sub(1)), |(i, j)| {
        f64::from(u8::from(groups[i] == j + 1))
    })
}

/// An orthonormal basis of what `columns` add to the orthonormal `against`, by Gram-Schmidt done twice.
///
/// # Errors
/// [`StatsError::Collinear`] for a column that follows from those before it, [`StatsError::NotFinite`].
pub fn basis(columns: ArrayView2<f64>, against: ArrayView2<f64>) -> Result<Array2<f64>, StatsError> {
    if let Some(index) = columns.iter().position(|x| !x.is_finite()) {
        return Err(StatsError::NotFinite { what: "columns of the model", index });
    }
    let mut out: Array2<f64> = Array2::zeros((columns.nrows(), 0));
    for (j, column) in columns.axis_iter(Axis(1)).enumerate() {
        let length = column.dot(&column).sqrt();
        let mut v: Array1<f64> = column.to_owned();
        for _ in 0..2 {
            for q in against.axis_iter(Axis(1)).chain(out.axis_iter(Axis(1))) {
                let along = q.dot(&v);
                v.scaled_add(-along, &q);
            }
        }
        let left = v.dot(&v).sqrt();
        if left <= 1e-9 * length || left == 0.0 {
            return Err(StatsError::Collinear { predictor: j });
        }
        v /= left;
        out.push_column(v.view()).map_err(|_| StatsError::Size {
            what: "rows of a column",
            expected: columns.nrows(),
            found: 0,
        })?;
    }
    Ok(out)
}

/// What is left of `y` outside the orthonormal `q`.
#[must_use]
pub fn residuals(y: ArrayView2<f64>, q: ArrayView2<f64>) -> Array2<f64> {
    &y - &q.dot(&q.t().dot(&y))
}
