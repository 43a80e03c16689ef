//! The posterior of pose and coefficients, made ready for a pattern of seen vertices.

use formkin_align::{Removes, Transform, align_one};
use formkin_geometry::Point;
use formkin_stats::cholesky::Cholesky;
use formkin_stats::distribution::chi_square_quantile;
use formkin_stats::gram::add_gram;
use formkin_stats::interval::normal_quantile;
use ndarray::Array2;

use super::params::{CompleteParams, Completed};
use super::pose::{Pose, upright};
use crate::fault::SeenFault;
use crate::predict::vertex_sd_mm;
use crate::{ShapeError, Space};

const MOST_ROUNDS: usize = 50;

/// A space made ready to complete shapes of which the same vertices are seen.
pub struct Completer<'s> {
    space: &'s Space,
    seen: Vec<u32>,
    /// What each seen vertex weighs, in 1 / s2.
    counts: Vec<f64>,
    /// How many observations they are.
    independent: f64,
    noise2: f64,
    error2: f64,
    variances_mm2: Vec<f64>,
    target: Vec<Point>,
    rows: Vec<Vec<Point>>,
    /// Q^T W Q / s2
    fixed: Array2<f64>,
    pose: Pose,
}

/// Vertices of a completed shape.
#[derive(Debug, Clone, PartialEq)]
pub struct Filled {
    /// Their positions in mm in the frame of the seen vertices.
    pub positions: Vec<Point>,
    /// SDs of the coordinates of a person's vertices about them, in mm.
    pub sd_mm: Vec<Point>,
    /// RMS distance of the seen vertices from the completed shape, in mm.
    pub residual_rms_mm: f64,
    /// Mahalanobis distance of the coefficients from the mean.
    pub mahalanobis: f64,
    /// Whether 99 % of people are nearer to the mean.
    pub outside: bool,
}

/// Where the steps ended.
struct Solved {
    b: Vec<f64>,
    transform: Transform,
    covariance: Array2<f64>,
    centre: Point,
    lever: f64,
    rounds: usize,
}

impl<'s> Completer<'s> {
    /// Makes a space ready for shapes of which the vertices `seen` are known, each once.
    ///
    /// # Errors
    /// [`ShapeError::Seen`] for vertices that are not there, given twice or fewer than three; [`ShapeError::Setting`].
    pub fn new(space: &'s Space, seen: &[u32], params: &CompleteParams) -> Result<Self, ShapeError> {
        let k = params.modes.unwrap_or_else(|| space.best_described());
        let model = space.probabilistic(Some(k))?;
        let noise2 = params.noise_mm.map_or(model.noise_mm2, |s| s * s.abs());
        if !(noise2 > 0.0 && noise2.is_finite()) {
            let value = params.noise_mm.unwrap_or(noise2.sqrt());
            if params.noise_mm.is_none() {
                return Err(ShapeError::NoNoise);
            }
            return Err(ShapeError::Setting { name: "noise_mm", value, range: "more than 0" });
        }
        let error_mm = params.error_mm.unwrap_or(0.0);
        if !(error_mm >= 0.0 && error_mm.is_finite()) {
            return Err(ShapeError::Setting { name: "error_mm", value: error_mm, range: "0 or more" });
        }
        let error2 = error_mm * error_mm;
        check(seen, space.mean.len())?;
        let shares = if params.white { vec![1.0; seen.len()] } else { shares(space, seen, model.freedom) };
        let counts: Vec<f64> = shares.iter().map(|c| c * noise2 / (noise2 + c * error2)).collect();
        let rows: Vec<Vec<Point>> =
            space.modes[..k].iter().map(|m| seen.iter().map(|v| m[*v as usize]).collect()).collect();
        let mut scaled = Array2::zeros((k, 3 * seen.len()));
        for (mut out, row) in scaled.outer_iter_mut().zip(&rows) {
            for (i, (p, count)) in row.iter().zip(&counts).enumerate() {
                for a in 0..3 {
                    out[3 * i + a] = (count / noise2).sqrt() * p[a];
                }
            }
        }
        let mut fixed = Array2::zeros((k, k));
        add_gram(&mut fixed, scaled.view(), scaled.view())?;
        Ok(Self {
            space,
            counts,
            independent: shares.iter().sum(),
            noise2,
            error2,
            variances_mm2: model.variances_mm2,
            target: seen.iter().map(|v| space.mean[*v as usize]).collect(),
            rows,
            fixed,
            pose: Pose::of(space.removes),
            seen: seen.to_vec(),
        })
    }

