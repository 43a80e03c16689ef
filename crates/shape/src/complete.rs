//! The body that goes with a part of a surface: vertices missing, a region, landmarks alone.
//!
//! A seen vertex v of a shape in the frame of the space is T x_v = mean_v + sum_k b_k mode_kv + e_v, b_k ~ N(0, variance_k), e ~ N(0, s2) a coordinate, T a pose of
//! which nothing is known. Pose and coefficients are found together by Gauss-Newton steps on the posterior (Albrecht and others 2013 with the pose
//! among the unknowns): the inverse of the matrix of the last step is their joint covariance, so that the uncertainty of the pose is in the intervals.
//!
//! What the modes leave of a mesh is smooth, not white: neighbours do not count as so many observations. With f independent directions beyond the
//! modes the surface is split into f / 3 patches, and the seen vertices of a patch together count as one.

use formkin_align::{Removes, Transform, align_one};
use formkin_geometry::Point;
use formkin_stats::cholesky::Cholesky;
use formkin_stats::distribution::chi_square_quantile;
use formkin_stats::interval::normal_quantile;
use ndarray::Array2;
use rayon::prelude::*;
use serde::{Deserialize, Serialize};

use crate::predict::vertex_sd_mm;
use crate::{ShapeError, Space};

/// Settings of a completion.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct CompleteParams {
    /// How many modes; none: as [`Space::probabilistic`].
    pub modes: Option<usize>,
    /// SD of a coordinate of a seen vertex beyond the modes, in mm; none: from people held out.
    pub noise_mm: Option<f64>,
    /// Whether this noise is white: every seen vertex counts. Otherwise it is smooth, as it is on meshes.
    pub white: bool,
}

/// A completed shape.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Completed {
    /// V positions in mm in the frame of the seen vertices: the posterior mean, for seen vertices too.
    pub positions: Vec<Point>,
    /// V SDs of the coordinates of a person's vertex about `positions`, in mm, along the axes of the seen vertices: coefficients, pose and what is beyond the modes.
    pub sd_mm: Vec<Point>,
    /// Factor of the SD for intervals of 95 %.
    pub z_95: f64,
    /// Coefficients in mm.
    pub coefficients_mm: Vec<f64>,
    /// Their posterior covariance, in mm2.
    pub covariance_mm2: Vec<Vec<f64>>,
    /// From the frame of the seen vertices to that of the space.
    pub transform: Transform,
    /// Number of seen vertices.
    pub seen: usize,
    /// How many independent observations they count as.
    pub independent: f64,
    /// RMS distance of the seen vertices from the completed shape, in mm.
    pub residual_rms_mm: f64,
    /// SD of a coordinate beyond the modes, in mm.
    pub noise_mm: f64,
    /// Rounds made.
    pub rounds: usize,
    /// Mahalanobis distance of the coefficients from the mean.
    pub mahalanobis: f64,
    /// The distance within which 99 % of people lie.
    pub limit: f64,
    /// Whether the shape is further out: no such body was in the space.
    pub outside: bool,
}

const MOST_ROUNDS: usize = 50;

