//! Maps of apparent surface strain: smoothed at a stated length, over all frames, streamed.
//!
//! The Green strain E = (C - I) / 2 of every triangle in its own plane is spread over the reference surface by diffusion for the time
//! s^2 / 2: a Gaussian of standard deviation s on a flat surface. The smoothing length is its full width at half height, 2.355 s. Across an edge
//! tensors are turned with the plane (about the edge), so that a uniform strain stays what it is and no strain stays none. Fluxes are
//! edge length over distance of the centres (finite volumes); time goes in super-steps of a stabilised explicit scheme (Runge-Kutta-Legendre,
//! first order: Meyer, Balsara & Aslam 2014, from memory). Nothing flows over a boundary.
//!
//! Principal stretches are those of C = 2 E + I. The noise floor comes from third differences over successive frames
//! ([`crate::signal::noise`]) of the smoothed principal values' tensor, and is an upper bound.

use formkin_geometry::vector::{add, scale};
use formkin_geometry::{Point, ShapeSource, Topology};
use formkin_stats::quantile::median_of;
use rayon::prelude::*;
use serde::{Deserialize, Serialize};

use crate::smoother::Smoother;
use crate::strain::StrainReference;
use crate::{MotionError, Reference};

/// Frames worked on together.
const BLOCK: usize = 16;

/// Settings of a strain map.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct StrainParams {
    /// The reference pose.
    pub reference: Reference,
    /// The smoothing length in mm: full width at half height; 0 for none (common practice: 20 to 30 mm).
    pub smoothing_mm: f64,
    /// How many frames are kept whole for a time slider, evenly spread.
    pub kept_frames: usize,
}

impl Default for StrainParams {
    fn default() -> Self {
        Self { reference: Reference::Frame(0), smoothing_mm: 25.0, kept_frames: 24 }
    }
}

/// The strain of a frame over the surface, for a map.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct StrainFrame {
    /// The frame, from 0.
    pub frame: usize,
    /// The larger engineering strain (stretch - 1) of every triangle.
    pub largest: Vec<f32>,
}

/// The course of the strain of a region.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct RegionStrain {
    /// The region.
    pub region: String,
    /// Its triangles: those with all corners in it.
    pub triangles: usize,
    /// Its area in the reference pose, in mm2.
    pub area_mm2: f64,
    /// Area-weighted mean of the larger stretch less 1, one a frame.
    pub largest: Vec<f64>,
    /// Area-weighted mean of the smaller stretch less 1, one a frame.
    pub smallest: Vec<f64>,
    /// Area over reference area, less 1, one a frame.
    pub area: Vec<f64>,
    /// The greatest of `largest` and its frame.
    pub peak: f64,
    /// The frame of the peak.
    pub peak_frame: usize,
}

/// The apparent surface strain of a movement.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct StrainMap {
    /// The settings.
    pub params: StrainParams,
    /// What it is.
    pub name: String,
    /// The reference pose in words.
    pub reference_pose: String,
    /// Number of frames.
    pub frames: usize,
    /// The largest engineering strain that each triangle reaches in any frame.
    pub peak: Vec<f64>,
    /// In which frame.
    pub peak_frame: Vec<u32>,
    /// The direction on the reference surface that is stretched then.
    pub peak_direction: Vec<Point>,
    /// The smaller engineering strain then.
    pub across_peak: Vec<f64>,
    /// The smallest engineering strain that each triangle reaches in any frame.
    pub trough: Vec<f64>,
    /// The largest shear: half the difference of the principal Green strains.
    pub shear: Vec<f64>,
    /// The smallest and the largest area ratio.
    pub area_ratio: Vec<[f64; 2]>,
    /// Share of the frames in which the triangle has lines of no extension (one stretch above 1, the other below, both by more than
    /// half a per cent).
    pub no_extension_share: Vec<f64>,
    /// Regions over time.
    pub regions: Vec<RegionStrain>,
    /// Frames for a time slider.
    pub kept: Vec<StrainFrame>,
    /// The noise floor, engineering strain: median over the triangles; `None` under twelve frames.
    pub noise_floor: Option<f64>,
    /// Stages of the smoothing.
    pub stages: usize,
    /// The smoothing length that was reached, in mm.
    pub smoothed_mm: f64,
    /// What to be careful about.
    pub caution: String,
}

