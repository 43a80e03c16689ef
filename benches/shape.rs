//! The dense work of a shape space beside a plain matrix product in the same run: the Gram matrix of 150 shapes of 20,000 vertices and its eigenvectors, and
//! a cross-validation by cross moments beside refitting every fold. Both must come to the same numbers first.

#![allow(missing_docs, clippy::unwrap_used)] // criterion's macros make public items; a bench that cannot set up fails

use std::hint::black_box;
use std::time::Duration;

use criterion::{Criterion, criterion_group, criterion_main};
use formkin_align::{AlignParams, Weighting};
use formkin_geometry::{Point, ShapeArray, Subset, Topology};
use formkin_shape::{Space, SpaceParams, cross_validate};
use formkin_stats::folds::grouped_folds;
use formkin_stats::gram::add_gram;
use formkin_stats::random::stream;
use formkin_stats::symmetric::symmetric_eigen;
use formkin_tests::bodies::{tube, tube_positions};
use ndarray::Array2;
use rand::Rng;

fn bodies(count: usize, rings: u32, around: u32) -> (std::sync::Arc<Topology>, ShapeArray) {
    let mut random = stream(1, "bodies of the benches");
    let topology = tube(rings, around).unwrap();
    let mut shapes = ShapeArray::new(topology.vertices());
    for _ in 0..count {
        let [tall, wide, deep]: [f64; 3] = std::array::from_fn(|_| random.r#gen::<f64>() - 0.5);
        let mut shape = tube_positions(rings, around, 1700.0 + 250.0 * tall, |f| {
            [(170.0 + 50.0 * wide) * (1.0 - 0.4 * f), (110.0 + 40.0 * deep) * (1.0 - 0.2 * f)]
        });
        shape.iter_mut().flatten().for_each(|c| *c += random.r#gen::<f64>() - 0.5);
        shapes.push(&shape).unwrap();
    }
    (topology, shapes)
}

fn gram(c: &mut Criterion) {
    let mut random = stream(1, "gram");
    let rows = Array2::from_shape_fn((150, 60_000), |_| random.r#gen::<f64>() - 0.5);
    let ours = || {
        let mut gram = Array2::zeros((150, 150));
        add_gram(&mut gram, rows.view(), rows.view()).unwrap();
        symmetric_eigen(&gram).unwrap()
    };
    let plain = || symmetric_eigen(&rows.dot(&rows.t())).unwrap();
    for (a, b) in ours().values.iter().zip(plain().values) {
        assert!((a / b - 1.0).abs() < 1e-9, "{a} is not {b}: the times would mean nothing");
    }
    let mut group = c.benchmark_group("Gram matrix of 150 x 60,000 and its eigenvectors");
    group.sample_size(10).measurement_time(Duration::from_secs(3));
    group.bench_function("by fixed pieces", |b| b.iter(|| black_box(ours())));
    group.bench_function("ndarray's dot", |b| b.iter(|| black_box(plain())));
    group.finish();
}

fn validation(c: &mut Criterion) {
    let (topology, shapes) = bodies(60, 40, 50);
    let people: Vec<usize> = (0..60).collect();
    let vertices = topology.vertices();
    let params = SpaceParams {
        align: AlignParams { weighting: Weighting::Plain, ..AlignParams::default() },
        cross_validate: false,
        max_modes: Some(5),
        ..SpaceParams::default()
    };
    let weights = vec![1.0 / vertices as f64; vertices];
    let ours = || cross_validate(&shapes, &weights, &people, &params, &|_, _| ()).unwrap().errors[5].rms_mm;
    let refit = || {
        let mut squares = 0.0;
        for fold in grouped_folds(&people, params.folds, params.seed).unwrap() {
            let train = Subset::new(&shapes, &fold.train);
            let space: Space = params.fit(&train, &topology, &fold.train, None, &|_, _| ()).unwrap().space;
            squares += fold
                .test
                .iter()
                .map(|&i| {
                    let shape: &[Point] = shapes.shape(i);
                    space.project(shape).unwrap().residual_rms_mm.powi(2)
                })
                .sum::<f64>();
        }
        (squares / 60.0).sqrt()
    };
    let (a, b) = (ours(), refit());
    assert!((a - b).abs() < 1e-3, "{a} is not {b}: the times would mean nothing");
    let mut group = c.benchmark_group("cross-validation, 60 people x 2,000 vertices, 10 folds");
    group.sample_size(10).measurement_time(Duration::from_secs(3));
    group.bench_function("by cross moments", |b| b.iter(|| black_box(ours())));
    group.bench_function("refitting every fold", |b| b.iter(|| black_box(refit())));
    group.finish();
}

criterion_group!(benches, gram, validation);
criterion_main!(benches);
