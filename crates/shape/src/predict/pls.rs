//! Partial least squares, from moments.
//!
//! PLS2 in regression mode (Wold; the kernel form of Dayal & MacGregor 1997, which deflates only the cross covariance and gives the same coefficients as
//! the iteration on data): with A = X^T Y of centred, scaled columns, each component takes w, the first left singular vector of A;
//! r = w - sum_j (p_j . w) r_j; t^2 = r^T X^T X r; p = X^T X r / t^2; q = A^T r / t^2; A -= p q^T t^2; the coefficients are sum r q^T. With as many components as
//! given variables it is least squares, the conditional mean. Fewer components shrink where given variables say the same twice.

use formkin_stats::symmetric::symmetric_eigen;
use ndarray::{Array1, Array2, Axis};
use serde::{Deserialize, Serialize};

use crate::ShapeError;
use crate::predict::{DimensionMoments, Given};

/// Settings of partial least squares.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct PlsParams {
    /// Components, 1 to the number of given variables.
    pub components: usize,
    /// Whether responses are brought to unit variance too. Coefficients in mm are not: a mm counts the same in every mode.
    pub scale_responses: bool,
}

impl Default for PlsParams {
    fn default() -> Self {
        Self { components: 2, scale_responses: false }
    }
}

/// A fitted partial least squares regression: y = mean_y + B^T (x - mean_x).
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Pls {
    /// Components that were found; fewer where the given variables hold fewer.
    pub components: usize,
    /// q x r, in the units of the data.
    pub coefficients: Vec<Vec<f64>>,
}

impl PlsParams {
    /// Fits from covariances: `xx` (q x q, of the given), `xy` (q x r, of given and responses), `yy` (r variances of the responses), all of one divisor.
    ///
    /// # Errors
    /// [`ShapeError::Setting`] where there are no components or more than given variables; [`ShapeError::Count`] where sizes do not fit.
    pub fn fit(&self, xx: &Array2<f64>, xy: &Array2<f64>, yy: &[f64]) -> Result<Pls, ShapeError> {
        let (q, r) = xy.dim();
        for (what, expected, found) in [
            ("rows of given covariances", q, xx.nrows()),
            ("columns", q, xx.ncols()),
            ("variances", r, yy.len()),
        ] {
            if expected != found {
                return Err(ShapeError::Count { what, expected, found });
            }
        }
        if self.components == 0 || self.components > q {
            return Err(ShapeError::Setting {
                name: "components",
                value: self.components as f64,
                range: "1 or more, and at most the number of given variables",
            });
        }
        let root = |v: f64| if v > 0.0 { v.sqrt() } else { 1.0 };
        let sx: Vec<f64> = (0..q).map(|i| root(xx[[i, i]])).collect();
        let sy: Vec<f64> = yy.iter().map(|v| if self.scale_responses { root(*v) } else { 1.0 }).collect();
        let xx = Array2::from_shape_fn((q, q), |(i, j)| xx[[i, j]] / (sx[i] * sx[j]));
        let mut a = Array2::from_shape_fn((q, r), |(i, j)| xy[[i, j]] / (sx[i] * sy[j]));
        let first = a.iter().map(|x| x * x).sum::<f64>();
        let (mut rs, mut ps): (Vec<Array1<f64>>, Vec<Array1<f64>>) = (Vec::new(), Vec::new());
        let mut b = Array2::<f64>::zeros((q, r));
        for _ in 0..self.components {
            if a.iter().map(|x| x * x).sum::<f64>() <= 1e-24 * first {
                break;
            }
            let w = symmetric_eigen(&a.dot(&a.t()))?.vectors.index_axis(Axis(1), 0).to_owned();
            let mut rotated = w.clone();
            for (p, r) in ps.iter().zip(&rs) {
                rotated = rotated - p.dot(&w) * r;
            }
            let loaded = xx.dot(&rotated);
            let t2 = rotated.dot(&loaded);
            if t2.is_nan() || t2 <= 1e-12 {
                break;
            }
            let p = loaded / t2;
            let response = a.t().dot(&rotated) / t2;
            for i in 0..q {
                for j in 0..r {
                    a[[i, j]] -= p[i] * response[j] * t2;
                    b[[i, j]] += rotated[i] * response[j];
                }
            }
            ps.push(p);
            rs.push(rotated);
        }
        let coefficients =
            (0..q).map(|i| (0..r).map(|j| b[[i, j]] * sy[j] / sx[i]).collect::<Vec<f64>>()).collect();
        Ok(Pls { components: rs.len(), coefficients })
    }
}

impl DimensionMoments {
    /// The coefficients, in mm, and then every variable that partial least squares predicts from the given values, whose errors are not used.
    ///
    /// # Errors
    /// As [`PlsParams::fit`]; [`ShapeError::Given`] where there is no such variable.
    pub fn partial_least_squares(
        &self,
        given: &[Given],
        params: &PlsParams,
    ) -> Result<(Vec<f64>, Vec<f64>), ShapeError> {
        let (k, variables) = (self.coefficient_means_mm.len(), self.variables.len());
        if let Some(g) = given.iter().find(|g| g.variable >= variables || !g.value.is_finite()) {
            let reason = format!("it must be finite and of one of {variables} variables");
            return Err(ShapeError::Given { variable: g.variable.to_string(), reason });
        }
        let q = given.len();
        let xx =
            Array2::from_shape_fn((q, q), |(i, j)| self.covariance[given[i].variable][given[j].variable]);
        let xy = Array2::from_shape_fn((q, k + variables), |(i, j)| {
            if j < k { self.cross[j][given[i].variable] } else { self.covariance[j - k][given[i].variable] }
        });
        // variables weigh nothing beside coefficients, so that shape alone chooses the components
        let chooser = xy.slice(ndarray::s![.., ..k]).to_owned();
        let yy: Vec<f64> = (0..k).map(|i| self.coefficient_covariance_mm2[i][i]).collect();
        let shape = params.fit(&xx, &chooser, &yy)?;
        let rest = xy.slice(ndarray::s![.., k..]).to_owned();
        let yy: Vec<f64> = (0..variables).map(|i| self.covariance[i][i]).collect();
        let others = PlsParams { scale_responses: true, ..*params }.fit(&xx, &rest, &yy)?;
        let moved = |means: &[f64], model: &Pls| {
            (0..means.len())
                .map(|j| {
                    let rows = given.iter().zip(&model.coefficients);
                    means[j] + rows.map(|(g, b)| (g.value - self.means[g.variable]) * b[j]).sum::<f64>()
                })
                .collect::<Vec<f64>>()
        };
        Ok((moved(&self.coefficient_means_mm, &shape), moved(&self.means, &others)))
    }
}
