//! The Cholesky factor of a symmetric positive definite matrix, and what is solved with it.

use faer::dyn_stack::{MemBuffer, MemStack};
use faer::linalg::cholesky::llt::factor::{LltRegularization, cholesky_in_place, cholesky_in_place_scratch};
use faer::{Mat, Par};
use ndarray::Array2;

use crate::StatsError;

/// L with A = L L^T, lower triangular with a positive diagonal.
#[derive(Debug, Clone, PartialEq)]
pub struct Cholesky {
    factor: Array2<f64>,
}

impl Cholesky {
    /// Factors a symmetric matrix of which the lower triangle is read. None where it is not positive definite: where a pivot is not above `1e-13` of its own
    /// diagonal element, so that rows that follow from others are found.
    ///
    /// # Errors
    /// [`StatsError::NotSquare`] where the matrix is not square.
    pub fn new(a: &Array2<f64>) -> Result<Option<Self>, StatsError> {
        let n = a.nrows();
        if a.ncols() != n {
            return Err(StatsError::NotSquare { rows: n, columns: a.ncols() });
        }
        let mut l = Mat::from_fn(n, n, |i, j| if j <= i { a[[i, j]] } else { 0.0 });
        let scratch = cholesky_in_place_scratch::<f64>(n, Par::Seq, Default::default());
        let done = cholesky_in_place(
            l.as_mut(),
            LltRegularization::default(),
            Par::Seq,
            MemStack::new(&mut MemBuffer::new(scratch)),
            Default::default(),
        );
        let stands = |i: usize| {
            let pivot = l[(i, i)] * l[(i, i)];
            pivot.is_finite() && pivot > 1e-13 * a[[i, i]].abs() && pivot > 0.0
        };
        if done.is_err() || !(0..n).all(stands) {
            return Ok(None);
        }
        let factor = Array2::from_shape_fn((n, n), |(i, j)| if j <= i { l[(i, j)] } else { 0.0 });
        Ok(Some(Self { factor }))
    }

    /// L.
    #[must_use]
    pub fn factor(&self) -> &Array2<f64> {
        &self.factor
    }

    /// ln det A.
    #[must_use]
    pub(crate) fn log_det(&self) -> f64 {
        self.factor.diag().iter().map(|l| 2.0 * l.ln()).sum()
    }

    /// L^-1 b.
    ///
    /// # Errors
    /// [`StatsError::Size`] where b has not as many values as the matrix has rows.
    pub fn half_solve(&self, b: &[f64]) -> Result<Vec<f64>, StatsError> {
        let mut x = b.to_vec();
        self.half_solve_in_place(&mut x)?;
        Ok(x)
    }

    /// b <- L^-1 b.
    ///
    /// # Errors
    /// As [`half_solve`](Self::half_solve).
    pub(crate) fn half_solve_in_place(&self, b: &mut [f64]) -> Result<(), StatsError> {
        let n = self.factor.nrows();
        if b.len() != n {
            return Err(StatsError::Size { what: "values of the right side", expected: n, found: b.len() });
        }
        for (i, row) in self.factor.rows().into_iter().enumerate() {
            let dot: f64 = row.iter().zip(&b[..i]).map(|(l, x)| l * x).sum();
            b[i] = (b[i] - dot) / row[i];
        }
        Ok(())
    }

    /// A^-1 b.
    ///
    /// # Errors
    /// As [`half_solve`](Self::half_solve).
    pub fn solve(&self, b: &[f64]) -> Result<Vec<f64>, StatsError> {
        let mut x = self.half_solve(b)?;
        for i in (0..x.len()).rev() {
            x[i] /= self.factor[[i, i]];
            let (known, row) = (x[i], self.factor.row(i));
            for (x, l) in x[..i].iter_mut().zip(row) {
                *x -= l * known;
            }
        }
        Ok(x)
    }

    /// A^-1.
    #[must_use]
    pub fn inverse(&self) -> Array2<f64> {
        let n = self.factor.nrows();
        // columns of L^-1, so that A^-1 = L^-T L^-1
        let mut half = Array2::<f64>::eye(n);
        for i in 0..n {
            for k in 0..i {
                let l = self.factor[[i, k]];
                for j in 0..=k {
                    half[[i, j]] -= l * half[[k, j]];
                }
            }
            let pivot = self.factor[[i, i]];
            half.row_mut(i).mapv_inplace(|x| x / pivot);
        }
        half.t().dot(&half)
    }
}

#[cfg(test)]
mod tests {
    use approx::assert_abs_diff_eq;
    use ndarray::array;

    use super::*;

    #[test]
    fn factors_solves_and_refuses() {
        let a = array![[4.0, 2.0, 0.6], [2.0, 5.0, 1.0], [0.6, 1.0, 3.0]];
        let factored = Cholesky::new(&a).unwrap().unwrap();
        let x = factored.solve(&[1.0, 2.0, 3.0]).unwrap();
        for (i, b) in [1.0, 2.0, 3.0].into_iter().enumerate() {
            let dot: f64 = (0..3).map(|k| a[[i, k]] * x[k]).sum();
            assert_abs_diff_eq!(dot, b, epsilon = 1e-12);
        }
        let one = factored.inverse().dot(&a);
        assert_abs_diff_eq!(one[[1, 1]], 1.0, epsilon = 1e-12);
        assert_abs_diff_eq!(one[[0, 2]], 0.0, epsilon = 1e-12);
        assert!(Cholesky::new(&array![[1.0, 1.0], [1.0, 1.0]]).unwrap().is_none());
        assert!(Cholesky::new(&array![[1.0, 0.0]]).is_err());
        assert_abs_diff_eq!(factored.log_det(), 44.6f64.ln(), epsilon = 1e-12);
    }

    #[test]
    fn a_right_side_of_another_length_is_refused() {
        let factored = Cholesky::new(&array![[4.0, 2.0], [2.0, 5.0]]).unwrap().unwrap();
        for wrong in [&[1.0][..], &[1.0, 2.0, 3.0], &[]] {
            let size = StatsError::Size { what: "values of the right side", expected: 2, found: wrong.len() };
            assert_eq!(factored.half_solve(wrong), Err(size.clone()));
            assert_eq!(factored.solve(wrong), Err(size));
        }
        assert_eq!(factored.half_solve(&[2.0, 3.0]), Ok(vec![1.0, 1.0]));
    }
}
