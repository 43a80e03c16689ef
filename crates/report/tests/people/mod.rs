//! Invented people: egg-like bodies whose height, girth and lean differ.
#![allow(clippy::unwrap_used)] // a helper of tests

use formkin_cohort::check::CheckParams;
use formkin_cohort::{Checks, Finding, FindingKind, Severity};
use formkin_geometry::{Point, ShapeArray, Topology};
use formkin_measure::DimensionSummary;
use formkin_measure::summary::summarise;
use formkin_motion::{Curve, Motion, MotionParams, Reference};
use formkin_shape::{Space, SpaceParams};
use formkin_sizing::{Plan, SizeSystem};
use formkin_stats::random::stream;
use formkin_table::Table;
use rand::Rng as _;

/// All results of an invented study.
pub(crate) struct Study {
    pub(crate) people: usize,
    pub(crate) space: Space,
    pub(crate) checks: Checks,
    pub(crate) table: Table,
    pub(crate) summaries: Vec<DimensionSummary>,
    pub(crate) motion: Motion,
    pub(crate) curves: Vec<Curve>,
    pub(crate) sizes: SizeSystem,
}

/// A closed surface of `rings` rings of `around` vertices between two poles.
fn topology(rings: usize, around: usize) -> Topology {
    let id = |r: usize, a: usize| (r * around + a % around) as u32;
    let (south, north) = ((rings * around) as u32, (rings * around + 1) as u32);
    let mut triangles = Vec::new();
    for a in 0..around {
        triangles.push([south, id(0, a + 1), id(0, a)]);
        for r in 0..rings - 1 {
            triangles.push([id(r, a), id(r, a + 1), id(r + 1, a + 1)]);
            triangles.push([id(r, a), id(r + 1, a + 1), id(r + 1, a)]);
        }
        triangles.push([north, id(rings - 1, a), id(rings - 1, a + 1)]);
    }
    Topology::new(rings * around + 2, triangles).unwrap()
}

/// A body of this stature and girth, in mm, whose upper part leans by `lean` mm.
fn body(rings: usize, around: usize, stature: f64, girth: f64, waist: f64, lean: f64) -> Vec<Point> {
    let at = |t: f64, turn: f64| {
        let width =
            (std::f64::consts::PI * t).sin().powf(0.6) * (1.0 - waist * (-((t - 0.6) / 0.1).powi(2)).exp());
        let radius = girth / std::f64::consts::TAU * width;
        [1.2 * radius * turn.cos() + lean * t * t, 0.8 * radius * turn.sin(), stature * t]
    };
    let mut points: Vec<Point> = (0..rings)
        .flat_map(|r| {
            let t = (r as f64 + 1.0) / (rings as f64 + 1.0);
            (0..around).map(move |a| (t, a as f64 / around as f64 * std::f64::consts::TAU))
        })
        .map(|(t, turn)| at(t, turn))
        .collect();
    points.push(at(0.0, 0.0));
    points.push(at(1.0, 0.0));
    points
}

/// A study of so many people.
pub(crate) fn study(people: usize, rings: usize, around: usize) -> Study {
    let topology = topology(rings, around);
    let mut random = stream(7, "people");
    // the sum of four uniform numbers is near enough to normal
    let mut normal = || (0..4).map(|_| random.gen_range(-1.0..1.0)).sum::<f64>() / (4.0f64 / 3.0).sqrt();
    let mut shapes = ShapeArray::new(topology.vertices());
    let mut csv = String::from("participant,sex,stature_mm,chest_girth_mm,waist_girth_mm,mass_kg\n");
    for i in 0..people {
        let man = i % 2 == 0;
        let (a, b, c) = (normal(), normal(), normal());
        let stature = if man { 1780.0 } else { 1650.0 } + 65.0 * a;
        let chest = if man { 1010.0 } else { 930.0 } + 75.0 * (0.35 * a + 0.94 * b);
        shapes.push(&body(rings, around, stature, chest, 0.16 + 0.04 * c, 12.0 * normal())).unwrap();
        let (waist, mass) =
            (chest * (0.86 - 0.03 * c), 75.0 + 0.06 * (chest - 970.0) + 0.02 * (stature - 1700.0));
        let sex = if man { "men" } else { "women" };
        csv.push_str(&format!("P{:03},{sex},{stature:.1},{chest:.1},{waist:.1},{mass:.1}\n", i + 1));
    }
    let table = Table::parse_csv(&csv, "people.csv", Some("participant")).unwrap();
    let whose: Vec<usize> = (0..people).collect();
    let space = SpaceParams { folds: 5, ..SpaceParams::default() }
        .fit(&shapes, &topology, &whose, None, &|_, _| {})
        .unwrap()
        .space;

    let times: Vec<f64> = (0..60).map(|f| f64::from(f) / 30.0).collect();
    let mut frames = ShapeArray::new(topology.vertices());
    for t in &times {
        let swing = (std::f64::consts::TAU * 1.5 * t).sin();
        let breath = (std::f64::consts::TAU * 3.0 * t).cos();
        frames
            .push(&body(
                rings,
                around,
                1750.0 - 20.0 * swing * swing,
                980.0 + 18.0 * breath,
                0.16,
                220.0 * swing,
            ))
            .unwrap();
    }
    let motion = MotionParams { modes: 4, ..MotionParams::default() }
        .fit(&frames, &topology, &times, &|_, _| {})
        .unwrap();
    let curve = |name: &str, value: &dyn Fn(f64) -> f64| {
        let values = times.iter().map(|&t| Some(value(t))).collect();
        Curve::of(name, "mm", (&times, &motion.timing), values, Reference::Frame(0), None)
    };
    let curves = vec![
        curve("chest_girth", &|t| 980.0 + 18.0 * (std::f64::consts::TAU * 3.0 * t).cos()),
        curve("side_length", &|t| 640.0 + 70.0 * (std::f64::consts::TAU * 1.5 * t).sin()),
        curve("neck_girth", &|_| 380.0),
    ];

    let plan = Plan::from_toml(
        "by = 'sex'\nsecondary = ['waist_girth']\nfolds = 5\nrepeats = 2\ncurve = [2, 6]\nprotective = true\n\
         [sizes]\ncount = 5\n\
         [[control]]\ndimension = 'stature'\ntolerance = { below = 45, above = 45 }\n\
         [[control]]\ndimension = 'chest_girth'\ntolerance = { below = 45, above = 45 }\n",
    )
    .unwrap();
    let sizes = Plan { folds: plan.folds.min(people / 2), ..plan }.derive(&table).unwrap();
    let finding = |item: &str, kind, severity, message: &str| Finding {
        item: item.into(),
        kind,
        severity,
        message: message.into(),
        amount: Some(12.5),
        unit: Some("mm".into()),
        advice: "look at the scan".into(),
    };
    let mut findings = vec![
        finding("P004", FindingKind::Spike, Severity::Warning, "a vertex is 12.5 mm off its neighbours"),
        finding("<img src=x>", FindingKind::NotFinite, Severity::Error, "vertex 7 is not a number"),
    ];
    for i in 0..20 {
        let item = format!("P{:03}", i + 10);
        findings.push(finding(
            &item,
            FindingKind::StretchedEdges,
            Severity::Note,
            "an edge is twice as long as on the template",
        ));
    }
    let checks = Checks {
        format_version: 1,
        people,
        items: people,
        quarantined: 1,
        topology: topology.summary(),
        params: CheckParams::default(),
        findings,
    };
    let summaries = summarise(&table, None, Some("sex")).unwrap();
    Study { people, space, checks, table, summaries, motion, curves, sizes }
}
