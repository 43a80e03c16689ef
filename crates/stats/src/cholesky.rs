//! The Cholesky factor of a symmetric positive definite matrix, and what is solved with it.

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
        let mut l = Array2::<f64>::zeros((n, n));
        for i in 0..n {
            for j in 0..=i {
                let dot: f64 = (0..j).map(|k| l[[i, k]] * l[[j, k]]).sum();
                let rest = a[[i, j]] - dot;
                if i == j {
                    if !(rest.is_finite() && rest > 1e-13 * a[[i, i]].abs() && rest > 0.0) {
                        return Ok(None);
                    }
                    l[[i, i]] = rest.sqrt();
                } else {
                    l[[i, j]] = rest / l[[j, j]];
                }
            }
        }
        Ok(Some(Self { factor: l }))
    }

    /// L.
    #[must_use]
    pub fn factor(&self) -> &Array2<f64> {
        &self.factor
    }

    /// L^-1 b. Where b is longer than the matrix, the rest is ignored; a shorter one is filled with 0.
    #[must_use]
    pub fn half_solve(&self, b: &[f64]) -> Vec<f64> {
        let n = self.factor.nrows();
        let mut x = Vec::with_capacity(n);
        for i in 0..n {
            let dot: f64 = (0..i).map(|k| self.factor[[i, k]] * x[k]).sum();
            x.push((b.get(i).copied().unwrap_or(0.0) - dot) / self.factor[[i, i]]);
        }
        x
    }

    /// A^-1 b.
    #[must_use]
    pub fn solve(&self, b: &[f64]) -> Vec<f64> {
        let n = self.factor.nrows();
        let mut x = self.half_solve(b);
        for i in (0..n).rev() {
            let dot: f64 = (i + 1..n).map(|k| self.factor[[k, i]] * x[k]).sum();
            x[i] = (x[i] - dot) / self.factor[[i, i]];
        }
        x
    }

    /// A^-1.
    #[must_use]
    pub fn inverse(&self) -> Array2<f64> {
        let n = self.factor.nrows();
        let mut inverse = Array2::zeros((n, n));
        let mut unit = vec![0.0; n];
        for j in 0..n {
            unit[j] = 1.0;
            for (i, x) in self.solve(&unit).into_iter().enumerate() {
                inverse[[i, j]] = x;
            }
            unit[j] = 0.0;
        }
        inverse
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
        let x = factored.solve(&[1.0, 2.0, 3.0]);
        for (i, b) in [1.0, 2.0, 3.0].into_iter().enumerate() {
            let dot: f64 = (0..3).map(|k| a[[i, k]] * x[k]).sum();
            assert_abs_diff_eq!(dot, b, epsilon = 1e-12);
        }
        let one = factored.inverse().dot(&a);
        assert_abs_diff_eq!(one[[1, 1]], 1.0, epsilon = 1e-12);
        assert_abs_diff_eq!(one[[0, 2]], 0.0, epsilon = 1e-12);
        assert!(Cholesky::new(&array![[1.0, 1.0], [1.0, 1.0]]).unwrap().is_none());
        assert!(Cholesky::new(&array![[1.0, 0.0]]).is_err());
    }
}
