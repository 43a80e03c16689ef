//! Two real sequences: unit, axis and sequence are told from the data, and areas, volumes and sizes are the published ones.
//! Reference values: computed with numpy 2.4 from the same files in double precision, kept beside them.

#![allow(clippy::unwrap_used, clippy::print_stdout)] // helpers of tests; what is found is shown

use crate::common::{real, take_in};
use formkin_cohort::{CheckParams, FindingKind, ImportParams, Unit, Up, check};
use formkin_geometry::areas;

fn close(found: f64, wanted: f64, unit: f64) {
    assert!((found / unit / wanted - 1.0).abs() < 1e-5, "{} instead of {wanted}", found / unit);
}

fn sequence(
    name: &str,
    frames: usize,
    areas_m2: [f64; 4],
    volumes_m3: Option<[f64; 4]>,
    sizes: [f64; 4],
) -> Vec<FindingKind> {
    let Some(folder) = real(name) else { return vec![FindingKind::NotWatertight] };
    let f = tempfile::tempdir().unwrap();
    let params = ImportParams { fps: Some(24.0), ..ImportParams::default() };
    let (report, cohort) = take_in(&folder, &f.path().join("a.cohort"), &params).unwrap();
    assert_eq!((report.info.source_unit, report.info.source_up), (Unit::M, Up::Y));
    assert_eq!((report.info.frames, report.info.sequences, report.info.stills), (frames, 1, 0));
    assert_eq!((report.info.people, report.info.quarantined), (1, 0));
    assert!((cohort.captures()[0].fps.unwrap() - 24.0).abs() < 1e-9);
    let t = cohort.template().mesh.topology().clone();
    for k in 0..4 {
        let p = cohort.source().read_shape(k).unwrap();
        close(areas::area(&t, &p), areas_m2[k], 1e6);
        if let Some(volumes) = volumes_m3 {
            close(areas::volume(&t, &p), volumes[k], 1e9);
        }
        close(areas::centroid_size(&p, &vec![1.0; p.len()]), sizes[k], 1e3);
    }
    let checks = check(&cohort, &CheckParams::default(), &|_, _| {}).unwrap();
    for f in &checks.findings {
        println!("{name}: {f:?}");
    }
    checks.findings.iter().map(|f| f.kind).collect()
}

#[test]
fn the_mannequin_is_read_as_it_is() {
    let kinds = sequence(
        "mannequin-walk",
        33,
        [2.2927496, 2.2921431, 2.2926303, 2.2938511],
        None,
        [34.975072, 35.290277, 35.340135, 35.068755],
    );
    assert!(kinds.contains(&FindingKind::NotWatertight));
    assert!(
        !kinds
            .iter()
            .any(|k| matches!(k, FindingKind::HeightAxis | FindingKind::Unit | FindingKind::Mirrored))
    );
}

#[test]
fn the_horse_is_read_as_it_is() {
    let kinds = sequence(
        "horse-walk",
        29,
        [5.9315149, 5.9459944, 5.9728772, 6.0017324],
        Some([0.50944663, 0.51027826, 0.51086986, 0.51106685]),
        [40.580064, 40.386989, 40.215733, 40.105718],
    );
    assert!(
        !kinds
            .iter()
            .any(|k| matches!(k, FindingKind::HeightAxis | FindingKind::Unit | FindingKind::Mirrored))
    );
}
