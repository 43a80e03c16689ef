//! The whole page, from invented ellipsoids as bodies: what is on it, that it stands alone, and that what users write stays text.

mod people;

use std::path::PathBuf;

use formkin_geometry::{ShapeArray, Topology};
use formkin_motion::MotionParams;
use formkin_report::{
    DimensionRemark, DimensionsPart, Fact, Facts, Movement, Output, ReportInput, Setting, ShapePart,
    SizingPart, html,
};
use people::Study;

fn input(study: &Study) -> ReportInput<'_> {
    ReportInput {
        title: "Suits for <b>everyone</b>".into(),
        description: "Invented people of egg-like bodies & their sizes.".into(),
        facts: Facts {
            people: study.people,
            items: study.people + study.motion.frames,
            stills: study.people,
            sequences: 1,
            frames: study.motion.frames,
            quarantined: 1,
            vertices: study.space.mean.len(),
            triangles: study.space.triangles.len(),
            watertight: Some(true),
            seed: Some(20),
            program: "formkin 0.1.0".into(),
            made: "2026-01-31 12:00 UTC".into(),
            settings: vec![
                Setting {
                    stage: "align".into(),
                    name: "removes".into(),
                    value: "rigid".into(),
                    default: true,
                },
                Setting {
                    stage: "space".into(),
                    name: "target".into(),
                    value: "5 mm".into(),
                    default: false,
                },
            ],
        },
        checks: Some(&study.checks),
        space: Some(&study.space),
        shape: ShapePart::default(),
        triangles: None,
        dimensions: Some(DimensionsPart {
            given: Vec::new(),
            summaries: &study.summaries,
            by: Some("sex".into()),
            people: study.people,
            remarks: vec![DimensionRemark {
                item: "P007".into(),
                dimension: "waist_girth".into(),
                remark: "the section is open".into(),
                missing: true,
            }],
            handbook: &[],
            pictures: Vec::new(),
        }),
        movements: vec![Movement {
            name: "side_bend".into(),
            participant: "</script><script>alert('P001')</script>".into(),
            motion: &study.motion,
            curves: &study.curves,
            deep: None,
        }],
        sizing: Some(SizingPart {
            system: &study.sizes,
            table: &study.table,
            existing: None,
            mannequins: Vec::new(),
            triangles: &[],
            mannequin_notes: &[],
        }),
        cautions: vec!["wearer trials decide".into()],
        outputs: vec![Output {
            path: "size-chart.csv".into(),
            what: "the size chart".into(),
            bytes: Some(1234),
        }],
        provenance: vec![Fact::new("template_hash", "abc123")],
        ..ReportInput::default()
    }
}

#[test]
fn the_page_stands_alone_and_keeps_text_as_text() {
    let study = people::study(120, 40, 60);
    let page = html(&input(&study)).unwrap();
    let out = PathBuf::from(env!("CARGO_TARGET_TMPDIR")).join("report.html");
    std::fs::write(&out, &page).unwrap();

    for outside in ["http://", "https://", " src=\"", "<img", "@import", "url("] {
        assert!(!page.contains(outside), "the page refers to {outside}");
    }
    assert!(!page.contains("<b>everyone</b>") && page.contains("&#60;b&#62;everyone"));
    assert!(!page.contains("alert('P001')</script>"));
    let scripts = page.matches("<script").count();
    assert_eq!(scripts, page.matches("</script>").count());
    // the surface, the space, one movement, and the program
    assert_eq!(scripts, 4);
    assert!(page.len() < 2_000_000, "{} bytes", page.len());
    // the scripts may know the word
    let after = |part: &str| part.split_once("</script>").map_or(String::new(), |p| p.1.to_owned());
    let mut parts = page.split("<script");
    let shown = parts.next().map(str::to_owned).into_iter().chain(parts.map(after)).collect::<String>();
    assert!(!shown.contains("NaN"));

    for id in [
        "study",
        "data",
        "space",
        "modes",
        "dimensions",
        "movement",
        "sizes",
        "left-out",
        "cautions",
        "files",
    ] {
        assert!(page.contains(&format!("<section id=\"{id}\"")), "no section {id}");
        assert!(page.contains(&format!("href=\"#{id}\"")), "no link to {id}");
    }
    // the held-out coverage comes before the coverage in sample
    assert!(page.contains("who had no part in making these"));
    let first = |what: &str| page.find(what).unwrap_or_else(|| panic!("no {what}"));
    assert!(first("Fitted, held out") < first("Fitted, in sample"));
    // ids are unique
    let ids: Vec<&str> = page.split(" id=\"").skip(1).filter_map(|t| t.split('"').next()).collect();
    let distinct: std::collections::BTreeSet<_> = ids.iter().collect();
    assert_eq!(ids.len(), distinct.len());
}

