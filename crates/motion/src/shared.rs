//! One motion space over captures and people.
//!
//! Every capture is aligned on its own (rigid part out of each frame), taken relative to its own mean or reference pose, and turned to the
//! pose of the first capture's mean, so that only deformation is left: y_ci = x_ci - reference_c. The modes are those of all frames together,
//! every capture with the same weight in sum (a long one does not outweigh a short one):
//!
//! y_ci = sum_k b_cik p_k, variance_k = sum_c (1/C) (1/n_c) sum_i b_cik^2: not centred over captures, since the reference pose is the origin.
//!
//! Cross-validation leaves out a participant at a time (or a capture, where there is one person) and reconstructs the left-out frames from modes of
//! the others, all from one matrix of scalar products.

use std::collections::BTreeMap;

use formkin_align::{AlignParams, Alignment, Removes, Transform, Weighting, align_one};
use formkin_geometry::vector::sub;
use formkin_geometry::{Point, ShapeSource, SourceError, Topology};
use formkin_shape::gram::{combine, fix_sign, gram_matrix};
use formkin_stats::symmetric::symmetric_eigen;
use ndarray::Array2;
use serde::{Deserialize, Serialize};

use crate::MotionError;

/// A capture of a participant.
pub struct CaptureFrames<'a> {
    /// Its name.
    pub capture: String,
    /// Who moves.
    pub participant: String,
    /// Its frames.
    pub source: &'a dyn ShapeSource,
    /// Its time stamps, in s.
    pub times_s: Vec<f64>,
}

/// What a capture is taken relative to.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Origin {
    /// Its own mean.
    #[default]
    Mean,
    /// Its own first frame.
    FirstFrame,
}

/// Settings of a shared motion space.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct SharedParams {
    /// What each capture is taken relative to.
    pub origin: Origin,
    /// Most modes to keep.
    pub modes: usize,
    /// Most frames of all captures together: beyond, every capture is thinned evenly by the same step.
    pub most_frames: usize,
}

impl Default for SharedParams {
    fn default() -> Self {
        Self { origin: Origin::Mean, modes: 10, most_frames: 3000 }
    }
}

/// The course of a capture in the shared space.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SharedCourse {
    /// The capture.
    pub capture: String,
    /// Who moves.
    pub participant: String,
    /// The frames used, from 0.
    pub frames: Vec<usize>,
    /// Their times, in s.
    pub times_s: Vec<f64>,
    /// One row a frame, one column a mode, in mm.
    pub coefficients: Vec<Vec<f64>>,
    /// Root mean square of the capture's deformation, in mm.
    pub rms_mm: f64,
    /// The share of that in the modes kept, 0 to 1.
    pub explained: f64,
}

/// Error on what was left out.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct LeftOut {
    /// What was left out at a time: `participant` or `capture`.
    pub by: String,
    /// How many were.
    pub groups: usize,
    /// Root mean square error of the left-out frames with 0, 1, .. modes of the others, every group with the same weight, in mm.
    pub rms_mm: Vec<f64>,
}

/// One motion space over captures.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SharedMotion {
    /// The settings.
    pub params: SharedParams,
    /// Number of participants.
    pub people: usize,
    /// Number of captures.
    pub captures: usize,
    /// Frames used of all captures together.
    pub frames: usize,
    /// Every how many frames one was used.
    pub thinned_by: usize,
    /// The mean of the first capture: the pose that modes are drawn on, in mm.
    pub base: Vec<Point>,
    /// Vertex weights; they sum to 1.
    pub weights: Vec<f64>,
    /// Modes: sum over vertices of w |p|^2 is 1.
    pub modes: Vec<Vec<Point>>,
    /// Mean square of the coefficients, captures weighted alike, in mm2.
    pub variances_mm2: Vec<f64>,
    /// The sum over all modes, in mm2.
    pub total_variance_mm2: f64,
    /// Capture by capture.
    pub courses: Vec<SharedCourse>,
    /// Error on captures of people (or captures) left out; `None` where there is one only.
    pub left_out: Option<LeftOut>,
}

struct Part<'a> {
    source: &'a dyn ShapeSource,
    frames: Vec<usize>,
    transforms: Vec<Transform>,
    origin: Vec<Point>,
}

/// All captures' deformations as one source.
struct Deformations<'a> {
    parts: Vec<Part<'a>>,
    starts: Vec<usize>,
    vertices: usize,
}

impl ShapeSource for Deformations<'_> {
    fn shapes(&self) -> usize {
        self.starts.last().copied().unwrap_or(0)
    }

    fn vertices(&self) -> usize {
        self.vertices
    }

    fn read_block(&self, first: usize, out: &mut [Point]) -> Result<(), SourceError> {
        for (i, shape) in out.chunks_mut(self.vertices).enumerate() {
            let k = first + i;
            let c = self.starts.partition_point(|&s| s <= k).wrapping_sub(1);
            let Some(part) = self.parts.get(c) else {
                return Err(SourceError { shape: k, reason: "there are fewer frames".to_owned() });
            };
            let at = k - self.starts[c];
            part.source.read_block(part.frames[at], shape)?;
            let t = part.transforms[at];
            for (p, o) in shape.iter_mut().zip(&part.origin) {
                *p = sub(t.apply(*p), *o);
            }
        }
        Ok(())
    }
}

