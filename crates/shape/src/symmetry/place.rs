//! Where on the body sides differ: means and variances of both parts at every vertex, in one walk over the shapes.

use formkin_geometry::areas::vertex_normals;
use formkin_geometry::vector::{dot, unit};
use formkin_geometry::{Point, ShapeSource, Topology};
use formkin_stats::discovery::false_discovery;
use formkin_stats::tail::f_tail;
use rayon::prelude::*;
use serde::{Deserialize, Serialize};

use super::frame::Frame;
use super::numbers::Owners;
use super::parts::Parts;
use crate::ShapeError;

/// People of one task: fixed, so that sums do not depend on the number of threads.
const TASK: usize = 8;

/// Asymmetry over the vertices.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SidePlace {
    /// How far the mean body stands out at a vertex beyond its symmetric place, along the outward normal, in mm; its partner stands in by as much.
    pub lean_mm: Vec<f64>,
    /// Chance of as large a mean over people at this vertex alone: Student's t, people - 1 degrees of freedom.
    pub p: Vec<f64>,
    /// The same over all pairs, Benjamini and Hochberg; 1 on the plane and where a vertex has no weight.
    pub q: Vec<f64>,
    /// SD over people of the asymmetric part at a vertex, all three directions, in mm; error of measuring is in it.
    pub own_sd_mm: Vec<f64>,
    /// The level of q at which a vertex is a finding.
    pub level: f64,
    /// Weighted share of the vertices that are findings.
    pub share: f64,
}

/// What a walk over the shapes gives.
pub(super) struct Walk {
    pub(super) mean: Vec<Point>,
    pub(super) lean: Vec<Point>,
    pub(super) place: SidePlace,
}

/// Sums over people at every vertex.
#[derive(Clone, Copy, Default)]
struct Sums {
    even: Point,
    odd: Point,
    odd_square: f64,
    normal_square: f64,
}

#[expect(clippy::too_many_lines, reason = "one walk over the meshes, with all that is gathered in it")]
pub(super) fn walk(
    even: &Parts<'_>,
    odd: &Parts<'_>,
    owners: &Owners,
    topology: &Topology,
    frame: &Frame,
    mirror: &[u32],
    level: f64,
) -> Result<Walk, ShapeError> {
    let vertices = mirror.len();
    // triangles need not match left and right, so that normals of a pair are made to
    let raw = vertex_normals(topology, &frame.mean);
    let normals: Vec<Point> = mirror
        .iter()
        .zip(&raw)
        .map(|(&m, a)| {
            let b = raw[m as usize];
            unit([a[0] - b[0], a[1] + b[1], a[2] + b[2]]).unwrap_or_default()
        })
        .collect();
    let mut sums = vec![Sums::default(); vertices];
    let person = |parts: &Parts<'_>, items: &[usize]| -> Result<Vec<Point>, ShapeError> {
        let mut mean = vec![[0.0; 3]; vertices];
        for &i in items {
            for (m, p) in mean.iter_mut().zip(parts.read_shape(i)?) {
                *m = std::array::from_fn(|k| m[k] + p[k] / items.len() as f64);
            }
        }
        Ok(mean)
    };
    for some in owners.items.chunks(TASK).collect::<Vec<_>>().chunks(8) {
        let parts: Vec<Vec<Sums>> = some
            .par_iter()
            .map(|people| {
                let mut own = vec![Sums::default(); vertices];
                for items in *people {
                    let (s, d) = (person(even, items)?, person(odd, items)?);
                    for (v, sum) in own.iter_mut().enumerate() {
                        for k in 0..3 {
                            sum.even[k] += s[v][k];
                            sum.odd[k] += d[v][k];
                        }
                        sum.odd_square += dot(d[v], d[v]);
                        sum.normal_square += dot(d[v], normals[v]).powi(2);
                    }
                }
                Ok(own)
            })
            .collect::<Result<_, ShapeError>>()?;
        for part in parts {
            for (sum, x) in sums.iter_mut().zip(part) {
                for k in 0..3 {
                    sum.even[k] += x.even[k];
                    sum.odd[k] += x.odd[k];
                }
                sum.odd_square += x.odd_square;
                sum.normal_square += x.normal_square;
            }
        }
    }
    let n = owners.items.len() as f64;
    let of = |p: Point| -> Point { std::array::from_fn(|k| p[k] / n) };
    let mean: Vec<Point> = sums.iter().map(|s| of(s.even)).collect();
    let lean: Vec<Point> = sums.iter().map(|s| of(s.odd)).collect();
    let lean_mm: Vec<f64> = lean.iter().zip(&normals).map(|(d, m)| dot(*d, *m)).collect();
    let own_sd_mm = sums
        .iter()
        .zip(&lean)
        .map(|(s, d)| ((s.odd_square - n * dot(*d, *d)) / (n - 1.0)).max(0.0).sqrt())
        .collect();
    let p: Vec<f64> = sums
        .iter()
        .zip(&lean_mm)
        .map(|(s, m)| {
            let variance = (s.normal_square - n * m * m) / (n - 1.0);
            // below rounding nothing leans
            if *m == 0.0 || m.abs() < 1e-9 {
                return 1.0;
            }
            let p = f_tail(n * m * m / variance.max(0.0), 1.0, n - 1.0);
            if p.is_nan() { 1.0 } else { p.clamp(0.0, 1.0) }
        })
        .collect();
    // both of a pair say the same: one of them is tested
    let tested: Vec<usize> =
        (0..vertices).filter(|&v| (mirror[v] as usize) > v && frame.weights[v] > 0.0).collect();
    let adjusted = false_discovery(&tested.iter().map(|v| p[*v]).collect::<Vec<_>>())?;
    let mut q = vec![1.0; vertices];
    let mut share = 0.0;
    for (&v, value) in tested.iter().zip(adjusted) {
        let other = mirror[v] as usize;
        q[v] = value;
        q[other] = value;
        if value <= level {
            share += frame.weights[v] + frame.weights[other];
        }
    }
    Ok(Walk { mean, lean, place: SidePlace { lean_mm, p, q, own_sd_mm, level, share } })
}
