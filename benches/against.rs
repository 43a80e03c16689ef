//! Every task beside the plain way to do it, in the same run, on bodies of about 10,000 vertices. Both must come to the same numbers first.

#![allow(missing_docs, clippy::unwrap_used)] // criterion's macros make public items; a bench that cannot set up fails

use std::fmt::Write as _;
use std::hint::black_box;
use std::time::Duration;

use criterion::{Criterion, criterion_group, criterion_main};
use formkin_align::{AlignParams, Weighting};
use formkin_benches::{plain_k_means, plain_obj, plain_section_length, plain_space};
use formkin_cohort::read_mesh;
use formkin_geometry::section::{Plane, section};
use formkin_geometry::{Point, ShapeArray, Topology};
use formkin_shape::SpaceParams;
use formkin_stats::cluster::k_means;
use formkin_stats::random::stream;
use formkin_tests::bodies::{tube, tube_positions};
use ndarray::Array2;

const RINGS: u32 = 100;
const AROUND: u32 = 100;

fn bodies(count: usize) -> (std::sync::Arc<Topology>, Vec<Vec<Point>>) {
    use rand::Rng;
    let mut random = stream(1, "bodies of the benches");
    let shapes = (0..count)
        .map(|_| {
            let [tall, wide, deep, belly]: [f64; 4] = std::array::from_fn(|_| random.r#gen::<f64>() - 0.5);
            let mut shape = tube_positions(RINGS, AROUND, 1700.0 + 250.0 * tall, |f| {
                let more = 1.0 + 0.3 * belly * (-((f - 0.6) / 0.1f64).powi(2)).exp();
                [
                    (170.0 + 50.0 * wide) * more * (1.0 - 0.4 * f),
                    (110.0 + 40.0 * deep) * more * (1.0 - 0.2 * f),
                ]
            });
            shape.iter_mut().flatten().for_each(|c| *c += random.r#gen::<f64>() - 0.5);
            shape
        })
        .collect();
    (tube(RINGS, AROUND).unwrap(), shapes)
}

fn same(a: f64, b: f64, relative: f64) {
    assert!((a / b - 1.0).abs() < relative, "{a} is not {b}: the times would mean nothing");
}

fn reading(c: &mut Criterion) {
    let (topology, shapes) = bodies(1);
    let mut text = String::new();
    for p in &shapes[0] {
        writeln!(text, "v {:.6} {:.6} {:.6}", p[0], p[1], p[2]).unwrap();
    }
    for t in topology.triangles() {
        writeln!(text, "f {} {} {}", t[0] + 1, t[1] + 1, t[2] + 1).unwrap();
    }
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("body.obj");
    std::fs::write(&path, &text).unwrap();
    let ours = read_mesh(&path).unwrap();
    assert_eq!((ours.positions, ours.triangles), plain_obj(&text));
    let mut group = c.benchmark_group("read an OBJ");
    group.bench_function("formkin", |b| b.iter(|| read_mesh(black_box(&path)).unwrap()));
    group.bench_function("plain", |b| {
        b.iter(|| plain_obj(&std::fs::read_to_string(black_box(&path)).unwrap()))
    });
    group.finish();
}

fn spaces(c: &mut Criterion) {
    let (topology, shapes) = bodies(40);
    let mut array = ShapeArray::new(shapes[0].len());
    shapes.iter().for_each(|s| array.push(s).unwrap());
    let people: Vec<usize> = (0..shapes.len()).collect();
    let align = AlignParams { weighting: Weighting::Plain, ..AlignParams::default() };
    let params = SpaceParams { align, cross_validate: false, ..SpaceParams::default() };
    let fit = |params: &SpaceParams| params.fit(&array, &topology, &people, None, &|_, _| {}).unwrap().space;
    same(fit(&params).variances_mm2[0], plain_space(&shapes)[0], 1e-5);
    let mut group = c.benchmark_group("align 40 bodies and take their modes");
    group.bench_function("formkin", |b| b.iter(|| fit(black_box(&params))));
    group.bench_function("plain", |b| b.iter(|| plain_space(black_box(&shapes))));
    let params = SpaceParams { cross_validate: true, ..params };
    group.bench_function("formkin, with 10 refits held out", |b| b.iter(|| fit(black_box(&params))));
    group.finish();
}

fn sections(c: &mut Criterion) {
    let (topology, shapes) = bodies(1);
    let plane = Plane::horizontal(900.0);
    let length = |loops: Vec<formkin_geometry::section::Loop>| loops.iter().map(|l| l.length()).sum::<f64>();
    same(
        length(section(&topology, &shapes[0], &plane)),
        plain_section_length(&topology, &shapes[0], 900.0),
        1e-9,
    );
    let mut group = c.benchmark_group("section a body");
    group.bench_function("formkin, joined to loops", |b| {
        b.iter(|| section(&topology, black_box(&shapes[0]), &plane))
    });
    group.bench_function("plain, the length alone", |b| {
        b.iter(|| plain_section_length(&topology, black_box(&shapes[0]), 900.0))
    });
    group.finish();
}

fn clusters(c: &mut Criterion) {
    use rand::Rng;
    let mut random = stream(2, "people of the benches");
    let points: Vec<Vec<f64>> = (0..1000).map(|_| (0..3).map(|_| random.r#gen::<f64>()).collect()).collect();
    let table = Array2::from_shape_fn((1000, 3), |(i, k)| points[i][k]);
    let ours = k_means(table.view(), None, 8, 20, 1).unwrap().inertia;
    assert!(ours <= plain_k_means(&points, 8, 20) * 1.001, "a worse optimum: the times would mean nothing");
    let mut group = c.benchmark_group("k-means, 1000 people, 8 sizes, 20 starts");
    group.bench_function("formkin", |b| b.iter(|| k_means(black_box(table.view()), None, 8, 20, 1).unwrap()));
    group.bench_function("plain", |b| b.iter(|| plain_k_means(black_box(&points), 8, 20)));
    group.finish();
}

criterion_group! {
    name = benches;
    config = Criterion::default().sample_size(10).warm_up_time(Duration::from_millis(500)).measurement_time(Duration::from_secs(3));
    targets = reading, spaces, sections, clusters
}
criterion_main!(benches);