/// Completes a shape of which the vertices `seen` are known, each once, in mm in any pose.
///
/// # Errors
/// [`ShapeError::Seen`] for vertices that are not there, given twice, not finite or fewer than three; [`ShapeError::Align`] where they lie on a line;
/// [`ShapeError::Setting`]; [`ShapeError::NoConvergence`].
pub fn complete(
    space: &Space,
    seen: &[(u32, Point)],
    params: &CompleteParams,
) -> Result<Completed, ShapeError> {
    let vertices = space.mean.len();
    let model = space.probabilistic(params.modes)?;
    let noise2 = params.noise_mm.map_or(model.noise_mm2, |s| s * s);
    if !(noise2 > 0.0 && noise2.is_finite()) {
        let value = noise2.sqrt();
        return Err(ShapeError::Setting {
            name: "noise_mm",
            value,
            range: "more than 0; give it, where the space has no held-out error",
        });
    }
    check(seen, vertices)?;
    let counts = if params.white { vec![1.0; seen.len()] } else { shares(space, seen, model.freedom) };
    let k = model.modes;
    let modes = &space.modes[..k];
    let removes = match space.removes {
        Removes::Similarity => Removes::Similarity,
        _ => Removes::Rigid,
    };
    let given: Vec<Point> = seen.iter().map(|(_, p)| *p).collect();
    let target: Vec<Point> = seen.iter().map(|(v, _)| space.mean[*v as usize]).collect();
    let even = vec![1.0 / seen.len() as f64; seen.len()];
    let mut transform = match space.removes {
        Removes::Standing => upright(&given, &target)?,
        _ => align_one(&given, &target, &even, removes)?,
    };
    let pose = Pose::of(space.removes);
    let size = k + pose.moves.len();
    let mut b = vec![0.0; k];
    let rows: Vec<Vec<Point>> =
        modes.iter().map(|m| seen.iter().map(|(v, _)| m[*v as usize]).collect()).collect();
    // Q^T W Q does not change
    let fixed: Vec<Vec<f64>> = (0..k)
        .into_par_iter()
        .map(|i| (0..=i).map(|j| weighted(&rows[i], &rows[j], &counts) / noise2).collect())
        .collect();
    let mut rounds = 0;
    let (covariance, centre, lever) = loop {
        rounds += 1;
        let laid: Vec<Point> = given.iter().map(|p| transform.apply(*p)).collect();
        let centre: Point =
            std::array::from_fn(|a| laid.iter().map(|p| p[a]).sum::<f64>() / laid.len() as f64);
        let lever =
            (laid.iter().map(|p| (0..3).map(|a| (p[a] - centre[a]).powi(2)).sum::<f64>()).sum::<f64>()
                / laid.len() as f64)
                .sqrt()
                .max(1e-9);
        let off: Vec<Point> = (0..seen.len())
            .map(|i| {
                std::array::from_fn(|a| {
                    laid[i][a] - target[i][a] - (0..k).map(|j| b[j] * rows[j][i][a]).sum::<f64>()
                })
            })
            .collect();
        // columns of the pose, with the sign that moves the model against the shape
        let columns: Vec<Vec<Point>> = pose
            .moves
            .iter()
            .map(|m| laid.iter().map(|p| m.at(*p, centre, lever).map(|x| -x)).collect())
            .collect();
        let mut matrix = Array2::zeros((size, size));
        let mut right = vec![0.0; size];
        for i in 0..size {
            let column = if i < k { &rows[i] } else { &columns[i - k] };
            right[i] = weighted(column, &off, &counts) / noise2;
            for j in 0..=i {
                matrix[[i, j]] = if i < k {
                    fixed[i][j]
                } else {
                    weighted(column, if j < k { &rows[j] } else { &columns[j - k] }, &counts) / noise2
                };
            }
            if i < k {
                matrix[[i, i]] += 1.0 / model.variances_mm2[i];
                right[i] -= b[i] / model.variances_mm2[i];
            }
        }
        let Some(factor) = Cholesky::new(&matrix)? else {
            return Err(ShapeError::Seen {
                reason: "they do not hold a pose: give vertices that are further apart".to_owned(),
            });
        };
        let step = factor.solve(&right);
        for (b, s) in b.iter_mut().zip(&step) {
            *b += s;
        }
        transform = pose.moved(&transform, &step[k..], centre, lever);
        let moved = step.iter().map(|s| s * s).sum::<f64>().sqrt();
        if moved < 1e-6 {
            break (factor.inverse(), centre, lever);
        }
        if rounds == MOST_ROUNDS {
            return Err(ShapeError::NoConvergence { rounds, moved_mm: moved });
        }
    };

    let shape = space.reconstruct(&b);
    let back = transform.inverse();
    let positions: Vec<Point> = shape.iter().map(|p| back.apply(*p)).collect();
    let moves: Vec<Vec<Point>> = pose
        .moves
        .iter()
        .map(|m| shape.iter().map(|p| m.at(*p, centre, lever).map(|x| -x)).collect())
        .collect();
    let all: Vec<&[Point]> = modes.iter().map(Vec::as_slice).chain(moves.iter().map(Vec::as_slice)).collect();
    let rows_of =
        |n: usize| (0..n).map(|i| (0..n).map(|j| covariance[[i, j]]).collect()).collect::<Vec<Vec<f64>>>();
    let mut sd_mm = vertex_sd_mm(&all, &rows_of(size), noise2, &back.rotation)?;
    sd_mm.iter_mut().for_each(|sd| *sd = sd.map(|x| x * back.scale));
    let residual: f64 = seen
        .iter()
        .map(|(v, p)| (0..3).map(|a| (positions[*v as usize][a] - p[a]).powi(2)).sum::<f64>())
        .sum();
    let mahalanobis = b.iter().zip(&model.variances_mm2).map(|(b, v)| b * b / v).sum::<f64>().sqrt();
    let limit = chi_square_quantile(0.99, k.max(1) as f64).sqrt();
    Ok(Completed {
        positions,
        sd_mm,
        z_95: normal_quantile(0.95),
        coefficients_mm: b,
        covariance_mm2: rows_of(k),
        transform,
        seen: seen.len(),
        independent: counts.iter().sum(),
        residual_rms_mm: (residual / seen.len() as f64).sqrt(),
        noise_mm: noise2.sqrt(),
        rounds,
        mahalanobis,
        limit,
        outside: mahalanobis > limit,
    })
}

