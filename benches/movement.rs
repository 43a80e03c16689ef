//! What a movement of 12,000 vertices asks for, beside the least that any of it needs in the same run: reading the frames once and laying each on the mean.
//! Modes with held-out errors, the strain map, and the ranges of all vertices against a body frame; `floor` is the pass alone.

#![allow(missing_docs, clippy::unwrap_used)] // criterion's macros make public items; a bench that cannot set up fails

use std::hint::black_box;
use std::time::Duration;

use criterion::{Criterion, Throughput, criterion_group, criterion_main};
use formkin_align::{align_one, block_shapes};
use formkin_cohort::{Cohort, ImportParams, NpyWriter, import, save_template};
use formkin_datasets_demo::{Movement, template};
use formkin_geometry::{Point, ShapeSource};
use formkin_motion::soft::field::RangeField;
use formkin_motion::{Cycles, FrameParams, MotionParams, StrainParams};
use rayon::prelude::*;

const FRAMES: usize = 240;
const FPS: f64 = 60.0;

/// One read and one alignment of every frame: the sum of what they are turned by, so that nothing is left out.
fn floor(source: &dyn ShapeSource, mean: &[Point], weights: &[f64], params: &MotionParams) -> f64 {
    let (n, v) = (source.shapes(), source.vertices());
    let block = block_shapes(v);
    let mut buffer = vec![[0.0; 3]; block.min(n) * v];
    let mut sum = 0.0;
    for first in (0..n).step_by(block) {
        let part = &mut buffer[..block.min(n - first) * v];
        let found: Vec<f64> = part
            .par_chunks_mut(v)
            .enumerate()
            .map(|(i, shape)| {
                source.read_block(first + i, shape).unwrap();
                align_one(shape, mean, weights, params.removes).unwrap().translation[2]
            })
            .collect();
        sum += found.iter().sum::<f64>();
    }
    sum
}

fn movement(c: &mut Criterion) {
    let folder = tempfile::tempdir().unwrap();
    let demo = template(12_000, 1).unwrap();
    let mesh = &demo.template().mesh;
    let topology = mesh.topology();
    std::fs::create_dir(folder.path().join("template")).unwrap();
    let file = save_template(demo.template(), &folder.path().join("template")).unwrap();
    let latents = demo.draw(2);
    let body = demo.person(&latents);
    let path = folder.path().join("K01_jump.npy");
    let mut npy = NpyWriter::create(&path, body.len(), true).unwrap();
    for frame in demo.frames(&body, &latents, Movement::Jump, FPS).take(FRAMES) {
        npy.push(&frame).unwrap();
    }
    npy.finish().unwrap();
    let params = ImportParams { template: Some(file), fps: Some(FPS), ..ImportParams::default() };
    let into = folder.path().join("jump.cohort");
    import(&[path.to_string_lossy().into_owned()], &into, &params, &|_, _| ()).unwrap();
    let cohort = Cohort::open(&into).unwrap();
    let capture = cohort.captures().remove(0);
    let source = cohort.select(capture.items.clone());
    let times: Vec<f64> = (0..FRAMES).map(|k| k as f64 / FPS).collect();

    let fit = MotionParams { modes: 8, ..MotionParams::default() };
    let found = fit.fit(&source, topology, &times, &|_, _| {}).unwrap();
    let events: Vec<f64> = (0..6).map(|k| 0.6 * f64::from(k)).collect();
    let cycles = Cycles::between(&events, |_, _| true, 3.0).unwrap();
    let region = demo.template().regions["trunk_frame"].clone();
    let frame = FrameParams::on(region).fit(&source, topology).unwrap();

    let mut group = c.benchmark_group("movement");
    group.measurement_time(Duration::from_secs(8)).sample_size(10);
    group.throughput(Throughput::Elements(FRAMES as u64));
    group.bench_function("floor", |b| {
        b.iter(|| black_box(floor(&source, &found.mean, &found.alignment.weights, &fit)));
    });
    group.bench_function("modes", |b| {
        b.iter(|| black_box(fit.fit(&source, topology, &times, &|_, _| {}).unwrap()));
    });
    group.bench_function("strain map", |b| {
        b.iter(|| black_box(StrainParams::default().map(&source, topology, &[], &|_, _| {}).unwrap()));
    });
    group.bench_function("ranges of all vertices", |b| {
        b.iter(|| black_box(RangeField::of(&source, &times, &frame, Some(&cycles)).unwrap()));
    });
    group.finish();
}

criterion_group!(benches, movement);
criterion_main!(benches);