#[test]
fn sections_without_results_are_left_out() {
    let page = html(&ReportInput {
        title: "Nothing yet".into(),
        facts: Facts { people: 3, items: 3, stills: 3, ..Facts::default() },
        ..ReportInput::default()
    })
    .unwrap();
    assert!(page.contains("<section id=\"study\""));
    for id in ["data", "space", "dimensions", "movement", "sizes", "files"] {
        assert!(!page.contains(&format!("<section id=\"{id}\"")), "section {id} of nothing");
    }
    assert!(page.contains("3 people"));
}

#[test]
fn a_mode_of_another_body_is_refused() {
    let mut study = people::study(60, 12, 16);
    study.space.modes[0].pop();
    let fault = html(&input(&study)).unwrap_err().to_string();
    assert!(fault.contains("mode 1") && fault.contains("formkin-space"), "{fault}");
}

/// The walking mannequin beside the project: metres, y up.
#[test]
fn a_real_sequence_without_a_space_is_shown() {
    let folder = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("../../../shared/data/mannequin-walk");
    let Ok(entries) = std::fs::read_dir(&folder) else {
        println!("skipped: no {}", folder.display());
        return;
    };
    let mut files: Vec<PathBuf> = entries.filter_map(|e| Some(e.ok()?.path())).collect();
    files.sort();
    let first = formkin_cohort::read_mesh(&files[0]).unwrap();
    let topology = Topology::new(first.positions.len(), first.triangles.clone()).unwrap();
    let mut frames = ShapeArray::new(topology.vertices());
    for file in &files {
        let mesh = formkin_cohort::read_mesh(file).unwrap();
        let upright: Vec<[f64; 3]> =
            mesh.positions.iter().map(|p| [1000.0 * p[0], -1000.0 * p[2], 1000.0 * p[1]]).collect();
        frames.push(&upright).unwrap();
    }
    let times: Vec<f64> = (0..files.len()).map(|f| f as f64 / 24.0).collect();
    let motion = MotionParams::default().fit(&frames, &topology, &times, &|_, _| {}).unwrap();
    let page = html(&ReportInput {
        title: "A walk".into(),
        facts: Facts {
            people: 1,
            items: files.len(),
            sequences: 1,
            frames: files.len(),
            vertices: topology.vertices(),
            triangles: topology.triangles().len(),
            ..Facts::default()
        },
        triangles: Some(topology.triangles()),
        movements: vec![Movement {
            name: "walk".into(),
            participant: "M1".into(),
            motion: &motion,
            curves: &[],
            deep: None,
        }],
        ..ReportInput::default()
    })
    .unwrap();
    std::fs::write(PathBuf::from(env!("CARGO_TARGET_TMPDIR")).join("walk.html"), &page).unwrap();
    assert!(page.contains("data-kind=\"movement\"") && page.len() < 1_500_000, "{} bytes", page.len());
}

/// The markup of a small page, without style and program, as it is reviewed.
#[test]
fn a_small_page_is_as_reviewed() {
    let page = html(&ReportInput {
        title: "Three people".into(),
        description: "A sentence about them.".into(),
        facts: Facts {
            people: 3,
            items: 12,
            stills: 3,
            sequences: 1,
            frames: 9,
            quarantined: 1,
            vertices: 12_000,
            triangles: 23_996,
            watertight: Some(false),
            seed: Some(1),
            program: "formkin".into(),
            made: "2026-01-31".into(),
            settings: vec![
                Setting {
                    stage: "align".into(),
                    name: "removes".into(),
                    value: "rigid".into(),
                    default: true,
                },
                Setting {
                    stage: "space".into(),
                    name: "target".into(),
                    value: "5 mm".into(),
                    default: false,
                },
            ],
        },
        cautions: vec!["wearer trials decide".into()],
        outputs: vec![Output { path: "a.csv".into(), what: "a table".into(), bytes: Some(2048) }],
        provenance: vec![Fact::new("hash", "abc")],
        ..ReportInput::default()
    })
    .unwrap();
    let (start, rest) = page.split_once("<style>").unwrap();
    let (_, rest) = rest.split_once("</style>").unwrap();
    let (body, _) = rest.split_once("<script>").unwrap();
    insta::assert_snapshot!(format!("{start}{body}"));
}