impl StrainParams {
    /// Maps the strain of all frames of `source`; `regions` are summarised over time. Frames are streamed: memory holds a few of them.
    ///
    /// # Errors
    /// [`MotionError::NoSuchFrame`], [`MotionError::VertexCount`], [`MotionError::FlatTriangle`], [`MotionError::OutOfRange`],
    /// [`MotionError::Source`].
    #[expect(clippy::too_many_lines, reason = "one pass over the frames; the parts share a dozen sums")]
    pub fn map(
        &self,
        source: &dyn ShapeSource,
        topology: &Topology,
        regions: &[(String, Vec<u32>)],
        progress: &(dyn Fn(usize, usize) + Sync),
    ) -> Result<StrainMap, MotionError> {
        let n = source.shapes();
        if n == 0 {
            return Err(MotionError::TooFewFrames { frames: 0, needed: 1 });
        }
        if !(self.smoothing_mm >= 0.0 && self.smoothing_mm.is_finite()) {
            return Err(MotionError::OutOfRange {
                name: "smoothing_mm",
                value: self.smoothing_mm,
                range: "0 or more",
            });
        }
        let pose = match self.reference {
            Reference::Frame(frame) if frame >= n => {
                return Err(MotionError::NoSuchFrame { frame, last: n - 1 });
            }
            Reference::Frame(frame) => source.read_shape(frame)?,
            Reference::Mean => {
                let align = formkin_align::AlignParams::default();
                align.fit(source, topology, None, &|_, _| {})?.mean
            }
        };
        let reference = StrainReference::new(topology, &pose)?;
        let smoother = Smoother::new(topology, &pose, &reference, self.smoothing_mm);
        let triangles = topology.triangles().len();
        let areas = formkin_geometry::areas::triangle_areas(topology, &pose);
        let mut regions: Vec<(RegionStrain, Vec<usize>)> =
            regions.iter().map(|r| region(r, topology, &areas, n)).collect();
        let mut made = vec![Extremes::default(); triangles];
        let kept_every = n.div_ceil(self.kept_frames.max(1)).max(1);
        let mut kept = Vec::new();
        let mut before: Vec<Vec<[f64; 3]>> = Vec::new();
        let mut third = vec![0.0f64; triangles];
        let mut thirds = 0usize;
        for first in (0..n).step_by(BLOCK) {
            let block: Vec<Result<Vec<[f64; 3]>, MotionError>> = (first..(first + BLOCK).min(n))
                .into_par_iter()
                .map_init(Vec::new, |shape, k| {
                    shape.resize(source.vertices(), [0.0; 3]);
                    source.read_block(k, shape)?;
                    if shape.len() != topology.vertices() {
                        return Err(MotionError::VertexCount {
                            frames_vertices: shape.len(),
                            topology_vertices: topology.vertices(),
                        });
                    }
                    let strain: Vec<[f64; 3]> = reference.green(shape);
                    Ok(smoother.smooth(strain))
                })
                .collect();
            for (i, strain) in block.into_iter().enumerate() {
                let (frame, strain) = (first + i, strain?);
                made.par_iter_mut().zip(&strain).for_each(|(e, s)| e.take(frame, s));
                for (region, of) in &mut regions {
                    region.take(frame, of, &areas, &strain);
                }
                if frame.is_multiple_of(kept_every) && self.kept_frames > 0 {
                    let largest = strain.iter().map(|s| (stretches(s).0[0] - 1.0) as f32).collect();
                    kept.push(StrainFrame { frame, largest });
                }
                before.push(strain);
                if before.len() == 4 {
                    third.par_iter_mut().enumerate().for_each(|(t, sum)| {
                        let [a, b, c, d] = [0, 1, 2, 3].map(|k| before[k][t]);
                        // engineering strain is E to first order
                        let of = |k: usize| d[k] - 3.0 * c[k] + 3.0 * b[k] - a[k];
                        let (half, middle) = (0.5 * (of(0) - of(2)), 0.5 * (of(0) + of(2)));
                        *sum += half * half + of(1) * of(1) + middle * middle;
                    });
                    thirds += 1;
                    before.remove(0);
                }
            }
            progress((first + BLOCK).min(n), n);
        }
        let mut each: Vec<f64> = third.iter().map(|s| (s / thirds as f64 / 20.0).sqrt()).collect();
        let noise_floor = median_of(&mut each).filter(|_| thirds >= 8);
        let length = if self.smoothing_mm > 0.0 {
            format!("smoothed over {:.0} mm", smoother.reached_mm)
        } else {
            "not smoothed".to_owned()
        };
        Ok(StrainMap {
            params: self.clone(),
            name: format!("apparent surface strain, {length}"),
            reference_pose: match self.reference {
                Reference::Frame(f) => format!("frame {f}"),
                Reference::Mean => "mean of the aligned frames".to_owned(),
            },
            frames: n,
            peak: made.iter().map(|e| e.peak).collect(),
            peak_frame: made.iter().map(|e| e.peak_frame).collect(),
            peak_direction: made
                .par_iter()
                .zip(reference.axes())
                .map(|(e, axes)| {
                    let (s, c) = e.peak_angle.sin_cos();
                    add(scale(axes[0], c), scale(axes[1], s))
                })
                .collect(),
            across_peak: made.iter().map(|e| e.across).collect(),
            trough: made.iter().map(|e| e.trough).collect(),
            shear: made.iter().map(|e| e.shear).collect(),
            area_ratio: made.iter().map(|e| e.area).collect(),
            no_extension_share: made.iter().map(|e| e.both as f64 / n as f64).collect(),
            regions: regions.into_iter().map(|r| r.0.peaked()).collect(),
            kept,
            noise_floor,
            stages: smoother.stages,
            smoothed_mm: smoother.reached_mm,
            caution: "apparent: vertices that slide along the skin cannot be distinguished from skin that stretches"
                .to_owned(),
        })
    }
}

