//! Surfaces to test on: a bumpy ball, turned, moved and shaken.
#![allow(dead_code, unreachable_pub)] // every test file takes what it needs
#![allow(clippy::unwrap_used, clippy::print_stdout)] // it is part of tests

use formkin_align::Transform;
use formkin_geometry::{Point, ShapeArray, ShapeSource, Topology};
use formkin_stats::random::stream;
use rand::Rng;
use rand_distr::StandardNormal;

/// A closed surface of `rings` x `spokes` + 2 vertices, about 1.7 m high, without symmetry.
pub fn body(rings: usize, spokes: usize) -> (Topology, Vec<Point>) {
    let mut points = vec![[0.0, 0.0, 0.0]];
    for r in 1..=rings {
        let t = std::f64::consts::PI * r as f64 / (rings + 1) as f64;
        for s in 0..spokes {
            let a = std::f64::consts::TAU * s as f64 / spokes as f64;
            let bump = 1.0 + 0.3 * (a + 0.5).cos() * t.sin() + 0.2 * (2.0 * a + t).sin();
            points.push([
                250.0 * t.sin() * a.cos() * bump,
                150.0 * t.sin() * a.sin() * bump,
                850.0 * (1.0 - t.cos()),
            ]);
        }
    }
    points.push([0.0, 0.0, 1700.0]);
    let id = |r: usize, s: usize| (1 + r * spokes + s % spokes) as u32;
    let top = (points.len() - 1) as u32;
    let mut triangles = Vec::new();
    for s in 0..spokes {
        triangles.push([0, id(0, s + 1), id(0, s)]);
        triangles.push([top, id(rings - 1, s), id(rings - 1, s + 1)]);
        for r in 0..rings - 1 {
            triangles.push([id(r, s), id(r, s + 1), id(r + 1, s + 1)]);
            triangles.push([id(r, s), id(r + 1, s + 1), id(r + 1, s)]);
        }
    }
    (Topology::new(points.len(), triangles).unwrap(), points)
}

/// A rotation from Euler angles in radians.
pub fn rotation(a: f64, b: f64, c: f64) -> Transform {
    let ((sa, ca), (sb, cb), (sc, cc)) = (a.sin_cos(), b.sin_cos(), c.sin_cos());
    let z = Transform { rotation: [[ca, -sa, 0.0], [sa, ca, 0.0], [0.0, 0.0, 1.0]], ..Transform::default() };
    let y = Transform { rotation: [[cb, 0.0, sb], [0.0, 1.0, 0.0], [-sb, 0.0, cb]], ..Transform::default() };
    let x = Transform { rotation: [[1.0, 0.0, 0.0], [0.0, cc, -sc], [0.0, sc, cc]], ..Transform::default() };
    z.compose(&y).compose(&x)
}

/// `n` shapes: the body with smooth random change of `amount` mm and noise of a tenth of it, each turned by up to `turn` radians about every axis and moved.
pub fn shapes(n: usize, base: &[Point], amount: f64, turn: f64, seed: u64) -> ShapeArray {
    let mut rng = stream(seed, "shapes");
    let mut out = ShapeArray::new(base.len());
    for _ in 0..n {
        let f: [f64; 6] = std::array::from_fn(|_| rng.sample::<f64, _>(StandardNormal));
        let mut shape: Vec<Point> = base
            .iter()
            .map(|p| {
                let h = p[2] / 1700.0;
                let change = [
                    f[0] * p[0] / 250.0 + f[1] * (6.0 * h).sin(),
                    f[2] * p[1] / 150.0 + f[3] * (4.0 * h).cos() * p[0] / 250.0,
                    2.0 * f[4] * h + f[5] * (9.0 * h).sin() * p[1] / 150.0,
                ];
                std::array::from_fn(|k| {
                    p[k] + amount * (change[k] + 0.1 * rng.sample::<f64, _>(StandardNormal))
                })
            })
            .collect();
        let mut pose = rotation(
            turn * rng.gen_range(-1.0..1.0),
            turn * rng.gen_range(-1.0..1.0),
            turn * rng.gen_range(-1.0..1.0),
        );
        pose.translation = std::array::from_fn(|_| rng.gen_range(-900.0..900.0));
        pose.apply_all(&mut shape);
        out.push(&shape).unwrap();
    }
    out
}

/// The shapes of a source in another order, or some of them.
pub fn pick(source: &ShapeArray, order: &[usize]) -> ShapeArray {
    let mut out = ShapeArray::new(source.vertices());
    for &i in order {
        out.push(source.shape(i)).unwrap();
    }
    out
}

/// Reads the `v` lines of every OBJ file of a folder of real sequences, in millimetres and z up, with the triangles of the first; `None` where the folder is absent.
pub fn real(folder: &str) -> Option<(Topology, ShapeArray)> {
    let path = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("../../../shared/data").join(folder);
    let Ok(entries) = std::fs::read_dir(&path) else {
        println!("skipped: {} is not there", path.display());
        return None;
    };
    let mut files: Vec<_> =
        entries.map(|e| e.unwrap().path()).filter(|p| p.extension().is_some_and(|x| x == "obj")).collect();
    files.sort();
    let mut found: Option<(Topology, ShapeArray)> = None;
    for file in files {
        let text = std::fs::read_to_string(file).unwrap();
        let numbers =
            |line: &str| -> Vec<f64> { line.split_whitespace().map(|x| x.parse().unwrap()).collect() };
        let shape: Vec<Point> = text
            .lines()
            .filter_map(|l| l.strip_prefix("v "))
            .map(|l| {
                let p = numbers(l);
                [1000.0 * p[0], -1000.0 * p[2], 1000.0 * p[1]]
            })
            .collect();
        let (_, all) = found.get_or_insert_with(|| {
            let triangles = text
                .lines()
                .filter_map(|l| l.strip_prefix("f "))
                .map(|l| {
                    let t: Vec<u32> = l
                        .split_whitespace()
                        .map(|c| c.split('/').next().unwrap().parse::<u32>().unwrap() - 1)
                        .collect();
                    [t[0], t[1], t[2]]
                })
                .collect();
            (Topology::new(shape.len(), triangles).unwrap(), ShapeArray::new(shape.len()))
        });
        all.push(&shape).unwrap();
    }
    found
}

/// sqrt of the mean over vertices of the squared distance.
pub fn rms(a: &[Point], b: &[Point]) -> f64 {
    let sum: f64 = a.iter().zip(b).map(|(p, q)| (0..3).map(|k| (p[k] - q[k]).powi(2)).sum::<f64>()).sum();
    (sum / a.len() as f64).sqrt()
}

/// Nobody listens.
pub fn quiet(_: usize, _: usize) {}
