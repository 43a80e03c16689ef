//! Dimensions followed through a movement whose course is known.

#![allow(clippy::unwrap_used)] // helpers of tests

use std::f64::consts::TAU;
use std::sync::Arc;

use crate::common::{carried, ellipsoid};
use formkin_geometry::{Mesh, Point, ShapeArray, Template};
use formkin_measure::Dimensions;
use formkin_motion::{CurveParams, MotionError, PhaseOf, Reference, curves};

const FPS: f64 = 60.0;
const DEFINITIONS: &str = r#"
[[dimension]]
name = "waist_girth"
kind = "girth"
unit = "cm"
at = "waist"

[[dimension]]
name = "stature"
kind = "height"
unit = "mm"
at = "crown"

[[dimension]]
name = "girth_over_stature"
kind = "derived"
unit = "1"
formula = "waist_girth / stature"
"#;

/// A round body that breathes: its girths go by 5 % of themselves to either side, twice a second.
fn breathing(tilted: bool) -> (Template, ShapeArray, Vec<f64>) {
    let (topology, rest) = ellipsoid(3, [200.0, 200.0, 800.0]);
    let at = |p: &dyn Fn(&Point) -> f64| {
        (0..rest.len()).max_by(|&a, &b| p(&rest[a]).total_cmp(&p(&rest[b]))).unwrap() as u32
    };
    let mut template = Template::bare(Mesh::new(Arc::new(topology), rest.clone()).unwrap());
    template.landmarks.insert("waist".into(), at(&|p| p[0]));
    template.landmarks.insert("crown".into(), at(&|p| p[2]));
    let mut frames = ShapeArray::new(rest.len());
    let times: Vec<f64> = (0..240).map(|i| i as f64 / FPS).collect();
    for t in &times {
        let k = 1.0 + 0.05 * (TAU * 2.0 * t).sin();
        let shape: Vec<Point> = rest
            .iter()
            .map(|p| {
                let x = [k * p[0], k * p[1], p[2]];
                if tilted { carried(x, *t) } else { [x[0], x[1], x[2] + 300.0 * (9.0 * t).sin()] }
            })
            .collect();
        frames.push(&shape).unwrap();
    }
    (template, frames, times)
}

#[test]
fn a_girth_keeps_its_ring_while_the_body_turns_and_walks() {
    let dimensions = Dimensions::from_toml(DEFINITIONS).unwrap();
    for tilted in [false, true] {
        let (template, frames, times) = breathing(tilted);
        let found =
            curves(&dimensions, &template, &frames, &times, &CurveParams::default(), &|_, _| {}).unwrap();
        let girth = &found[0];
        assert_eq!((girth.unit.as_str(), girth.missing, girth.people), ("cm", 0, 1));
        // a polygon in a circle of 200 mm
        let reference = girth.reference.unwrap();
        assert!(reference < 125.664 && reference > 124.0, "{reference}");
        for (t, v) in times.iter().zip(&girth.values) {
            let expected = reference * (1.0 + 0.05 * (TAU * 2.0 * t).sin());
            assert!((v.unwrap() - expected).abs() < 1e-6);
        }
        assert!((girth.change_max_percent.unwrap() - 5.0).abs() < 0.03);
        assert!((girth.change_min_percent.unwrap() + 5.0).abs() < 0.03);
        let PhaseOf::OwnCycle { hz } = girth.phase_of else { panic!("{:?}", girth.phase_of) };
        assert!((hz - 2.0).abs() < 0.02);
        assert!((girth.phase_at_max_percent.unwrap() - 25.0).abs() < 4.0);
        assert!(girth.taken_on.contains("frame 0"), "{}", girth.taken_on);
        // the stature of a body that only jumps is the same, that of one that turns over is not
        let stature = &found[1];
        assert_eq!(stature.range.unwrap() > 100.0, tilted);
        assert!((stature.reference.unwrap() - 1600.0).abs() < 1e-6);
        let ratio = &found[2];
        assert!(
            (ratio.values[7].unwrap() - girth.values[7].unwrap() / stature.values[7].unwrap()).abs() < 1e-12
        );
    }
}

#[test]
fn reference_and_cycle_may_be_given() {
    let dimensions = Dimensions::from_toml(DEFINITIONS).unwrap();
    let (template, frames, times) = breathing(true);
    let run = |params| curves(&dimensions, &template, &frames, &times, &params, &|_, _| {});
    let mean = run(CurveParams { reference: Reference::Mean, cycle_hz: Some(1.0) }).unwrap();
    assert_eq!(mean[0].phase_of, PhaseOf::GivenCycle { hz: 1.0 });
    let average = mean[0].values.iter().flatten().sum::<f64>() / 240.0;
    assert!((mean[0].reference.unwrap() - average).abs() < 1e-9);
    let wrong = run(CurveParams { reference: Reference::Frame(240), cycle_hz: None });
    assert!(matches!(wrong, Err(MotionError::NoSuchFrame { frame: 240, last: 239 })));
    let wrong = run(CurveParams { cycle_hz: Some(-1.0), ..CurveParams::default() });
    assert!(matches!(wrong, Err(MotionError::OutOfRange { name: "cycle_hz", .. })));
    let other = Dimensions::from_toml(&DEFINITIONS.replace("\"crown\"", "\"crwn\"")).unwrap();
    let wrong = curves(&other, &template, &frames, &times, &CurveParams::default(), &|_, _| {});
    assert!(matches!(wrong, Err(MotionError::Measure(_))));
    let none =
        curves(&dimensions, &template, &ShapeArray::new(258), &[], &CurveParams::default(), &|_, _| {});
    assert!(matches!(none, Err(MotionError::TooFewFrames { .. })));
}