impl SharedParams {
    /// Builds the space.
    ///
    /// # Errors
    /// [`MotionError::Count`] without a capture; [`MotionError::TooFewFrames`], [`MotionError::VertexCount`]; an alignment that fails.
    #[expect(clippy::too_many_lines, reason = "the steps of one fit, each on what all before it found")]
    pub fn fit(
        &self,
        captures: &[CaptureFrames<'_>],
        topology: &Topology,
        progress: &(dyn Fn(usize, usize) + Sync),
    ) -> Result<SharedMotion, MotionError> {
        if captures.is_empty() {
            return Err(MotionError::Count { what: "captures", expected: 1, found: 0 });
        }
        if self.modes == 0 {
            return Err(MotionError::OutOfRange { name: "modes", value: 0.0, range: "at least 1" });
        }
        let v = topology.vertices();
        let all: usize = captures.iter().map(|c| c.source.shapes()).sum();
        let step = all.div_ceil(self.most_frames.max(2)).max(1);
        let mut base: Option<(Vec<Point>, Vec<f64>)> = None;
        let mut parts = Vec::new();
        let steps = captures.len() + 2;
        for (i, c) in captures.iter().enumerate() {
            if c.source.vertices() != v {
                return Err(MotionError::VertexCount {
                    frames_vertices: c.source.vertices(),
                    topology_vertices: v,
                });
            }
            if c.source.shapes() < 2 {
                return Err(MotionError::TooFewFrames { frames: c.source.shapes(), needed: 2 });
            }
            if c.times_s.len() != c.source.shapes() {
                return Err(MotionError::TimeCount { times: c.times_s.len(), frames: c.source.shapes() });
            }
            let align = AlignParams { weighting: Weighting::Area, ..AlignParams::default() };
            let first = c.source.read_shape(0)?;
            let alignment = align.fit(c.source, topology, Some(&first), &|_, _| {})?;
            let (mean, weights) =
                base.get_or_insert_with(|| (alignment.mean.clone(), alignment.weights.clone()));
            let turn = align_one(&alignment.mean, mean, weights, Removes::Rigid)?;
            parts.push(self.part(c.source, &alignment, turn, step, &first));
            progress(i + 1, steps);
        }
        let Some((base, weights)) = base else {
            return Err(MotionError::Count { what: "captures", expected: 1, found: 0 });
        };
        let mut starts = vec![0];
        for p in &parts {
            starts.push(starts[starts.len() - 1] + p.frames.len());
        }
        let source = Deformations { parts, starts, vertices: v };
        let zero = vec![[0.0; 3]; v];
        let gram = gram_matrix(&source, &zero, &weights, &|_, _| {})?;
        progress(captures.len() + 1, steps);
        let capture_of: Vec<usize> = (0..captures.len())
            .flat_map(|c| std::iter::repeat_n(c, source.starts[c + 1] - source.starts[c]))
            .collect();
        let lengths: Vec<f64> =
            (0..captures.len()).map(|c| (source.starts[c + 1] - source.starts[c]) as f64).collect();
        let total_captures = captures.len() as f64;
        let weight: Vec<f64> = capture_of.iter().map(|&c| 1.0 / (total_captures * lengths[c])).collect();
        let (values, vectors) = weighted(&gram, &weight, &(0..weight.len()).collect::<Vec<_>>())?;
        let total_variance_mm2: f64 = gram.diag().iter().zip(&weight).map(|(g, w)| g * w).sum();
        let kept = values.iter().take(self.modes).take_while(|&&l| l > 1e-12 * total_variance_mm2).count();
        // p_k = sum_i columns_ik y_i; b_ik = G columns
        let columns = Array2::from_shape_fn((weight.len(), kept), |(i, k)| vectors[[i, k]]);
        let mut modes = combine(&source, &zero, &columns, &|_, _| {})?;
        let signs: Vec<f64> = modes.iter_mut().map(|m| fix_sign(m)).collect();
        let scores = gram.dot(&columns);
        let courses = captures
            .iter()
            .enumerate()
            .map(|(c, capture)| {
                let (from, to) = (source.starts[c], source.starts[c + 1]);
                let squares: f64 = (from..to).map(|i| gram[[i, i]]).sum::<f64>() / lengths[c];
                let coefficients: Vec<Vec<f64>> =
                    (from..to).map(|i| (0..kept).map(|k| signs[k] * scores[[i, k]]).collect()).collect();
                let held: f64 = coefficients.iter().flatten().map(|b| b * b).sum::<f64>() / lengths[c];
                let frames = source.parts[c].frames.clone();
                SharedCourse {
                    capture: capture.capture.clone(),
                    participant: capture.participant.clone(),
                    times_s: frames.iter().map(|&f| capture.times_s[f]).collect(),
                    frames,
                    coefficients,
                    rms_mm: squares.sqrt(),
                    explained: if squares > 0.0 { (held / squares).min(1.0) } else { 1.0 },
                }
            })
            .collect();
        let people: BTreeMap<&str, usize> = {
            let mut map = BTreeMap::new();
            for c in captures {
                let next = map.len();
                map.entry(c.participant.as_str()).or_insert(next);
            }
            map
        };
        let (by, group): (&str, Vec<usize>) = if people.len() > 1 {
            ("participant", captures.iter().map(|c| people[c.participant.as_str()]).collect())
        } else {
            ("capture", (0..captures.len()).collect())
        };
        let groups = group.iter().max().map_or(0, |m| m + 1);
        let left_out = if groups > 1 {
            let of: Vec<usize> = capture_of.iter().map(|&c| group[c]).collect();
            let rms_mm = left_out(&gram, &weight, &of, groups, self.modes)?;
            Some(LeftOut { by: by.to_owned(), groups, rms_mm })
        } else {
            None
        };
        progress(steps, steps);
        Ok(SharedMotion {
            params: self.clone(),
            people: people.len(),
            captures: captures.len(),
            frames: weight.len(),
            thinned_by: step,
            base,
            weights,
            modes,
            variances_mm2: values[..kept].to_vec(),
            total_variance_mm2,
            courses,
            left_out,
        })
    }

    fn part<'a>(
        &self,
        source: &'a dyn ShapeSource,
        alignment: &Alignment,
        turn: Transform,
        step: usize,
        first: &[Point],
    ) -> Part<'a> {
        let frames: Vec<usize> = (0..source.shapes()).step_by(step).collect();
        let transforms: Vec<Transform> =
            frames.iter().map(|&f| turn.compose(&alignment.transforms[f])).collect();
        let origin = match self.origin {
            Origin::Mean => alignment.mean.iter().map(|&p| turn.apply(p)).collect(),
            Origin::FirstFrame => first.iter().map(|&p| transforms[0].apply(p)).collect(),
        };
        Part { source, frames, transforms, origin }
    }
}

