//! Imports end to end: what comes back, and what is set aside.

#![allow(clippy::unwrap_used)] // helpers of tests

use std::collections::BTreeMap;
use std::fs;

use crate::common::{body, put, scan, take_in, text, topology};
use formkin_cohort::{
    Cohort, CohortError, FindingKind, ImportParams, Sequences, Status, Unit, Up, import, write_npy,
};
use formkin_geometry::{Mesh, ShapeSource};

fn folder() -> tempfile::TempDir {
    tempfile::tempdir().unwrap()
}

#[test]
fn stills_with_a_table_come_back() {
    let f = folder();
    let scans = f.path().join("scans");
    for i in 1..=12 {
        scan(&scans, &format!("P{i:03}.ply"), 1600.0 + 20.0 * f64::from(i), 1.0 - 0.01 * f64::from(i));
    }
    scan(&scans, "P003_s2.obj", 1660.5, 0.98);
    let table = f.path().join("people.csv");
    fs::write(&table, "participant,sex,age\nP001,f,30\nP002,m,40\nP003,f,50\nP099,m,60\n").unwrap();
    let into = f.path().join("crew.cohort");
    let params = ImportParams { participants: Some(table), ..ImportParams::default() };
    let (report, cohort) = take_in(&scans, &into, &params).unwrap();
    assert_eq!((report.info.items, report.info.people, report.info.stills), (13, 12, 13));
    assert_eq!((report.info.source_unit, report.info.source_up), (Unit::Mm, Up::Z));
    assert!(report.template_from_first_file && report.quarantined.is_empty());
    let item = cohort.items().iter().position(|i| i.item == "P003_s2").unwrap();
    let found = &cohort.items()[item];
    assert_eq!((found.participant.as_str(), found.session.as_str()), ("P003", "s2"));
    assert_eq!(found.groups, BTreeMap::from([("sex".into(), "f".into()), ("age".into(), "50".into())]));
    let shape = cohort.source().read_shape(item).unwrap();
    for (a, b) in shape.iter().zip(body(1660.5, 0.98)) {
        assert!(formkin_geometry::vector::distance(*a, b) < 2e-4);
    }
    let subset = cohort.select(vec![item, 0]);
    assert_eq!(subset.read_shape(0).unwrap(), shape);
    let mut two = vec![[0.0; 3]; 2 * subset.vertices()];
    subset.read_block(0, &mut two).unwrap();
    assert_eq!(two[..shape.len()], shape);
    assert!(subset.read_block(1, &mut two).is_err() && cohort.select(vec![99]).read_shape(0).is_err());
    let kinds: Vec<(&str, FindingKind)> =
        cohort.info().findings.iter().map(|f| (f.item.as_str(), f.kind)).collect();
    assert!(kinds.contains(&("P004", FindingKind::ParticipantNotInTable)));
    assert!(kinds.contains(&("P099", FindingKind::ParticipantWithoutScans)));
    assert_eq!(kinds.len(), 10);
    assert_eq!(cohort.people()[item], 2);
    assert_eq!(cohort.template().mesh.topology().as_ref(), &topology());
    assert!(!f.path().join("crew.cohort.part").exists());
}

/// The same body bending sideways.
fn bent(frame: u32) -> Mesh {
    let lean = 0.05 * (f64::from(frame) * 0.3).sin();
    let p = body(1700.0, 1.0).into_iter().map(|[x, y, z]| [x + lean * z * z / 1700.0, y, z]).collect();
    Mesh::new(std::sync::Arc::new(topology()), p).unwrap()
}

