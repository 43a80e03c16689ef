//! Time and memory of a space of many large shapes: `cargo run --release -p formkin-shape --example large -- [SHAPES] [VERTICES]`.
#![allow(clippy::print_stdout)] // it is a program

use std::time::Instant;

use formkin_geometry::{Point, ShapeSource, SourceError, Topology};
use formkin_shape::{ShapeError, SpaceParams};
use formkin_stats::random::stream;
use rand::Rng;
use rand_distr::StandardNormal;

/// Shapes as a file holds them: single precision.
struct Stored {
    vertices: usize,
    positions: Vec<[f32; 3]>,
}

impl ShapeSource for Stored {
    fn shapes(&self) -> usize {
        self.positions.len() / self.vertices
    }

    fn vertices(&self) -> usize {
        self.vertices
    }

    fn read_block(&self, first: usize, out: &mut [Point]) -> Result<(), SourceError> {
        let found = self.positions.get(first * self.vertices..first * self.vertices + out.len());
        let found = found.ok_or(SourceError { shape: first, reason: "it is not there".to_owned() })?;
        for (p, q) in out.iter_mut().zip(found) {
            *p = q.map(f64::from);
        }
        Ok(())
    }
}

fn main() -> Result<(), ShapeError> {
    let mut numbers = std::env::args().skip(1).filter_map(|a| a.parse::<usize>().ok());
    let (n, wanted) = (numbers.next().unwrap_or(300), numbers.next().unwrap_or(50_000));
    let spokes = (wanted as f64 / 2.0).sqrt() as usize;
    let rings = wanted / spokes;
    let vertices = rings * spokes;
    let mut triangles = Vec::new();
    for r in 0..rings - 1 {
        for s in 0..spokes {
            let id = |r: usize, s: usize| (r * spokes + s % spokes) as u32;
            triangles.push([id(r, s), id(r, s + 1), id(r + 1, s + 1)]);
            triangles.push([id(r, s), id(r + 1, s + 1), id(r + 1, s)]);
        }
    }
    let topology = Topology::new(vertices, triangles).map_err(|_| ShapeError::TooFewShapes { shapes: 0 })?;
    let mut rng = stream(1, "large");
    let mut source = Stored { vertices, positions: Vec::with_capacity(n * vertices) };
    for _ in 0..n {
        let f: [f64; 40] = std::array::from_fn(|_| rng.sample::<f64, _>(StandardNormal));
        for r in 0..rings {
            let h = r as f64 / rings as f64;
            let wave: f64 = (1..40).map(|k| f[k] * (k as f64 * h * 3.0).sin() / k as f64).sum();
            for s in 0..spokes {
                let a = std::f64::consts::TAU * s as f64 / spokes as f64;
                let x = (200.0 + 20.0 * wave) * a.cos() * (0.3 + (3.0 * h).sin());
                let y = (120.0 + 10.0 * f[3] + 15.0 * wave) * a.sin() * (0.3 + (3.0 * h).sin());
                let z = 1700.0 * h * (1.0 + 0.04 * f[0]);
                source.positions.push([x, y, z].map(|c| c as f32 + rng.gen_range(-1.0..1.0)));
            }
        }
    }
    let people: Vec<usize> = (0..n).collect();
    let start = Instant::now();
    let fit = SpaceParams::default().fit(&source, &topology, &people, None, &|done, _| {
        if done % 100 == 0 {
            println!("{:5.1} s: {} %", start.elapsed().as_secs_f64(), done / 10);
        }
    })?;
    let peak = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let peak = peak.lines().find(|l| l.starts_with("VmHWM")).unwrap_or("VmHWM: unknown").to_owned();
    println!(
        "{n} shapes x {vertices} vertices: {:.1} s, {} rounds, {} modes kept, {:?} chosen; {peak}, of which {} MB are the shapes",
        start.elapsed().as_secs_f64(),
        fit.alignment.rounds,
        fit.space.modes.len(),
        fit.space.cross_validation.as_ref().and_then(|c| c.chosen_modes),
        source.positions.len() * 12 / 1_000_000
    );
    Ok(())
}
