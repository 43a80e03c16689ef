//! Every fault that a check looks for is put into good data and found; good data is clean.

#![allow(clippy::unwrap_used)] // helpers of tests

use std::sync::Arc;

use crate::common::{body, put, scan, take_in, topology};
use formkin_cohort::{
    CheckParams, Checks, Cohort, Finding, FindingKind, ImportParams, Sequences, Unit, Up, check, write_npy,
};
use formkin_geometry::{Mesh, Point};

fn found(cohort: &Cohort) -> Checks {
    check(cohort, &CheckParams::default(), &|_, _| {}).unwrap()
}

fn mesh(p: Vec<Point>) -> Mesh {
    Mesh::new(Arc::new(topology()), p).unwrap()
}

fn of<'a>(checks: &'a Checks, item: &str) -> Vec<&'a Finding> {
    checks.findings.iter().filter(|f| f.item == item).collect()
}

/// Bodies `a00` to `a11` that all differ.
fn crew(folder: &std::path::Path) {
    for i in 0..12 {
        let x = f64::from(i);
        scan(folder, &format!("a{i:02}x.ply"), 1550.0 + 25.0 * x, 0.9 + 0.02 * ((x * 7.0) % 12.0));
    }
}

fn params() -> ImportParams {
    ImportParams { unit: Unit::Mm, up: Up::Z, sequences: Sequences::Never, ..ImportParams::default() }
}

#[test]
fn good_still_poses_are_clean() {
    let f = tempfile::tempdir().unwrap();
    let scans = f.path().join("s");
    crew(&scans);
    let (_, cohort) = take_in(&scans, &f.path().join("a.cohort"), &params()).unwrap();
    let checks = found(&cohort);
    assert!(checks.findings.is_empty(), "{:#?}", checks.findings);
    assert_eq!((checks.people, checks.items, checks.topology.watertight), (12, 12, true));
    // as a file, and read back
    assert_eq!(serde_json::from_slice::<Checks>(&checks.to_json().unwrap()).unwrap(), checks);
    assert!(!cohort.path().join("checks.json").exists(), "a check reads alone");
}

#[test]
fn every_fault_of_a_still_pose_is_found_and_named() {
    let f = tempfile::tempdir().unwrap();
    let scans = f.path().join("s");
    crew(&scans);
    let good = || body(1701.0, 1.01);
    let turned = |degrees: f64| -> Vec<Point> {
        let (s, c) = degrees.to_radians().sin_cos();
        good().into_iter().map(|[x, y, z]| [x, c * y - s * z, s * y + c * z]).collect()
    };
    put(&scans, "tilted.ply", &mesh(turned(25.0)));
    put(&scans, "head.ply", &mesh(turned(180.0)));
    put(&scans, "mirror.ply", &mesh(good().into_iter().map(|[x, y, z]| [-x, y, z]).collect()));
    put(&scans, "floor.ply", &mesh(good().into_iter().map(|[x, y, z]| [x, y, z + 12.0]).collect()));
    put(&scans, "tall.ply", &mesh(good().into_iter().map(|p| p.map(|c| c * 1.5)).collect()));
    let mut p = good();
    p[200][0] += 400.0;
    put(&scans, "spike.ply", &mesh(p));
    // one ring folded over its neighbour
    let mut p = good();
    for a in 0..16 {
        let v = 1 + 12 * 16 + a;
        let below = p[v - 32];
        p[v] = [below[0] * 0.97, below[1] * 0.97, below[2] - 5.0];
    }
    put(&scans, "folded.ply", &mesh(p));
    let mut p = good();
    p[150] = p[151];
    put(&scans, "pinched.ply", &mesh(p));
    // the vertices in another order under the same triangles
    let p = good();
    put(&scans, "permuted.ply", &mesh((0..386).map(|v| p[v * 37 % 386]).collect()));
    put(&scans, "copy.ply", &mesh(body(1575.0, 0.9 + 0.02 * 7.0)));
    put(&scans, "near.ply", &mesh(body(1550.4, 0.9)));
    std::fs::write(scans.join("z_bad.ply"), "ply\n").unwrap();
    let (_, cohort) = take_in(&scans, &f.path().join("a.cohort"), &params()).unwrap();
    let checks = found(&cohort);
    use FindingKind as K;
    for (item, kind, amount) in [
        ("tilted", K::HeightAxis, 25.0),
        ("head", K::UpsideDown, 180.0),
        ("floor", K::FloorDrift, 12.0),
        ("tall", K::Unit, 2.5515),
        ("pinched", K::CollapsedTriangles, 2.0),
    ] {
        let f = of(&checks, item)
            .into_iter()
            .find(|f| f.kind == kind)
            .unwrap_or_else(|| panic!("{item}: {checks:#?}"));
        assert!((f.amount.unwrap() - amount).abs() < 0.01 * amount + 0.5, "{f:?}");
    }
    for (item, kind) in [
        ("mirror", K::Mirrored),
        ("spike", K::Spike),
        ("folded", K::FlippedTriangles),
        ("permuted", K::StretchedEdges),
        ("near", K::NearDuplicate),
        ("z_bad", K::Quarantined),
    ] {
        assert!(of(&checks, item).iter().any(|f| f.kind == kind), "{item}: {:#?}", of(&checks, item));
    }
    let spike = of(&checks, "spike").into_iter().find(|f| f.kind == K::Spike).unwrap();
    assert!(spike.message.contains("vertex 200 is"), "{spike:?}");
    let twice = of(&checks, "copy");
    assert!(
        twice.len() == 1 && twice[0].kind == K::Duplicate && twice[0].message.contains("`a01x`"),
        "{twice:?}"
    );
    for i in 0..12 {
        assert!(of(&checks, &format!("a{i:02}x")).is_empty(), "{:#?}", of(&checks, &format!("a{i:02}x")));
    }
    assert!(checks.findings.iter().all(|f| !f.advice.is_empty()));
}