#[test]
fn numbered_frames_are_a_sequence_and_numbered_people_are_not() {
    let f = folder();
    let scans = f.path().join("scans");
    for i in [0, 1, 2, 3, 5, 6] {
        put(&scans, &format!("C001_bend/frame_{i:03}.ply"), &bent(i));
    }
    for i in 1..=6 {
        scan(&scans, &format!("stills/P{i:02}.ply"), 1500.0 + 60.0 * f64::from(i), 1.1 - 0.03 * f64::from(i));
    }
    scan(&scans, "C001_1.ply", 1700.0, 1.0);
    scan(&scans, "C002_1.ply", 1710.0, 1.0);
    scan(&scans, "C003_1.ply", 1720.0, 1.0);
    let into = f.path().join("a.cohort");
    let params = ImportParams { fps: Some(50.0), ..ImportParams::default() };
    let (report, cohort) = take_in(&scans, &into, &params).unwrap();
    assert_eq!((report.info.frames, report.info.stills, report.info.sequences), (6, 9, 1));
    let capture = &cohort.captures()[0];
    assert_eq!(
        (capture.id.as_str(), capture.participant.as_str(), capture.items.len()),
        ("frame", "C001", 6)
    );
    assert!((capture.fps.unwrap() - 50.0).abs() < 1e-9);
    let times: Vec<f64> = capture.items.iter().map(|&i| cohort.items()[i].time_s.unwrap()).collect();
    assert_eq!(times, [0.0, 0.02, 0.04, 0.06, 0.1, 0.12]);
    assert!(
        report
            .info
            .findings
            .iter()
            .any(|f| f.kind == FindingKind::MissingFrames && f.message.contains(": 4"))
    );
    let still = cohort.items().iter().find(|i| i.item == "C002_1").unwrap();
    assert_eq!((still.participant.as_str(), still.session.as_str(), still.frame), ("C002", "1", None));
    assert_eq!(cohort.stills().len(), 9);
    assert!(into.join("positions/frame.npy").is_file() && into.join("positions/stills.npy").is_file());

    // told otherwise
    let never = ImportParams { sequences: Sequences::Never, force: true, ..params.clone() };
    let (report, _) = take_in(&scans, &into, &never).unwrap();
    assert_eq!((report.info.frames, report.info.stills), (0, 15));
    let always = ImportParams { sequences: Sequences::Always, ..never };
    let (report, _) = take_in(&scans, &into, &always).unwrap();
    assert_eq!((report.info.frames, report.info.sequences), (12, 2));

    // a row about one of the frames makes them still poses
    let table = f.path().join("t.csv");
    fs::write(&table, "item,participant\nframe_002,C001\n").unwrap();
    let named = ImportParams { participants: Some(table), force: true, ..params };
    let (report, cohort) = take_in(&scans, &into, &named).unwrap();
    assert_eq!(report.info.frames, 0);
    assert_eq!(cohort.items().iter().find(|i| i.item == "frame_002").unwrap().participant, "C001");
}

#[test]
fn movements_in_npy_files_take_their_times_from_beside_them() {
    let f = folder();
    let scans = f.path().join("m");
    let template = scan(f.path(), "t.ply", 1700.0, 1.0);
    let frames: Vec<_> = (0..100).flat_map(|i| bent(i).positions().to_vec()).collect();
    fs::create_dir_all(scans.join("C007_bend")).unwrap();
    write_npy(&scans.join("C007_bend/positions.npy"), 386, &frames, false).unwrap();
    let times: String = (0..100).map(|i| format!("{}\n", f64::from(i) / 90.0)).collect();
    fs::write(scans.join("C007_bend/positions.times.csv"), format!("time_s\n{times}")).unwrap();
    let into = f.path().join("m.cohort");
    let none = import(&[text(&scans)], &into, &ImportParams::default(), &|_, _| {}).unwrap_err();
    assert!(none.to_string().contains("template"), "{none}");
    let params = ImportParams { template: Some(template), ..ImportParams::default() };
    let (report, cohort) = take_in(&scans, &into, &params).unwrap();
    assert_eq!((report.info.frames, report.info.people), (100, 1));
    let capture = &cohort.captures()[0];
    assert_eq!((capture.id.as_str(), capture.participant.as_str()), ("C007_bend", "C007"));
    assert!((capture.fps.unwrap() - 90.0).abs() < 1e-9);
    let mut block = vec![[0.0; 3]; 386 * 100];
    cohort.source().read_block(0, &mut block).unwrap();
    assert!(block.iter().zip(&frames).all(|(a, b)| formkin_geometry::vector::distance(*a, *b) < 2e-4));
}

#[test]
fn every_unit_and_axis_is_told_and_comes_out_the_same() {
    let f = folder();
    for (n, (unit, up)) in [(Unit::M, Up::Y), (Unit::Cm, Up::X), (Unit::Mm, Up::Z)].into_iter().enumerate() {
        let scans = f.path().join(format!("s{n}"));
        let mm = unit.millimetres().unwrap();
        for i in 0..3 {
            let p = body(1600.0 + 50.0 * f64::from(i), 1.0)
                .into_iter()
                .map(|[x, y, z]| match up {
                    Up::X => [z, x, y],
                    Up::Y => [x, z, -y],
                    _ => [x, y, z],
                })
                .map(|p| p.map(|c| c / mm))
                .collect();
            put(&scans, &format!("p{i}a.obj"), &Mesh::new(std::sync::Arc::new(topology()), p).unwrap());
        }
        let (report, cohort) =
            take_in(&scans, &f.path().join(format!("{n}.cohort")), &ImportParams::default()).unwrap();
        assert_eq!((report.info.source_unit, report.info.source_up), (unit, up));
        let shape = cohort.source().read_shape(1).unwrap();
        for (a, b) in shape.iter().zip(body(1650.0, 1.0)) {
            assert!(formkin_geometry::vector::distance(*a, b) < 1e-3);
        }
        assert!(formkin_geometry::areas::volume(cohort.template().mesh.topology(), &shape) > 0.0);
    }
}

