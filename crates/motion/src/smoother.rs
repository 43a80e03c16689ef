//! Smoothing of tensors over a surface: diffusion with turned planes, see [`crate::strain_map`].

use formkin_geometry::vector::{add, dot, norm, scale, sub, unit};
use formkin_geometry::{Point, Topology};

use crate::strain::StrainReference;

/// Full width at half height of a Gaussian over its standard deviation.
const WIDTH_OVER_SD: f64 = 2.354_820_045;
/// Most stages of a super-step: slivers do not stop a map, they are smoothed a little less.
const MOST_STAGES: usize = 120;

/// Spreads tensors over the reference surface.
pub(crate) struct Smoother {
    /// For every triangle up to three neighbours: which, the rate per area, and cos and sin of twice the turn from its axes to these.
    pub(crate) neighbours: Vec<[(u32, f64, f64, f64); 3]>,
    pub(crate) stages: usize,
    pub(crate) time: f64,
    pub(crate) reached_mm: f64,
}

impl Smoother {
    pub(crate) fn new(
        topology: &Topology,
        pose: &[Point],
        reference: &StrainReference,
        length_mm: f64,
    ) -> Self {
        let triangles = topology.triangles();
        let sd = length_mm / WIDTH_OVER_SD;
        let time = 0.5 * sd * sd;
        let none = (0u32, 0.0, 1.0, 0.0);
        if length_mm <= 0.0 {
            return Self { neighbours: Vec::new(), stages: 0, time: 0.0, reached_mm: 0.0 };
        }
        let areas = formkin_geometry::areas::triangle_areas(topology, pose);
        let centre = |t: usize| {
            let [a, b, c] = triangles[t].map(|v| pose[v as usize]);
            scale(add(add(a, b), c), 1.0 / 3.0)
        };
        let axes = reference.axes();
        let mut neighbours = vec![[none; 3]; triangles.len()];
        let mut count = vec![0usize; triangles.len()];
        for edge in topology.edges() {
            let [p, q] = edge.ends.map(|v| pose[v as usize]);
            // triangles that are wound alike share their sense of turning; nothing flows between others
            let (&[s], &[t], Some(along)) =
                (edge.forward.as_slice(), edge.backward.as_slice(), unit(sub(q, p)))
            else {
                continue;
            };
            let (s, t) = (s as usize, t as usize);
            // unfolded about the edge: the sum of the heights of the two centres over it, and their way along it
            let from_edge = |k: usize| {
                let d = sub(centre(k), p);
                let height = norm(sub(d, scale(along, dot(d, along))));
                (height, dot(d, along))
            };
            let ((hs, us), (ht, ut)) = (from_edge(s), from_edge(t));
            let apart = (hs + ht).hypot(us - ut);
            let least = 0.1 * (areas[s] + areas[t]).sqrt();
            let flux = norm(sub(q, p)) / apart.max(least);
            // the angle of the edge in the axes of each; their difference is the turn
            let angle = |k: usize| dot(along, axes[k][1]).atan2(dot(along, axes[k][0]));
            let turn = 2.0 * (angle(s) - angle(t));
            for (at, other, turn) in [(s, t, turn), (t, s, -turn)] {
                if count[at] < 3 {
                    let area = areas[at].max(1e-12);
                    neighbours[at][count[at]] = (other as u32, flux / area, turn.cos(), turn.sin());
                    count[at] += 1;
                }
            }
        }
        let fastest = neighbours.iter().map(|n| n.iter().map(|x| x.1).sum::<f64>()).fold(0.0, f64::max);
        // an explicit step is stable up to 1 / rate; s stages reach (s^2 + s) / 2 of it
        let step = 1.0 / fastest.max(1e-12);
        let wanted = ((2.0 * time / step + 0.25).sqrt() - 0.5).ceil().max(3.0) as usize;
        let stages = wanted.min(MOST_STAGES) | 1;
        let reach = 0.5 * (stages * stages + stages) as f64 * step;
        let time = time.min(reach);
        Self { neighbours, stages, time, reached_mm: (2.0 * time).sqrt() * WIDTH_OVER_SD }
    }

    pub(crate) fn smooth(&self, strain: Vec<[f64; 3]>) -> Vec<[f64; 3]> {
        if self.stages == 0 {
            return strain;
        }
        // isotropic part and the two deviatoric ones, which turn by twice the angle
        let y0: Vec<[f64; 3]> =
            strain.iter().map(|e| [0.5 * (e[0] + e[2]), 0.5 * (e[0] - e[2]), e[1]]).collect();
        let s = self.stages as f64;
        let w1 = 2.0 / (s * s + s);
        let rate = |y: &[[f64; 3]], t: usize| -> [f64; 3] {
            let me = y[t];
            let mut out = [0.0; 3];
            for &(k, flux, c, s) in &self.neighbours[t] {
                let o = y[k as usize];
                out[0] += flux * (o[0] - me[0]);
                out[1] += flux * (c * o[1] - s * o[2] - me[1]);
                out[2] += flux * (s * o[1] + c * o[2] - me[2]);
            }
            out
        };
        let mut before = y0;
        let mut now: Vec<[f64; 3]> = (0..before.len())
            .map(|t| {
                let r = rate(&before, t);
                std::array::from_fn(|c| before[t][c] + w1 * self.time * r[c])
            })
            .collect();
        for j in 2..=self.stages {
            let j = j as f64;
            let (mu, nu) = ((2.0 * j - 1.0) / j, (1.0 - j) / j);
            for t in 0..before.len() {
                let r = rate(&now, t);
                before[t] =
                    std::array::from_fn(|c| mu * now[t][c] + nu * before[t][c] + mu * w1 * self.time * r[c]);
            }
            std::mem::swap(&mut before, &mut now);
        }
        now.iter().map(|y| [y[0] + y[1], y[2], y[0] - y[1]]).collect()
    }
}
