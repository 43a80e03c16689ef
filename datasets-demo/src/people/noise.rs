//! The scanner's noise: a smooth field of a few centimetres along the normal, and a small white part.

use formkin_geometry::areas::vector_area;
use formkin_geometry::vector::{norm, scale};
use formkin_geometry::{Point, Topology};
use rand::Rng;
use rand_distr::{Distribution, StandardNormal};

/// Waves of the smooth field.
const WAVES: usize = 20;
/// Correlation length of the smooth field, mm.
const LENGTH_MM: f64 = 30.0;

/// Moves every vertex along its normal: SD `sd_mm` in all, 0.99 of it smooth (random waves: exp(-d^2 / 2 L^2), L = 30 mm),
/// the rest white. The sole stays on the floor,
/// and in narrow hollows (behind the ear) there is less, so that the skin does not pass through itself.
pub(crate) fn add_noise(
    topology: &Topology,
    rest: &[Point],
    body: &mut [Point],
    sd_mm: f64,
    rng: &mut impl Rng,
) {
    if sd_mm <= 0.0 {
        return;
    }
    let mut normal = || -> f64 { StandardNormal.sample(rng) };
    let amplitude = 0.99 * sd_mm * (2.0 / WAVES as f64).sqrt();
    let waves: Vec<[f64; 4]> = (0..WAVES)
        .map(|_| {
            [
                normal() / LENGTH_MM,
                normal() / LENGTH_MM,
                normal() / LENGTH_MM,
                normal() * std::f64::consts::TAU,
            ]
        })
        .collect();
    let normals = damped_normals(topology, body);
    for (v, p) in body.iter_mut().enumerate() {
        let r = rest[v];
        let smooth: f64 = waves.iter().map(|w| (w[0] * r[0] + w[1] * r[1] + w[2] * r[2] + w[3]).cos()).sum();
        let white: f64 = StandardNormal.sample(rng);
        let keep = crate::template::membership::step(r[2] / 20.0);
        let n = keep * (amplitude * smooth + 0.14 * sd_mm * white);
        for c in 0..3 {
            p[c] += n * normals[v][c];
        }
    }
}

/// Unit normals, shorter where the triangles around a vertex face different ways: nothing from a mean of 0.6 down, all from 0.95.
fn damped_normals(topology: &Topology, body: &[Point]) -> Vec<Point> {
    let mut sums = vec![([0.0; 3], 0.0); body.len()];
    for t in topology.triangles() {
        let [a, b, c] = t.map(|v| body[v as usize]);
        let n = vector_area(a, b, c);
        let size = norm(n);
        for &v in t {
            let (sum, total) = &mut sums[v as usize];
            for k in 0..3 {
                sum[k] += n[k];
            }
            *total += size;
        }
    }
    sums.into_iter()
        .map(|(sum, total)| {
            let length = norm(sum).max(1e-12);
            let agreement: f64 = length / total.max(1e-12);
            scale(sum, crate::template::membership::step((agreement - 0.6) / 0.35) / length)
        })
        .collect()
}
