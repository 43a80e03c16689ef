//! Bodies and folders for the tests.
#![allow(dead_code, unreachable_pub)] // every test file uses its own part
#![allow(clippy::unwrap_used, clippy::print_stdout)] // helpers of tests

use std::path::{Path, PathBuf};
use std::sync::Arc;

use formkin_cohort::{Cohort, CohortError, ImportParams, ImportReport, MeshWriting, import, write_ply};
use formkin_geometry::{Mesh, Point, Topology};

pub const RINGS: u32 = 24;
pub const AROUND: u32 = 16;

/// A closed surface of rings between two poles, outward.
pub fn topology() -> Topology {
    let at = |r: u32, a: u32| 1 + r * AROUND + a % AROUND;
    let top = 1 + RINGS * AROUND;
    let mut t = Vec::new();
    for a in 0..AROUND {
        t.push([0, at(0, a + 1), at(0, a)]);
        for r in 0..RINGS - 1 {
            t.push([at(r, a), at(r, a + 1), at(r + 1, a + 1)]);
            t.push([at(r, a), at(r + 1, a + 1), at(r + 1, a)]);
        }
        t.push([top, at(RINGS - 1, a), at(RINGS - 1, a + 1)]);
    }
    Topology::new(top as usize + 1, t).unwrap()
}

/// A body of this height in mm and girth factor, z up, standing on 0: a spindle that is wider than deep, with a belly in
/// front and one arm-like bulge at its left, so that it has no symmetry.
pub fn body(height: f64, girth: f64) -> Vec<Point> {
    let mut p = vec![[0.0, 0.0, 0.0]];
    for r in 0..RINGS {
        let u = (f64::from(r) + 0.5) / f64::from(RINGS);
        let wide = 230.0 * girth * (std::f64::consts::PI * u).sin().powf(0.6);
        for a in 0..AROUND {
            let angle = std::f64::consts::TAU * f64::from(a) / f64::from(AROUND);
            let belly = 40.0 * (-((u - 0.55) / 0.1f64).powi(2)).exp() * (-angle.sin()).max(0.0);
            let bulge = 60.0 * (-((u - 0.75) / 0.08f64).powi(2)).exp() * angle.cos().max(0.0);
            p.push([
                (wide + bulge) * angle.cos(),
                (0.6 * wide + belly) * angle.sin(),
                height * (0.5 - 0.5 * (std::f64::consts::PI * u).cos()),
            ]);
        }
    }
    p.push([0.0, 0.0, height]);
    p
}

pub fn mesh(height: f64, girth: f64) -> Mesh {
    Mesh::new(Arc::new(topology()), body(height, girth)).unwrap()
}

/// Writes a body as PLY.
pub fn scan(folder: &Path, name: &str, height: f64, girth: f64) -> PathBuf {
    put(folder, name, &mesh(height, girth))
}

pub fn put(folder: &Path, name: &str, mesh: &Mesh) -> PathBuf {
    let path = folder.join(name);
    std::fs::create_dir_all(path.parent().unwrap()).unwrap();
    let writing = MeshWriting { force: true, ..MeshWriting::default() };
    if name.ends_with(".obj") {
        formkin_cohort::write_obj(&path, mesh, &writing).unwrap();
    } else {
        write_ply(&path, mesh, &writing).unwrap();
    }
    path
}

pub fn text(path: &Path) -> String {
    path.to_string_lossy().into_owned()
}

/// Imports a folder.
pub fn take_in(
    folder: &Path,
    into: &Path,
    params: &ImportParams,
) -> Result<(ImportReport, Cohort), CohortError> {
    let report = import(&[text(folder)], into, params, &|_, _| {})?;
    Ok((report, Cohort::open(into)?))
}

/// The folder of real sequences beside the workspace, where it is there.
pub fn real(name: &str) -> Option<PathBuf> {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../../shared/data").join(name);
    if path.is_dir() {
        return Some(path);
    }
    println!("skipped: the real sequences are not at {}", path.display());
    None
}
