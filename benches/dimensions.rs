//! The first hundred dimensions of the demo's catalogue on bodies of 50,000 vertices: by walks over triangles found beforehand, beside the full search, in the same run; then
//! people from disk on all cores, as `formkin measure` takes them, in items a second. All must give the same values first.

#![allow(missing_docs, clippy::unwrap_used)] // criterion's macros make public items; a bench that cannot set up fails

use std::hint::black_box;
use std::path::Path;
use std::time::Duration;

use criterion::{BenchmarkId, Criterion, Throughput, criterion_group, criterion_main};
use formkin_cohort::{Cohort, ImportParams, MeshWriting, Sequences, import, save_template, write_ply};
use formkin_datasets_demo::template;
use formkin_geometry::Point;
use formkin_measure::{Dimensions, Taker, take_all};

const PEOPLE: usize = 24;
/// How often the same people are taken in one go: making definitions ready takes some 0.2 s once, whatever the number of items.
const TIMES: usize = 8;

/// The bodies on disk, in floats, as an import leaves them.
fn cohort(folder: &Path) -> Cohort {
    let demo = template(50_000, 1).unwrap();
    let mesh = &demo.template().mesh;
    std::fs::create_dir(folder.join("template")).unwrap();
    let file = save_template(demo.template(), &folder.join("template")).unwrap();
    for i in 0..PEOPLE {
        let body = mesh.with_positions(demo.person(&demo.draw(i))).unwrap();
        let path = folder.join(format!("person{i:02}.ply"));
        write_ply(&path, &body, &MeshWriting { force: true, ..MeshWriting::default() }).unwrap();
    }
    let scans = folder.join("*.ply").to_string_lossy().into_owned();
    let params =
        ImportParams { template: Some(file), sequences: Sequences::Never, ..ImportParams::default() };
    let into = folder.join("people.cohort");
    import(&[scans], &into, &params, &|_, _| ()).unwrap();
    Cohort::open(&into).unwrap()
}

fn catalogue(c: &mut Criterion) {
    let folder = tempfile::tempdir().unwrap();
    let cohort = cohort(folder.path());
    let mut dims = Dimensions::from_toml(include_str!("../datasets-demo/dimensions.toml")).unwrap();
    dims.definitions.truncate(100);
    let fast = Taker::new(&dims, cohort.template());
    let full = Taker::new(&dims, cohort.template()).with_full_search();
    let bodies: Vec<Vec<Point>> = (0..4).map(|i| cohort.source().read_shape(i).unwrap()).collect();
    for body in &bodies {
        assert_eq!(fast.take(body), full.take(body), "the times would mean nothing");
    }
    let mut group = c.benchmark_group("100 dimensions of a body of 50,000 vertices");
    group.sample_size(10).measurement_time(Duration::from_secs(4)).throughput(Throughput::Elements(1));
    group.bench_function("walks, one core", |b| b.iter(|| black_box(fast.take(&bodies[3]))));
    group.bench_function("full search, one core", |b| b.iter(|| black_box(full.take(&bodies[3]))));
    let items: Vec<usize> = (0..PEOPLE).cycle().take(PEOPLE * TIMES).collect();
    let people = cohort.select(items.clone());
    group.throughput(Throughput::Elements(items.len() as u64));
    group.bench_with_input(BenchmarkId::new("from disk, all cores", items.len()), &people, |b, people| {
        b.iter(|| black_box(take_all(&dims, cohort.template(), people, &|_, _| ()).unwrap()));
    });
    group.finish();
}

criterion_group!(benches, catalogue);
criterion_main!(benches);
