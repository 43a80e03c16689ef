//! The demo's files: all there, the same for the same seed, readable by the cohort.
#![allow(clippy::unwrap_used)] // helpers of tests may panic

use std::path::{Path, PathBuf};

use formkin_cohort::{load_template, read_positions};
use formkin_datasets_demo::{DemoError, DemoParams, generate};

fn files(folder: &Path) -> Vec<PathBuf> {
    let mut found = Vec::new();
    for entry in std::fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() { found.extend(files(&path)) } else { found.push(path) }
    }
    found.sort();
    found
}

#[test]
fn the_same_seed_writes_the_same_files() {
    let params = DemoParams { participants: 8, vertices: 3_000, frames: 6, repeats: 2, ..Default::default() };
    let (a, b) = (tempfile::tempdir().unwrap(), tempfile::tempdir().unwrap());
    let report = generate(a.path(), &params, &|_, _| ()).unwrap();
    assert_eq!((report.scans, report.vertices, report.frames), (10, 3_000, 18));
    rayon::ThreadPoolBuilder::new()
        .num_threads(1)
        .build()
        .unwrap()
        .install(|| generate(b.path(), &params, &|done, of| assert!(done <= of)))
        .unwrap();
    let (fa, fb) = (files(a.path()), files(b.path()));
    assert_eq!(fa.len(), fb.len());
    for (x, y) in fa.iter().zip(&fb) {
        assert_eq!(x.strip_prefix(a.path()).unwrap(), y.strip_prefix(b.path()).unwrap());
        assert!(std::fs::read(x).unwrap() == std::fs::read(y).unwrap(), "{}", x.display());
    }
    let template = load_template(&a.path().join("input/template.toml")).unwrap();
    template.validate().unwrap();
    assert!(template.skin.is_some() && template.joints.len() == 21 && template.landmarks.len() > 80);
    let scan = read_positions(&a.path().join("input/scans/C001_2.ply"), template.mesh.topology()).unwrap();
    let low = scan.iter().map(|p| p[2]).fold(f64::INFINITY, f64::min);
    assert!(low.abs() < 1.0, "soles on the floor: {low}");
    // and an earlier demo is not written over
    let again = generate(a.path(), &params, &|_, _| ()).unwrap_err();
    assert!(matches!(again, DemoError::Cohort(_)), "{again}");
}

#[test]
fn parameters_out_of_range_are_named() {
    let folder = tempfile::tempdir().unwrap();
    for (params, name) in [
        (DemoParams { participants: 0, repeats: 0, ..Default::default() }, "participants"),
        (DemoParams { vertices: 10, ..Default::default() }, "vertices"),
        (DemoParams { frames: 1, ..Default::default() }, "frames"),
        (DemoParams { participants: 2, repeats: 3, ..Default::default() }, "repeats"),
    ] {
        let into = folder.path().join("d");
        let error = generate(&into, &params, &|_, _| ()).unwrap_err();
        assert!(error.to_string().contains(name), "{error}");
        assert!(!into.exists());
    }
}