fn check(seen: &[(u32, Point)], vertices: usize) -> Result<(), ShapeError> {
    let no = |reason: String| Err(ShapeError::Seen { reason });
    if seen.len() < 3 {
        return no(format!("{} are given, and a pose needs three or more", seen.len()));
    }
    let mut there = vec![false; vertices];
    for (v, p) in seen {
        match there.get_mut(*v as usize) {
            None => return no(format!("there is no vertex {v}: they run from 0 to {}", vertices.max(1) - 1)),
            Some(true) => return no(format!("vertex {v} is given twice")),
            Some(free) => *free = true,
        }
        if !p.iter().all(|x| x.is_finite()) {
            return no(format!("vertex {v} has a coordinate that is not finite"));
        }
    }
    Ok(())
}

fn weighted(a: &[Point], b: &[Point], weights: &[f64]) -> f64 {
    a.iter().zip(b).zip(weights).map(|((a, b), w)| w * (a[0] * b[0] + a[1] * b[1] + a[2] * b[2])).sum()
}

/// For every seen vertex one over the number of seen vertices of its patch.
fn shares(space: &Space, seen: &[(u32, Point)], freedom: Option<f64>) -> Vec<f64> {
    let patches = freedom.map_or(usize::MAX, |f| (f / 3.0).ceil() as usize).max(1);
    if patches >= space.mean.len() {
        return vec![1.0; seen.len()];
    }
    let square = |a: Point, b: Point| (0..3).map(|k| (a[k] - b[k]).powi(2)).sum::<f64>();
    // seeds each as far as can be from those before; every vertex belongs to the nearest
    let mut nearest = vec![(f64::INFINITY, 0); space.mean.len()];
    let mut seed = space.mean[0];
    for patch in 0..patches {
        for (place, p) in nearest.iter_mut().zip(&space.mean) {
            let d = square(seed, *p);
            if d < place.0 {
                *place = (d, patch);
            }
        }
        let far = nearest.iter().enumerate().max_by(|a, b| a.1.0.total_cmp(&b.1.0));
        seed = far.map_or(seed, |(v, _)| space.mean[v]);
    }
    let mut counts = vec![0.0; patches];
    for (v, _) in seen {
        counts[nearest[*v as usize].1] += 1.0;
    }
    seen.iter().map(|(v, _)| 1.0 / counts[nearest[*v as usize].1]).collect()
}