#[test]
fn hostile_files_are_set_aside_with_their_reason() {
    let f = folder();
    let scans = f.path().join("scans");
    for i in 0..5 {
        scan(&scans, &format!("a{i}x.obj"), 1600.0 + 30.0 * f64::from(i), 1.0);
    }
    let obj = fs::read_to_string(scans.join("a1x.obj")).unwrap();
    let ply = fs::read(scan(&scans, "z.ply", 1650.0, 1.0)).unwrap();
    let write = |name: &str, content: &[u8]| fs::write(scans.join(name), content).unwrap();
    write("b_cut.obj", &obj.as_bytes()[..obj.len() / 3]);
    write("c_cut.ply", &ply[..ply.len() / 2]);
    write("d_nan.obj", obj.replacen("v 0 0 0", "v 0 nan 0", 1).as_bytes());
    write("e_range.obj", obj.replacen("\nf 1 ", "\nf 9999 ", 1).as_bytes());
    write("f_empty.ply", b"");
    write("g_noise.obj", &[0xff, 0, 0x12, b'\n', b'v', b' ']);
    // other triangles
    put(&scans, "h_other.ply", &{
        let mut t = topology().triangles().to_vec();
        t.pop();
        Mesh::new(std::sync::Arc::new(formkin_geometry::Topology::new(386, t).unwrap()), body(1650.0, 1.0))
            .unwrap()
    });
    // vertices 10 and 200 exchanged, positions and triangles
    put(&scans, "i_permuted.ply", &{
        let swap = |v: u32| {
            if v == 10 {
                200
            } else if v == 200 {
                10
            } else {
                v
            }
        };
        let t = topology().triangles().iter().map(|t| t.map(swap)).collect();
        let mut p = body(1650.0, 1.0);
        p.swap(10, 200);
        Mesh::new(std::sync::Arc::new(formkin_geometry::Topology::new(386, t).unwrap()), p).unwrap()
    });
    // in metres
    put(&scans, "j_metres.ply", &{
        let p = body(1650.0, 1.0).into_iter().map(|p| p.map(|c| c / 1000.0)).collect();
        Mesh::new(std::sync::Arc::new(topology()), p).unwrap()
    });
    write_npy(&scans.join("k.npy"), 7, &[[1.0; 3]; 14], false).unwrap();
    write("l.npy", b"\x93NUMPY");
    let into = f.path().join("a.cohort");
    let (report, cohort) = take_in(&scans, &into, &ImportParams::default()).unwrap();
    assert_eq!(report.info.items, 6, "{:#?}", report.quarantined);
    let reasons: BTreeMap<&str, &str> =
        report.quarantined.iter().map(|q| (q.item.as_str(), q.reason.as_str())).collect();
    for (item, words) in [
        ("b_cut", "b_cut.obj"),
        ("c_cut", "cut off"),
        ("d_nan", "vertex 0 is not finite: 0, NaN, 0"),
        ("e_range", "names vertex 9999, but the file has 386"),
        ("f_empty", "f_empty.ply"),
        ("g_noise", "line 2"),
        ("h_other", "767 triangles, the template has 768"),
        ("i_permuted", "permuted"),
        ("j_metres", "looks like m where they are in mm"),
        ("k_0000", "7 vertices, the template has 386"),
        ("l", "cut off"),
    ] {
        assert!(reasons[item].contains(words), "{item}: {}", reasons[item]);
    }
    assert_eq!(cohort.quarantined().len(), report.quarantined.len());
    assert!(
        matches!(&cohort.quarantined()[0].status, Status::Quarantined { reason } if reason.contains("b_cut"))
    );
    assert_eq!(cohort.source().shapes(), 6);
}

#[test]
fn what_cannot_be_told_is_asked() {
    let f = folder();
    let scans = f.path().join("scans");
    let into = f.path().join("a.cohort");
    let small = |name: &str, factor: f64| {
        let p = body(1650.0, 1.0).into_iter().map(|p| p.map(|c| c * factor)).collect();
        put(&scans, name, &Mesh::new(std::sync::Arc::new(topology()), p).unwrap())
    };
    small("hand.ply", 0.15);
    let error = take_in(&scans, &into, &ImportParams::default()).unwrap_err();
    assert!(
        matches!(error, CohortError::UnitUnknown { .. }) && error.to_string().contains("hand.ply"),
        "{error}"
    );
    let given = ImportParams { unit: Unit::Mm, ..ImportParams::default() };
    assert_eq!(
        take_in(&scans, &into, &given).unwrap().0.info.source_unit_reason,
        "given",
        "a hand has no likely unit"
    );
    // bodies in mm that are said to be in m
    small("hand.ply", 1.0);
    let metres = ImportParams { unit: Unit::M, force: true, ..ImportParams::default() };
    let reason = take_in(&scans, &into, &metres).unwrap().0.info.source_unit_reason;
    assert!(reason.contains("files in mm") && reason.contains("--unit mm"), "{reason}");
    // half in mm, half in m
    small("hand.ply", 1.0);
    small("one.ply", 0.001);
    let force = ImportParams { force: true, ..ImportParams::default() };
    let error = take_in(&scans, &into, &force).unwrap_err();
    assert!(error.to_string().contains("mixture of units"), "{error}");
    // the old cohort is still there
    assert_eq!(Cohort::open(&into).unwrap().info().items, 1);
}