/// Principal stretches of a Green strain (e11, e12, e22), the larger first, and half the difference of the principal Green strains.
fn stretches(e: &[f64; 3]) -> ([f64; 2], f64) {
    let (middle, half) = (0.5 * (e[0] + e[2]), 0.5 * (e[0] - e[2]));
    let radius = (half * half + e[1] * e[1]).sqrt();
    let stretch = |green: f64| (2.0 * green + 1.0).max(0.0).sqrt();
    ([stretch(middle + radius), stretch(middle - radius)], radius)
}

/// The angle of the larger principal stretch from the first axis.
fn angle(e: &[f64; 3]) -> f64 {
    0.5 * e[1].atan2(0.5 * (e[0] - e[2]))
}

#[derive(Clone)]
struct Extremes {
    peak: f64,
    peak_frame: u32,
    peak_angle: f64,
    across: f64,
    trough: f64,
    shear: f64,
    area: [f64; 2],
    both: usize,
}

impl Default for Extremes {
    fn default() -> Self {
        Self {
            peak: f64::NEG_INFINITY,
            peak_frame: 0,
            peak_angle: 0.0,
            across: 0.0,
            trough: f64::INFINITY,
            shear: 0.0,
            area: [f64::INFINITY, f64::NEG_INFINITY],
            both: 0,
        }
    }
}

impl Extremes {
    fn take(&mut self, frame: usize, e: &[f64; 3]) {
        let ([l1, l2], radius) = stretches(e);
        if l1 - 1.0 > self.peak {
            self.peak = l1 - 1.0;
            self.peak_frame = frame as u32;
            self.peak_angle = angle(e);
            self.across = l2 - 1.0;
        }
        self.trough = self.trough.min(l2 - 1.0);
        self.shear = self.shear.max(radius);
        self.area = [self.area[0].min(l1 * l2), self.area[1].max(l1 * l2)];
        self.both += usize::from(l1 > 1.005 && l2 < 0.995);
    }
}

fn region(
    (name, vertices): &(String, Vec<u32>),
    topology: &Topology,
    areas: &[f64],
    frames: usize,
) -> (RegionStrain, Vec<usize>) {
    let mut inside = vec![false; topology.vertices()];
    for &v in vertices {
        if let Some(slot) = inside.get_mut(v as usize) {
            *slot = true;
        }
    }
    let of: Vec<usize> = topology
        .triangles()
        .iter()
        .enumerate()
        .filter(|(_, t)| t.iter().all(|&v| inside[v as usize]))
        .map(|(i, _)| i)
        .collect();
    let course = || vec![0.0; frames];
    let region = RegionStrain {
        region: name.clone(),
        triangles: of.len(),
        area_mm2: of.iter().map(|&t| areas[t]).sum(),
        largest: course(),
        smallest: course(),
        area: course(),
        peak: 0.0,
        peak_frame: 0,
    };
    (region, of)
}

impl RegionStrain {
    fn take(&mut self, frame: usize, of: &[usize], areas: &[f64], strain: &[[f64; 3]]) {
        let (mut large, mut small, mut area) = (0.0, 0.0, 0.0);
        for &t in of {
            let ([l1, l2], _) = stretches(&strain[t]);
            large += areas[t] * (l1 - 1.0);
            small += areas[t] * (l2 - 1.0);
            area += areas[t] * (l1 * l2 - 1.0);
        }
        if self.area_mm2 > 0.0 {
            self.largest[frame] = large / self.area_mm2;
            self.smallest[frame] = small / self.area_mm2;
            self.area[frame] = area / self.area_mm2;
        }
    }

    fn peaked(mut self) -> Self {
        let best = (0..self.largest.len()).max_by(|&a, &b| self.largest[a].total_cmp(&self.largest[b]));
        if let Some(best) = best {
            (self.peak, self.peak_frame) = (self.largest[best], best);
        }
        self
    }
}
