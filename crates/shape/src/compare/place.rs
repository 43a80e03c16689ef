//! Where on the body a difference lies: a test at every vertex, with control of the share of false findings.
//!
//! At a vertex with outward normal n of the mean, a body's height over the mean is m^T c with m_k = mode_k . n and c its coefficients: one number a person, in mm. The
//! F test of the added columns on that number is exact where it is normal. The q values are Benjamini and Hochberg's over all vertices that have a weight.

use formkin_geometry::{Topology, areas::vertex_normals};
use formkin_stats::discovery::false_discovery;
use formkin_stats::tail::f_tail;
use ndarray::{Array2, ArrayView2};
use rayon::prelude::*;
use serde::{Deserialize, Serialize};

use super::design::{basis, residuals};
use crate::{ShapeError, Space};

/// A map over the vertices.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Place {
    /// What the added columns do along the outward normal, in mm: for one column the change when it grows by 1 (from one group to the other), out of the body above 0;
    /// for several the root mean square over people.
    pub effect_mm: Vec<f64>,
    /// Whether the effect has a sign.
    pub signed: bool,
    /// Chance of as large an F at this vertex alone.
    pub p: Vec<f64>,
    /// The same over all vertices, Benjamini and Hochberg; 1 where a vertex has no weight.
    pub q: Vec<f64>,
    /// The level of q at which a vertex is a finding.
    pub level: f64,
    /// Weighted share of the vertices that are findings.
    pub share: f64,
    /// Degrees of freedom of F.
    pub df: (usize, usize),
}

/// Tests at every vertex what `added` explains beyond `reduced`. `y` is people x coefficients of the space's first modes; what they leave out is not in the map.
///
/// # Errors
/// As [`super::anova()`]; [`ShapeError::Count`] where there are more coefficients than modes.
pub fn place(
    space: &Space,
    y: ArrayView2<f64>,
    reduced: ArrayView2<f64>,
    added: ArrayView2<f64>,
    level: f64,
) -> Result<Place, ShapeError> {
    let (n, k) = y.dim();
    if k > space.modes.len() {
        return Err(ShapeError::Count {
            what: "coefficients of a person",
            expected: space.modes.len(),
            found: k,
        });
    }
    let q0 = basis(reduced, Array2::zeros((n, 0)).view())?;
    let q1 = basis(added, q0.view())?;
    let (df1, columns) = (q1.ncols(), q0.ncols() + q1.ncols());
    if n <= columns {
        return Err(ShapeError::SmallGroup { group: "all".into(), people: n, least: columns + 1 });
    }
    let df2 = n - columns;
    let explained = q1.t().dot(&y);
    let rest = residuals(residuals(y, q0.view()).view(), q1.view());
    let squares = rest.t().dot(&rest);
    // the change when a single added column grows by 1: its basis vector over its length beyond the reduced model
    let signed = df1 == 1;
    let length = if signed { added.column(0).dot(&q1.column(0)) } else { (n as f64).sqrt() };

    let topology = Topology::new(space.mean.len(), space.triangles.clone())
        .map_err(|e| ShapeError::BadValue { array: "triangles", reason: e.to_string() })?;
    let normals = vertex_normals(&topology, &space.mean);
    let found: Vec<(f64, f64)> = (0..space.mean.len())
        .into_par_iter()
        .map(|v| {
            let m: Vec<f64> = space.modes[..k]
                .iter()
                .map(|mode| (0..3).map(|c| mode[v][c] * normals[v][c]).sum())
                .collect();
            let parts: Vec<f64> =
                explained.outer_iter().map(|row| row.iter().zip(&m).map(|(a, b)| a * b).sum()).collect();
            let effect = parts.iter().map(|x| x * x).sum::<f64>();
            let left: f64 = squares
                .outer_iter()
                .zip(&m)
                .map(|(row, a)| a * row.iter().zip(&m).map(|(x, b)| x * b).sum::<f64>())
                .sum();
            let f = (effect / df1 as f64) / (left.max(0.0) / df2 as f64);
            let p = if effect > 0.0 { f_tail(f, df1 as f64, df2 as f64) } else { 1.0 };
            let size = if signed { parts.iter().sum::<f64>() / length } else { effect.sqrt() / length };
            (size, if p.is_nan() { 1.0 } else { p.clamp(0.0, 1.0) })
        })
        .collect();
    let (effect_mm, p): (Vec<f64>, Vec<f64>) = found.into_iter().unzip();
    let used: Vec<usize> = (0..p.len()).filter(|v| space.weights[*v] > 0.0).collect();
    let adjusted = false_discovery(&used.iter().map(|v| p[*v]).collect::<Vec<_>>())?;
    let mut q = vec![1.0; p.len()];
    let mut share = 0.0;
    for (&v, value) in used.iter().zip(adjusted) {
        q[v] = value;
        if value <= level {
            share += space.weights[v];
        }
    }
    Ok(Place { effect_mm, signed, p, q, level, share, df: (df1, df2) })
}