    /// Where the given points, one a seen vertex, come from: the pose of least squares on the mean.
    fn start(&self, given: &[Point]) -> Result<Transform, ShapeError> {
        let even = vec![1.0 / given.len() as f64; given.len()];
        Ok(match self.space.removes {
            Removes::Standing => upright(given, &self.target)?,
            removes => align_one(given, &self.target, &even, removes)?,
        })
    }

    /// From the frame of the space to that of the given points, with the mean body laid on them.
    pub(super) fn pose_of_mean(&self, given: &[Point]) -> Result<Transform, ShapeError> {
        Ok(self.start(given)?.inverse())
    }

    fn solve(&self, given: &[Point]) -> Result<Solved, ShapeError> {
        if given.len() != self.seen.len() {
            let (expected, found) = (self.seen.len(), given.len());
            return Err(ShapeError::Count { what: "positions of seen vertices", expected, found });
        }
        if let Some(i) = given.iter().position(|p| !p.iter().all(|x| x.is_finite())) {
            return Err(SeenFault::NotFinite { vertex: self.seen[i] }.into());
        }
        let mut transform = self.start(given)?;
        let (k, noise2) = (self.rows.len(), self.noise2);
        let size = k + self.pose.moves.len();
        let mut b = vec![0.0; k];
        let mut rounds = 0;
        loop {
            rounds += 1;
            let laid: Vec<Point> = given.iter().map(|p| transform.apply(*p)).collect();
            let centre: Point =
                std::array::from_fn(|a| laid.iter().map(|p| p[a]).sum::<f64>() / laid.len() as f64);
            let lever =
                (laid.iter().map(|p| (0..3).map(|a| (p[a] - centre[a]).powi(2)).sum::<f64>()).sum::<f64>()
                    / laid.len() as f64)
                    .sqrt()
                    .max(1e-9);
            let mut off: Vec<Point> =
                laid.iter().zip(&self.target).map(|(p, m)| std::array::from_fn(|a| p[a] - m[a])).collect();
            for (row, b) in self.rows.iter().zip(&b) {
                for (o, u) in off.iter_mut().zip(row) {
                    for a in 0..3 {
                        o[a] -= b * u[a];
                    }
                }
            }
            // columns of the pose, with the sign that moves the model against the shape
            let columns: Vec<Vec<Point>> = self
                .pose
                .moves
                .iter()
                .map(|m| laid.iter().map(|p| m.at(*p, centre, lever).map(|x| -x)).collect())
                .collect();
            let mut matrix = Array2::zeros((size, size));
            let mut right = vec![0.0; size];
            for i in 0..size {
                let column = if i < k { &self.rows[i] } else { &columns[i - k] };
                right[i] = weighted(column, &off, &self.counts) / noise2;
                for j in 0..=i {
                    matrix[[i, j]] = if i < k {
                        self.fixed[[i, j]]
                    } else {
                        let other = if j < k { &self.rows[j] } else { &columns[j - k] };
                        weighted(column, other, &self.counts) / noise2
                    };
                }
                if i < k {
                    matrix[[i, i]] += 1.0 / self.variances_mm2[i];
                    right[i] -= b[i] / self.variances_mm2[i];
                }
            }
            let Some(factor) = Cholesky::new(&matrix)? else {
                return Err(SeenFault::NoPose.into());
            };
            let step = factor.solve(&right)?;
            for (b, s) in b.iter_mut().zip(&step) {
                *b += s;
            }
            transform = self.pose.moved(&transform, &step[k..], centre, lever);
            let moved = step.iter().map(|s| s * s).sum::<f64>().sqrt();
            if moved < 1e-6 {
                return Ok(Solved { b, transform, covariance: factor.inverse(), centre, lever, rounds });
            }
            if rounds == MOST_ROUNDS {
                return Err(ShapeError::NoConvergence { rounds, moved_mm: moved });
            }
        }
    }

    fn mahalanobis(&self, b: &[f64]) -> (f64, f64) {
        let square: f64 = b.iter().zip(&self.variances_mm2).map(|(b, v)| b * b / v).sum();
        (square.sqrt(), chi_square_quantile(0.99, b.len().max(1) as f64).sqrt())
    }

    /// RMS distance of the seen vertices from the model, in mm as given.
    fn residual(&self, given: &[Point], solved: &Solved) -> f64 {
        let mut square = 0.0;
        for (i, p) in given.iter().enumerate() {
            let laid = solved.transform.apply(*p);
            for (a, x) in laid.iter().enumerate() {
                let model: f64 = self.rows.iter().zip(&solved.b).map(|(row, b)| b * row[i][a]).sum();
                square += (x - self.target[i][a] - model).powi(2);
            }
        }
        (square / given.len() as f64).sqrt() / solved.transform.scale
    }

