//! Real corresponded sequences, where they are beside the project: metres, 24 frames/s.

#![allow(clippy::unwrap_used, clippy::print_stdout)] // helpers of tests, and a message where data are absent

use std::path::PathBuf;
use std::sync::Arc;

use formkin_geometry::{Mesh, Point, ShapeArray, ShapeSource, Subset, Template, Topology};
use formkin_measure::Dimensions;
use formkin_motion::{CurveParams, ModeWeighting, MotionParams, NoFrequency, StrainReference, curves};

struct Sequence {
    topology: Topology,
    frames: ShapeArray,
}

/// The frames of a folder in the order of their names, in mm; `None`, with a message, where the folder is absent.
fn sequence(folder: &str) -> Option<Sequence> {
    let path = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("../../../shared/data").join(folder);
    let Ok(list) = std::fs::read_dir(&path) else {
        println!("skipped: {} is absent", path.display());
        return None;
    };
    let mut files: Vec<PathBuf> =
        list.map(|e| e.unwrap().path()).filter(|p| p.extension().is_some_and(|e| e == "obj")).collect();
    files.sort();
    let mut found: Option<Sequence> = None;
    for file in files {
        let text = std::fs::read_to_string(file).unwrap();
        let of = |key: &str| -> Vec<[String; 3]> {
            text.lines()
                .filter_map(|l| l.strip_prefix(key))
                .map(|l| {
                    let parts: Vec<String> = l.split_whitespace().map(str::to_owned).collect();
                    parts.try_into().unwrap()
                })
                .collect()
        };
        let points: Vec<Point> =
            of("v ").iter().map(|p| p.each_ref().map(|c| 1000.0 * c.parse::<f64>().unwrap())).collect();
        let found = found.get_or_insert_with(|| {
            let corner = |c: &String| c.split('/').next().unwrap().parse::<u32>().unwrap() - 1;
            let triangles = of("f ").iter().map(|t| t.each_ref().map(corner)).collect();
            Sequence {
                topology: Topology::new(points.len(), triangles).unwrap(),
                frames: ShapeArray::new(points.len()),
            }
        });
        found.frames.push(&points).unwrap();
    }
    found
}

fn times(n: usize) -> Vec<f64> {
    (0..n).map(|i| i as f64 / 24.0).collect()
}

#[test]
fn variances_of_real_walks_agree_with_those_computed_elsewhere() {
    // numpy 2.4 / scipy 1.17 in double precision after rigid generalised Procrustes alignment, plain weights, sums over all
    // coordinates over n - 1, in m2
    let known = [
        ("mannequin-walk", 33, [44.301394, 5.6476510, 2.9404041, 0.41411466], 53.765857),
        ("horse-walk", 29, [25.745958, 12.378252, 1.1011078, 0.78893604], 40.350045),
    ];
    for (folder, frames, leading, total) in known {
        let Some(s) = sequence(folder) else { continue };
        assert_eq!(s.frames.shapes(), frames);
        let scale = 1e6 / s.frames.vertices() as f64; // weights that sum to 1, mm2
        for gram_frames in [3000, 10] {
            let params = MotionParams {
                weighting: ModeWeighting::Plain,
                gram_frames,
                segments: 0,
                modes: 4,
                ..MotionParams::default()
            };
            let m = params.fit(&s.frames, &s.topology, &times(frames), &|_, _| {}).unwrap();
            assert!(
                (m.total_variance_mm2 / (total * scale) - 1.0).abs() < 1e-6,
                "{folder} {}",
                m.total_variance_mm2 / scale
            );
            for (k, v) in leading.iter().enumerate() {
                assert!(
                    (m.variances_mm2[k] / (v * scale) - 1.0).abs() < 1e-5,
                    "{folder} {k} {}",
                    m.variances_mm2[k] / scale
                );
            }
        }
    }
}

#[test]
fn a_walk_looped_has_the_frequency_of_its_stride() {
    // the last frame of each recording closes the loop: a stride lasts one frame less than there are
    for folder in ["mannequin-walk", "horse-walk"] {
        let Some(s) = sequence(folder) else { continue };
        let n = s.frames.shapes();
        let stride_hz = 24.0 / (n - 1) as f64;
        let order: Vec<usize> = (0..6 * (n - 1)).map(|i| i % (n - 1)).collect();
        let looped = Subset::new(&s.frames, &order);
        let m = MotionParams::default().fit(&looped, &s.topology, &times(order.len()), &|_, _| {}).unwrap();
        let f = m.frequencies[0].unwrap();
        // a mode of a walk swings with the stride or with the step, at half or twice a hertz or so
        let ratio = f.hz / stride_hz;
        assert!((ratio - ratio.round()).abs() < 0.03 && (0.9..=2.1).contains(&ratio), "{folder} {ratio}");
        assert!((0.5..2.5).contains(&f.hz));
        assert!(m.errors[10].held_out_rms_mm.unwrap() < m.errors[0].rms_mm);
        // one stride alone is too short a record to tell its frequency
        let once = MotionParams::default().fit(&s.frames, &s.topology, &times(n), &|_, _| {}).unwrap();
        assert!(
            matches!(once.no_frequency[0], Some(NoFrequency::TooSlow { .. })),
            "{:?}",
            once.frequencies[0]
        );
    }
}

#[test]
fn area_through_a_real_walk_and_the_strain_behind_it() {
    // areas of frames 0 to 3 in m2, numpy 2.4 in double precision
    let known = [
        ("mannequin-walk", [2.2927496, 2.2921431, 2.2926303, 2.2938511]),
        ("horse-walk", [5.9315149, 5.9459944, 5.9728772, 6.0017324]),
    ];
    for (folder, areas) in known {
        let Some(s) = sequence(folder) else { continue };
        let n = s.frames.shapes();
        let mut first = vec![[0.0; 3]; s.frames.vertices()];
        s.frames.read_block(0, &mut first).unwrap();
        let topology = Arc::new(Topology::new(first.len(), s.topology.triangles().to_vec()).unwrap());
        let template = Template::bare(Mesh::new(topology, first.clone()).unwrap());
        let text = "[[dimension]]\nname = \"skin\"\nkind = \"area\"\nunit = \"m2\"\n";
        let dimensions = Dimensions::from_toml(text).unwrap();
        let found = curves(&dimensions, &template, &s.frames, &times(n), &CurveParams::default(), &|_, _| {})
            .unwrap();
        for (value, area) in found[0].values.iter().zip(areas) {
            assert!((value.unwrap() / area - 1.0).abs() < 1e-6, "{folder}: {value:?} {area}");
        }
        // the areas of the triangles of frame 3 follow from those of frame 0 by the area ratios of the strain
        let reference = match StrainReference::new(&s.topology, &first) {
            Ok(r) => r,
            Err(e) => {
                println!("{folder}: no strain: {e}");
                continue;
            }
        };
        let strain = reference.strain(s.frames.shape(3)).unwrap();
        let before = formkin_geometry::areas::triangle_areas(&s.topology, &first);
        let after: f64 = strain.iter().zip(before).map(|(s, a)| s.area_ratio() * a).sum();
        assert!((after / (areas[3] * 1e6) - 1.0).abs() < 1e-6, "{folder} {after}");
    }
}