#[test]
fn requests_that_make_no_sense_are_errors() {
    let f = folder();
    let scans = f.path().join("scans");
    scan(&scans, "one.ply", 1700.0, 1.0);
    let into = f.path().join("a.cohort");
    fs::create_dir(f.path().join("empty")).unwrap();
    let none = take_in(&f.path().join("empty"), &into, &ImportParams::default()).unwrap_err();
    assert!(matches!(none, CohortError::NoFiles { .. }));
    let (report, _) = take_in(&scans, &into, &ImportParams::default()).unwrap();
    assert_eq!(report.info.items, 1);
    let again = take_in(&scans, &into, &ImportParams::default()).unwrap_err();
    assert!(matches!(again, CohortError::AlreadyExists { .. }));
    let force = ImportParams { force: true, ..ImportParams::default() };
    take_in(&scans, &into, &force).unwrap();
    let other = take_in(&scans, &scans, &force).unwrap_err();
    assert!(matches!(other, CohortError::NotReplaced { .. }));
    assert!(scans.join("one.ply").is_file());
    let fps = ImportParams { fps: Some(0.0), ..force.clone() };
    assert!(matches!(take_in(&scans, &into, &fps), Err(CohortError::Setting { setting: "fps", .. })));
    let nowhere = take_in(&scans, &f.path().join("no/such/a.cohort"), &force);
    // folders on the way are made
    assert!(nowhere.is_ok());
    fs::write(f.path().join("file"), "").unwrap();
    let unwritable = take_in(&scans, &f.path().join("file/a.cohort"), &force).unwrap_err();
    assert!(
        matches!(unwritable, CohortError::Io { .. }) && unwritable.to_string().contains("file"),
        "{unwritable}"
    );
    fs::write(scans.join("bad.ply"), "ply\n").unwrap();
    fs::remove_file(scans.join("one.ply")).unwrap();
    let nothing = take_in(&scans, &into, &force).unwrap_err();
    assert!(matches!(nothing, CohortError::NothingAccepted { files: 1, .. }), "{nothing}");
    assert_eq!(Cohort::open(&into).unwrap().info().items, 1);
}

#[test]
fn a_damaged_cohort_is_an_error() {
    let f = folder();
    let scans = f.path().join("scans");
    scan(&scans, "one.ply", 1700.0, 1.0);
    let into = f.path().join("a.cohort");
    take_in(&scans, &into, &ImportParams::default()).unwrap();
    assert!(Cohort::open(&f.path().join("none")).unwrap_err().to_string().contains("no such folder"));
    assert!(Cohort::open(&scans).unwrap_err().to_string().contains("no cohort.json"));
    let damage = |name: &str, change: &dyn Fn(Vec<u8>) -> Vec<u8>| {
        let path = into.join(name);
        let good = fs::read(&path).unwrap();
        fs::write(&path, change(good.clone())).unwrap();
        let error = Cohort::open(&into).map(|_| ()).unwrap_err();
        fs::write(&path, good).unwrap();
        error.to_string()
    };
    let text = |from: &'static str, to: &'static str| {
        move |b: Vec<u8>| String::from_utf8(b).unwrap().replacen(from, to, 1).into_bytes()
    };
    assert!(
        damage("cohort.json", &text("\"format_version\": 1", "\"format_version\": 7"))
            .contains("version is 7")
    );
    assert!(damage("cohort.json", &|_| b"{".to_vec()).contains("cohort.json"));
    assert!(
        damage("positions/stills.npy", &|mut b| {
            b.pop();
            b
        })
        .contains("cut off")
    );
    assert!(damage("items.csv", &text("stills.npy,0", "stills.npy,1")).contains("row 1"));
    assert!(
        damage("template.ply", &|mut b| {
            let n = b.len();
            b.swap(n - 12, n - 8);
            b
        })
        .contains("template.ply")
    );
    Cohort::open(&into).unwrap();
}