/// Eigenvalues of the weighted second moment of the frames `chosen`, and the columns that combine these frames to modes of unit length (zero for
/// others).
fn weighted(
    gram: &Array2<f64>,
    weight: &[f64],
    chosen: &[usize],
) -> Result<(Vec<f64>, Array2<f64>), MotionError> {
    let m = chosen.len();
    let sum: f64 = chosen.iter().map(|&i| weight[i]).sum();
    let root: Vec<f64> = chosen.iter().map(|&i| (weight[i] / sum).sqrt()).collect();
    let small = Array2::from_shape_fn((m, m), |(a, b)| root[a] * root[b] * gram[[chosen[a], chosen[b]]]);
    let eigen = symmetric_eigen(&small)?;
    let mut columns = Array2::zeros((weight.len(), m));
    for k in 0..m {
        let length = eigen.values[k].max(0.0).sqrt();
        if length > 0.0 {
            for (a, &i) in chosen.iter().enumerate() {
                columns[[i, k]] = root[a] * eigen.vectors[[a, k]] / length;
            }
        }
    }
    Ok((eigen.values, columns))
}

/// Error of each group's frames with modes of the others.
fn left_out(
    gram: &Array2<f64>,
    weight: &[f64],
    group: &[usize],
    groups: usize,
    modes: usize,
) -> Result<Vec<f64>, MotionError> {
    let mut squares = vec![0.0; modes + 1];
    for g in 0..groups {
        let train: Vec<usize> = (0..group.len()).filter(|&i| group[i] != g).collect();
        let test: Vec<usize> = (0..group.len()).filter(|&i| group[i] == g).collect();
        let (values, columns) = weighted(gram, weight, &train)?;
        let largest = values.first().copied().unwrap_or(0.0);
        let sum: f64 = test.iter().map(|&i| weight[i]).sum();
        for &i in &test {
            let mut left = gram[[i, i]];
            squares[0] += weight[i] / sum * left;
            for k in 0..modes {
                if k < values.len() && values[k] > 1e-12 * largest {
                    let b: f64 = train.iter().map(|&j| gram[[i, j]] * columns[[j, k]]).sum();
                    left = (left - b * b).max(0.0);
                }
                squares[k + 1] += weight[i] / sum * left;
            }
        }
    }
    Ok(squares.iter().map(|s| (s / groups as f64).sqrt()).collect())
}

impl SharedMotion {
    /// Root mean square over all frames of what so many modes leave in the sample that they were fitted to, captures weighted alike, in mm.
    #[must_use]
    pub fn error_in_sample_mm(&self, modes: usize) -> f64 {
        let held: f64 = self.variances_mm2.iter().take(modes).sum();
        (self.total_variance_mm2 - held).max(0.0).sqrt()
    }
}
