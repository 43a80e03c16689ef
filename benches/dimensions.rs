//! The demo's catalogue of dimensions on bodies of 50,000 vertices: candidate triangles by groups beside the full search, in the same run. Both must give the
//! same values first.

#![allow(missing_docs, clippy::unwrap_used)] // criterion's macros make public items; a bench that cannot set up fails

use std::hint::black_box;
use std::time::Duration;

use criterion::{Criterion, Throughput, criterion_group, criterion_main};
use formkin_datasets_demo::template;
use formkin_geometry::ShapeArray;
use formkin_measure::{Dimensions, Taker, take_all};

fn catalogue(c: &mut Criterion) {
    let demo = template(50_000, 1).unwrap();
    let mut dims = Dimensions::from_toml(include_str!("../datasets-demo/dimensions.toml")).unwrap();
    dims.definitions.truncate(100);
    let mut bodies = ShapeArray::new(demo.template().mesh.topology().vertices());
    for i in 0..8 {
        bodies.push(&demo.person(&demo.draw(i))).unwrap();
    }
    let fast = Taker::new(&dims, demo.template());
    let full = Taker::new(&dims, demo.template()).with_full_search();
    let body = demo.person(&demo.draw(3));
    assert_eq!(fast.take(&body), full.take(&body), "the times would mean nothing");
    let mut group = c.benchmark_group("100 dimensions of a body of 50,000 vertices");
    group.sample_size(10).measurement_time(Duration::from_secs(4)).throughput(Throughput::Elements(1));
    group.bench_function("by groups of triangles, one core", |b| b.iter(|| black_box(fast.take(&body))));
    group.bench_function("full search, one core", |b| b.iter(|| black_box(full.take(&body))));
    group.throughput(Throughput::Elements(8));
    group.bench_function("eight bodies on all cores", |b| {
        b.iter(|| black_box(take_all(&dims, demo.template(), &bodies, &|_, _| ()).unwrap()));
    });
    group.finish();
}

criterion_group!(benches, catalogue);
criterion_main!(benches);
