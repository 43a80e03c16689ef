//! Means and covariances of coefficients and variables: all that a prediction needs, and no person's data.

use formkin_stats::gram::add_gram;
use ndarray::{Array2, Axis};
use serde::{Deserialize, Serialize};

use crate::ShapeError;
use crate::predict::PredictionErrors;

/// What a variable is.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum VariableKind {
    /// A dimension, taken on the mesh: a predicted body can be measured again.
    Dimension,
    /// Another number known of a person: mass, age.
    Number,
    /// 1 for people of one level of a column of words, 0 for the others.
    Level {
        /// The column.
        column: String,
        /// The level that is 1.
        level: String,
    },
}

/// A variable that shape goes with.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Variable {
    /// Its name; of a level: `column=level`.
    pub name: String,
    /// Its unit.
    pub unit: Option<String>,
    /// What it is.
    pub kind: VariableKind,
}

/// Means and covariances of K coefficients and q variables of the same people.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct DimensionMoments {
    /// The variables, in order.
    pub variables: Vec<Variable>,
    /// Number of people: one row each.
    pub people: usize,
    /// Number of people that had to be left out since a variable is missing.
    pub incomplete: usize,
    /// Means of the variables, each in its unit.
    pub means: Vec<f64>,
    /// q x q covariances of the variables, divisor people - 1.
    pub covariance: Vec<Vec<f64>>,
    /// Means of the K coefficients over these people, in mm.
    pub coefficient_means_mm: Vec<f64>,
    /// K x K covariances of the coefficients, in mm2, divisor people - 1.
    pub coefficient_covariance_mm2: Vec<Vec<f64>>,
    /// K x q covariances of coefficients and variables, divisor people - 1.
    pub cross: Vec<Vec<f64>>,
    /// Mean over people of the upward direction in the frame of the space, of unit length: a body of the space is turned by it before it is measured.
    pub up: [f64; 3],
    /// Cross-validated errors, where they were asked for.
    pub errors: Option<PredictionErrors>,
}

impl DimensionMoments {
    /// The moments of `coefficients` (people x K, in mm) and `values` (people x q), one row a person. A row with a missing value is left out, and counted.
    ///
    /// # Errors
    /// [`ShapeError::Count`] where rows do not fit; [`ShapeError::TooFewPeople`] under three complete rows.
    pub fn of(
        coefficients: &[Vec<f64>],
        variables: Vec<Variable>,
        values: &[Vec<Option<f64>>],
        up: [f64; 3],
    ) -> Result<Self, ShapeError> {
        let count = |what, expected, found| {
            if expected == found { Ok(()) } else { Err(ShapeError::Count { what, expected, found }) }
        };
        count("rows of variables", coefficients.len(), values.len())?;
        let (k, q) = (coefficients.first().map_or(0, Vec::len), variables.len());
        let mut rows = Vec::new();
        for (c, v) in coefficients.iter().zip(values) {
            count("coefficients of a person", k, c.len())?;
            count("variables of a person", q, v.len())?;
            let complete: Option<Vec<f64>> = v.iter().map(|x| x.filter(|x| x.is_finite())).collect();
            rows.extend(complete.map(|v| c.iter().copied().chain(v).collect::<Vec<f64>>()));
        }
        let n = rows.len();
        if n < 3 {
            return Err(ShapeError::TooFewPeople { people: n });
        }
        let mut table = Array2::from_shape_fn((n, k + q), |(i, j)| rows[i][j]);
        let means: Vec<f64> =
            table.axis_iter(Axis(1)).map(|column| column.iter().sum::<f64>() / n as f64).collect();
        for mut row in table.outer_iter_mut() {
            for (x, m) in row.iter_mut().zip(&means) {
                *x -= m;
            }
        }
        let columns = table.t().as_standard_layout().into_owned();
        let mut all = Array2::zeros((k + q, k + q));
        add_gram(&mut all, columns.view(), columns.view())?;
        let all = all / (n - 1) as f64;
        let block = |rows: std::ops::Range<usize>, columns: std::ops::Range<usize>| {
            rows.map(|i| columns.clone().map(|j| all[[i, j]]).collect()).collect::<Vec<Vec<f64>>>()
        };
        Ok(Self {
            variables,
            people: n,
            incomplete: values.len() - n,
            means: means[k..].to_vec(),
            covariance: block(k..k + q, k..k + q),
            coefficient_means_mm: means[..k].to_vec(),
            coefficient_covariance_mm2: block(0..k, 0..k),
            cross: block(0..k, k..k + q),
            up,
            errors: None,
        })
    }

    /// Where the variable of this name stands; a level also by its column and level.
    #[must_use]
    pub fn position(&self, name: &str) -> Option<usize> {
        self.variables.iter().position(|v| v.name == name)
    }

    pub(crate) fn check(&self) -> Result<(), String> {
        let (k, q) = (self.coefficient_means_mm.len(), self.variables.len());
        let fits = |rows: &[Vec<f64>], n: usize, m: usize| {
            rows.len() == n && rows.iter().all(|r| r.len() == m && r.iter().all(|x| x.is_finite()))
        };
        if self.means.len() != q
            || !fits(&self.covariance, q, q)
            || !fits(&self.coefficient_covariance_mm2, k, k)
            || !fits(&self.cross, k, q)
        {
            return Err(format!("its covariances do not fit {k} coefficients and {q} variables"));
        }
        let square: f64 = self.up.iter().map(|x| x * x).sum();
        if (square - 1.0).abs() > 1e-6 {
            return Err("`up` has another length than 1".to_owned());
        }
        Ok(())
    }
}