/// A body that sways, 60 frames.
fn sway() -> Vec<Vec<Point>> {
    (0..60)
        .map(|k| {
            let lean = 0.04 * (f64::from(k) * 0.2).sin();
            body(1700.0, 1.0).into_iter().map(|[x, y, z]| [x + lean * z * z / 1700.0, y, z]).collect()
        })
        .collect()
}

#[test]
fn every_fault_of_a_sequence_is_found_and_named() {
    let f = tempfile::tempdir().unwrap();
    let scans = f.path().join("m");
    std::fs::create_dir(&scans).unwrap();
    let template = scan(f.path(), "t.ply", 1700.0, 1.0);
    let save = |name: &str, frames: &[Vec<Point>], times: &[f64]| {
        write_npy(&scans.join(format!("{name}.npy")), 386, &frames.concat(), false).unwrap();
        let times: String = times.iter().map(|t| format!("{t}\n")).collect();
        std::fs::write(scans.join(format!("{name}.times.csv")), format!("time_s\n{times}")).unwrap();
    };
    let even: Vec<f64> = (0..60).map(|k| f64::from(k) / 60.0).collect();
    save("P1_good", &sway(), &even);
    let mut frames = sway();
    frames[20] = frames[20].iter().map(|[x, y, z]| [1.1 * x, 1.1 * y, *z]).collect();
    for k in 41..46 {
        frames[k] = frames[40].clone();
    }
    let late: Vec<f64> = even.iter().enumerate().map(|(k, t)| if k > 30 { t + 0.05 } else { *t }).collect();
    save("P2_bad", &frames, &late);
    let sinking: Vec<Vec<Point>> = sway()
        .into_iter()
        .enumerate()
        .map(|(k, p)| p.into_iter().map(|[x, y, z]| [x, y, z - 0.2 * k as f64]).collect())
        .collect();
    save("P3_sinking", &sinking, &even);
    let climbing: Vec<Vec<Point>> = sway()
        .into_iter()
        .enumerate()
        .map(|(k, p)| p.into_iter().map(|[x, y, z]| [x, y, z + 15.0 * k as f64]).collect())
        .collect();
    save("P4_climbing", &climbing, &even);
    let import = ImportParams { template: Some(template), ..params() };
    let (_, cohort) = take_in(&scans, &f.path().join("m.cohort"), &import).unwrap();
    let checks = found(&cohort);
    use FindingKind as K;
    let kinds = |start: &str| -> Vec<(K, &str)> {
        checks
            .findings
            .iter()
            .filter(|f| f.item.starts_with(start) && f.kind != K::Duplicate)
            .map(|f| (f.kind, f.message.as_str()))
            .collect()
    };
    assert!(kinds("P1").is_empty(), "{:?}", kinds("P1"));
    let bad = kinds("P2");
    assert_eq!(
        bad.iter().map(|b| b.0).collect::<Vec<_>>(),
        [K::AreaOrVolumeJump, K::FrozenFrames, K::DroppedFrames]
    );
    assert!(bad[0].1.contains("from frame 19 to 20") && bad[0].1.contains("2 jumps"), "{bad:?}");
    assert!(bad[1].1.contains("frames 40 to 45"), "{bad:?}");
    assert!(bad[2].1.contains("1 holes"), "{bad:?}");
    assert!(kinds("P4").is_empty(), "{:?}", kinds("P4"));
    let sinking = kinds("P3");
    assert_eq!(sinking.len(), 1, "{sinking:?}");
    assert!(sinking[0].0 == K::FloorDrift && sinking[0].1.contains("-11.8"), "{sinking:?}");
}

#[test]
fn a_cohort_read_along_the_wrong_axis_is_noticed() {
    let f = tempfile::tempdir().unwrap();
    let scans = f.path().join("s");
    crew(&scans);
    let wrong = ImportParams { up: Up::X, ..params() };
    let (_, cohort) = take_in(&scans, &f.path().join("a.cohort"), &wrong).unwrap();
    let checks = found(&cohort);
    assert!(
        checks.findings.iter().any(|f| f.kind == FindingKind::HeightAxis && f.item.is_empty()),
        "{checks:#?}"
    );
}

#[test]
fn the_result_does_not_depend_on_the_number_of_threads() {
    let f = tempfile::tempdir().unwrap();
    let scans = f.path().join("s");
    crew(&scans);
    put(&scans, "near.ply", &mesh(body(1550.4, 0.9)));
    let (_, cohort) = take_in(&scans, &f.path().join("a.cohort"), &params()).unwrap();
    let with = |threads: usize| {
        rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap().install(|| found(&cohort))
    };
    assert_eq!(with(1), with(3));
    let nonsense = CheckParams { edge_ratio: f64::NAN, ..CheckParams::default() };
    assert!(check(&cohort, &nonsense, &|_, _| {}).is_err());
}