    /// Completes a shape: one position a seen vertex, in mm in any pose.
    ///
    /// # Errors
    /// [`ShapeError::Seen`] where they hold no pose or are not finite; [`ShapeError::Align`] where they lie on a line; [`ShapeError::Count`]; [`ShapeError::NoConvergence`].
    pub fn complete(&self, given: &[Point]) -> Result<Completed, ShapeError> {
        let solved = self.solve(given)?;
        let everywhere: Vec<u32> = (0..self.space.mean.len() as u32).collect();
        let (positions, sd_mm) = self.lay(&solved, &everywhere)?;
        let (mahalanobis, limit) = self.mahalanobis(&solved.b);
        let k = solved.b.len();
        Ok(Completed {
            positions,
            sd_mm,
            z_95: normal_quantile(0.95),
            residual_rms_mm: self.residual(given, &solved),
            coefficients_mm: solved.b,
            covariance_mm2: (0..k).map(|i| (0..k).map(|j| solved.covariance[[i, j]]).collect()).collect(),
            transform: solved.transform,
            seen: self.seen.len(),
            independent: self.independent,
            noise_mm: self.noise2.sqrt(),
            error_mm: self.error2.sqrt(),
            rounds: solved.rounds,
            mahalanobis,
            limit,
            outside: mahalanobis > limit,
        })
    }

    /// The places of some vertices of a shape, as [`Completer::complete`] finds them.
    ///
    /// # Errors
    /// As [`Completer::complete`].
    pub fn fill(&self, given: &[Point], vertices: &[u32]) -> Result<Filled, ShapeError> {
        let solved = self.solve(given)?;
        let (positions, sd_mm) = self.lay(&solved, vertices)?;
        let (mahalanobis, limit) = self.mahalanobis(&solved.b);
        Ok(Filled {
            positions,
            sd_mm,
            residual_rms_mm: self.residual(given, &solved),
            mahalanobis,
            outside: mahalanobis > limit,
        })
    }

    /// Positions and SDs of vertices in the frame of the seen ones.
    fn lay(&self, solved: &Solved, vertices: &[u32]) -> Result<(Vec<Point>, Vec<Point>), ShapeError> {
        let k = solved.b.len();
        let back = solved.transform.inverse();
        let modes: Vec<Vec<Point>> =
            self.space.modes[..k].iter().map(|m| vertices.iter().map(|v| m[*v as usize]).collect()).collect();
        let mut shape: Vec<Point> = vertices.iter().map(|v| self.space.mean[*v as usize]).collect();
        for (mode, b) in modes.iter().zip(&solved.b) {
            for (x, u) in shape.iter_mut().zip(mode) {
                for a in 0..3 {
                    x[a] += b * u[a];
                }
            }
        }
        let moves: Vec<Vec<Point>> = self
            .pose
            .moves
            .iter()
            .map(|m| shape.iter().map(|p| m.at(*p, solved.centre, solved.lever).map(|x| -x)).collect())
            .collect();
        let all: Vec<&[Point]> =
            modes.iter().map(Vec::as_slice).chain(moves.iter().map(Vec::as_slice)).collect();
        let covariance: Vec<Vec<f64>> = solved.covariance.outer_iter().map(|row| row.to_vec()).collect();
        let mut sd_mm = vertex_sd_mm(&all, &covariance, self.noise2, &back.rotation)?;
        sd_mm.iter_mut().for_each(|sd| *sd = sd.map(|x| x * back.scale));
        Ok((shape.iter().map(|p| back.apply(*p)).collect(), sd_mm))
    }
}

fn check(seen: &[u32], vertices: usize) -> Result<(), SeenFault> {
    if seen.len() < 3 {
        return Err(SeenFault::Few { given: seen.len() });
    }
    let mut there = vec![false; vertices];
    for v in seen {
        match there.get_mut(*v as usize) {
            None => return Err(SeenFault::NoVertex { vertex: *v, last: vertices.max(1) - 1 }),
            Some(true) => return Err(SeenFault::Twice { vertex: *v }),
            Some(free) => *free = true,
        }
    }
    Ok(())
}

fn weighted(a: &[Point], b: &[Point], weights: &[f64]) -> f64 {
    a.iter().zip(b).zip(weights).map(|((a, b), w)| w * (a[0] * b[0] + a[1] * b[1] + a[2] * b[2])).sum()
}

/// For every seen vertex one over the number of seen vertices of its patch.
fn shares(space: &Space, seen: &[u32], freedom: Option<f64>) -> Vec<f64> {
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
    for v in seen {
        counts[nearest[*v as usize].1] += 1.0;
    }
    seen.iter().map(|v| 1.0 / counts[nearest[*v as usize].1]).collect()
}
