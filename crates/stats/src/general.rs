//! Eigenvalues and vectors of a square matrix that need not be symmetric.

use faer::diag::Diag;
use faer::dyn_stack::{MemBuffer, MemStack};
use faer::linalg::evd::{ComputeEigenvectors, evd_real, evd_scratch};
use faer::{Mat, Par};
use ndarray::Array2;

use crate::StatsError;
use crate::symmetric::checked;

/// Eigenvalues and right eigenvectors of a real square matrix: A v = lambda v. Complex numbers are (real, imaginary).
#[derive(Debug, Clone, PartialEq)]
pub struct GeneralEigen {
    /// Eigenvalues, largest absolute value first; of a conjugate pair the one with the positive imaginary part first.
    pub values: Vec<(f64, f64)>,
    /// The eigenvector of each value, of length 1.
    pub vectors: Vec<Vec<(f64, f64)>>,
}

/// All eigenvalues and right eigenvectors of the real n x n matrix `a` (reduction to Hessenberg form and QR iterations), on one thread.
///
/// # Errors
/// [`StatsError::NotSquare`], [`StatsError::NotFinite`], [`StatsError::NoConvergence`].
pub fn general_eigen(a: &Array2<f64>) -> Result<GeneralEigen, StatsError> {
    checked(a)?;
    let n = a.nrows();
    let matrix = Mat::from_fn(n, n, |i, j| a[[i, j]]);
    let (mut re, mut im) = (Diag::<f64>::zeros(n), Diag::<f64>::zeros(n));
    let mut right = Mat::<f64>::zeros(n, n);
    let failed = |what| StatsError::NoConvergence { what };
    let scratch = evd_scratch::<f64>(
        n,
        ComputeEigenvectors::No,
        ComputeEigenvectors::Yes,
        Par::Seq,
        Default::default(),
    );
    let mut memory = MemBuffer::try_new(scratch)
        .map_err(|_| failed("the memory for the eigenvalue iteration of a general matrix"))?;
    evd_real(
        matrix.as_ref(),
        re.as_mut(),
        im.as_mut(),
        None,
        Some(right.as_mut()),
        Par::Seq,
        MemStack::new(&mut memory),
        Default::default(),
    )
    .map_err(|_| failed("the eigenvalue iteration of a general matrix"))?;
    // a conjugate pair stands in two neighbouring columns: real part, then imaginary part
    type Complex = (f64, f64);
    let mut found: Vec<(Complex, Vec<Complex>)> = Vec::with_capacity(n);
    let mut k = 0;
    while k < n {
        if im[k] == 0.0 || k + 1 == n {
            found.push(((re[k], 0.0), (0..n).map(|i| (right[(i, k)], 0.0)).collect()));
            k += 1;
        } else {
            let column = |sign: f64| (0..n).map(|i| (right[(i, k)], sign * right[(i, k + 1)])).collect();
            let sign = im[k].signum();
            let pair = [((re[k], im[k].abs()), column(sign)), ((re[k], -im[k].abs()), column(-sign))];
            found.extend(pair);
            k += 2;
        }
    }
    for (_, vector) in &mut found {
        let length = vector.iter().map(|(r, i)| r * r + i * i).sum::<f64>().sqrt();
        if length > 0.0 {
            for (r, i) in vector.iter_mut() {
                (*r, *i) = (*r / length, *i / length);
            }
        }
    }
    let size = |v: &(f64, f64)| v.0.hypot(v.1);
    found.sort_by(|a, b| {
        let (x, y) = (size(&a.0), size(&b.0));
        // the two of a pair have one size to the last digits
        if (x - y).abs() <= 1e-14 * x.max(y) { b.0.1.total_cmp(&a.0.1) } else { y.total_cmp(&x) }
    });
    let (values, vectors) = found.into_iter().unzip();
    Ok(GeneralEigen { values, vectors })
}

#[cfg(test)]
mod tests {
    use ndarray::array;
    use rand::Rng;

    use super::*;
    use crate::random::stream;

    #[test]
    fn a_turn_has_the_eigenvalues_of_its_angle() {
        let (s, c) = 0.3f64.sin_cos();
        let e = general_eigen(&array![[0.9 * c, -0.9 * s, 0.0], [0.9 * s, 0.9 * c, 0.0], [0.0, 0.0, 2.0]])
            .unwrap();
        let want = [(2.0, 0.0), (0.9 * c, 0.9 * s), (0.9 * c, -0.9 * s)];
        for (v, w) in e.values.iter().zip(want) {
            assert!((v.0 - w.0).abs() < 1e-13 && (v.1 - w.1).abs() < 1e-13, "{:?}", e.values);
        }
    }

    #[test]
    fn values_and_vectors_of_a_random_matrix_belong_together() {
        let n = 30;
        let mut rng = stream(3, "general");
        let a = Array2::from_shape_fn((n, n), |_| rng.gen_range(-1.0..1.0));
        let e = general_eigen(&a).unwrap();
        assert_eq!(e.values.len(), n);
        for (l, v) in e.values.iter().zip(&e.vectors) {
            for i in 0..n {
                let re: f64 = (0..n).map(|j| a[[i, j]] * v[j].0).sum();
                let im: f64 = (0..n).map(|j| a[[i, j]] * v[j].1).sum();
                let want = (l.0 * v[i].0 - l.1 * v[i].1, l.0 * v[i].1 + l.1 * v[i].0);
                assert!((re - want.0).abs() < 1e-11 && (im - want.1).abs() < 1e-11);
            }
        }
        let trace: f64 = (0..n).map(|i| a[[i, i]]).sum();
        assert!((e.values.iter().map(|v| v.0).sum::<f64>() - trace).abs() < 1e-11);
    }

    #[test]
    fn odd_input_is_an_error_or_empty() {
        assert!(general_eigen(&Array2::zeros((2, 3))).is_err());
        assert!(general_eigen(&array![[f64::NAN]]).is_err());
        assert!(general_eigen(&Array2::zeros((0, 0))).unwrap().values.is_empty());
    }
}