/// The best turn about the vertical and shift, height kept free.
fn upright(given: &[Point], target: &[Point]) -> Result<Transform, ShapeError> {
    let n = given.len() as f64;
    let mean = |p: &[Point]| -> Point { std::array::from_fn(|a| p.iter().map(|p| p[a]).sum::<f64>() / n) };
    let (g, t) = (mean(given), mean(target));
    let (mut cos, mut sin) = (0.0, 0.0);
    for (x, m) in given.iter().zip(target) {
        let (x, m) = ([x[0] - g[0], x[1] - g[1]], [m[0] - t[0], m[1] - t[1]]);
        cos += x[0] * m[0] + x[1] * m[1];
        sin += x[0] * m[1] - x[1] * m[0];
    }
    let length = cos.hypot(sin);
    if length.is_nan() || length <= 0.0 {
        return Err(ShapeError::Seen {
            reason: "they are on one vertical line and hold no heading".to_owned(),
        });
    }
    let (c, s) = (cos / length, sin / length);
    let mut transform = Transform {
        rotation: [[c, -s, 0.0], [s, c, 0.0], [0.0, 0.0, 1.0]],
        translation: [0.0; 3],
        scale: 1.0,
    };
    let moved = transform.apply(g);
    transform.translation = std::array::from_fn(|a| t[a] - moved[a]);
    Ok(transform)
}

/// A way in which a pose may change.
#[derive(Debug, Clone, Copy)]
enum Move {
    Shift(usize),
    Turn(usize),
    Grow,
}

impl Move {
    /// The displacement of a point for one unit: 1 mm at the centre, or at the distance of the lever.
    fn at(self, p: Point, centre: Point, lever: f64) -> Point {
        let d: Point = std::array::from_fn(|a| (p[a] - centre[a]) / lever);
        match self {
            Self::Shift(a) => std::array::from_fn(|k| f64::from(u8::from(k == a))),
            Self::Turn(0) => [0.0, -d[2], d[1]],
            Self::Turn(1) => [d[2], 0.0, -d[0]],
            Self::Turn(_) => [-d[1], d[0], 0.0],
            Self::Grow => d,
        }
    }
}

struct Pose {
    moves: Vec<Move>,
}

impl Pose {
    fn of(removes: Removes) -> Self {
        let shifts = [Move::Shift(0), Move::Shift(1), Move::Shift(2)];
        let others: &[Move] = match removes {
            Removes::Standing => &[Move::Turn(2)],
            Removes::Rigid => &[Move::Turn(0), Move::Turn(1), Move::Turn(2)],
            Removes::Similarity => &[Move::Turn(0), Move::Turn(1), Move::Turn(2), Move::Grow],
        };
        Self { moves: shifts.into_iter().chain(others.iter().copied()).collect() }
    }

    /// The transform after a step: what is laid is shifted, turned and scaled about the centre.
    fn moved(&self, transform: &Transform, step: &[f64], centre: Point, lever: f64) -> Transform {
        let (mut shift, mut turn, mut grow) = ([0.0; 3], [0.0; 3], 0.0f64);
        for (m, s) in self.moves.iter().zip(step) {
            match m {
                Move::Shift(a) => shift[*a] = *s,
                Move::Turn(a) => turn[*a] = s / lever,
                Move::Grow => grow = s / lever,
            }
        }
        let rotation = turned(turn);
        let scale = grow.exp();
        let about = Transform { rotation, translation: [0.0; 3], scale }.apply(centre);
        let translation = std::array::from_fn(|a| centre[a] - about[a] + shift[a]);
        Transform { rotation, translation, scale }.compose(transform)
    }
}

/// The rotation by the vector `w`, in radians (Rodrigues).
fn turned(w: Point) -> [[f64; 3]; 3] {
    let angle = w.iter().map(|x| x * x).sum::<f64>().sqrt();
    let (a, b) =
        if angle < 1e-8 { (1.0, 0.5) } else { (angle.sin() / angle, (1.0 - angle.cos()) / (angle * angle)) };
    let k = [[0.0, -w[2], w[1]], [w[2], 0.0, -w[0]], [-w[1], w[0], 0.0]];
    std::array::from_fn(|i| {
        std::array::from_fn(|j| {
            let square: f64 = (0..3).map(|m| k[i][m] * k[m][j]).sum();
            f64::from(u8::from(i == j)) + a * k[i][j] + b * square
        })
    })
}
