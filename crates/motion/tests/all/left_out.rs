//! Motion modes cross-validated by cycle, against refits written out.

#![allow(clippy::unwrap_used)]

use std::f64::consts::TAU;

use formkin_align::align_one;
use formkin_geometry::vector::{dot, sub};
use formkin_geometry::{Point, ShapeArray, ShapeSource, Topology};
use formkin_motion::cycles::left_out::leave_cycles_out;
use formkin_motion::{Cycles, ModeWeighting, MotionError, MotionParams};

const FPS: f64 = 50.0;

/// A tube that bends at 1 Hz and widens at 2 Hz, ever a little differently, while it turns and goes away.
fn record(frames: usize) -> (Topology, ShapeArray, Vec<f64>) {
    let (around, along) = (8u32, 9u32);
    let mut triangles = Vec::new();
    for z in 0..along - 1 {
        for a in 0..around {
            let (p, q) = (z * around + a, z * around + (a + 1) % around);
            triangles.extend([[p, q, q + around], [p, q + around, p + around]]);
        }
    }
    let topology = Topology::new((around * along) as usize, triangles).unwrap();
    let mut all = ShapeArray::new((around * along) as usize);
    let mut times = Vec::new();
    for k in 0..frames {
        let t = k as f64 / FPS;
        times.push(t);
        let (bend, wide) = ((TAU * t).sin() * (1.0 + 0.1 * (1.7 * t).sin()), (2.0 * TAU * t).cos());
        let heading = 0.3 * t;
        let shape: Vec<Point> = (0..around * along)
            .map(|i| {
                let (a, z) = (TAU * f64::from(i % around) / f64::from(around), 100.0 * f64::from(i / around));
                let r = 90.0 + 6.0 * wide * (z / 200.0).sin();
                let (x, y) = (r * a.cos() + 60.0 * bend * (z / 800.0).powi(2), 0.7 * r * a.sin());
                let (s, c) = heading.sin_cos();
                [c * x - s * y + 500.0 * t, s * x + c * y, z + 3.0 * (f64::from(i) + 5.0 * t).sin()]
            })
            .collect();
        all.push(&shape).unwrap();
    }
    (topology, all, times)
}

#[test]
fn errors_of_cycles_left_out_are_those_of_refits_on_the_others() {
    let (topology, source, times) = record(300);
    let events: Vec<f64> = (0..=6).map(f64::from).collect();
    let cycles = Cycles::between(&events, |_, _| true, 3.0).unwrap();
    // plain weights: a refit on some frames then has the very same
    let params =
        MotionParams { modes: 4, segments: 0, weighting: ModeWeighting::Plain, ..MotionParams::default() };
    let fit = |s: &ShapeArray| {
        let times: Vec<f64> = (0..s.shapes()).map(|k| k as f64).collect();
        params.fit(s, &topology, &times, &|_, _| {}).unwrap()
    };
    let whole = fit(&source);
    let found = leave_cycles_out(&whole, &source, &times, &cycles).unwrap();
    assert_eq!((found.folds, found.cycles, found.frames, found.thinned_by), (5, 6, 300, 1));
    let mut squares = vec![0.0; 5];
    for fold in 0..5 {
        let held = fold * 6 / 5 * 50..(fold + 1) * 6 / 5 * 50;
        let mut train = ShapeArray::new(source.vertices());
        for k in (0..300).filter(|k| !held.contains(k)) {
            train.push(source.shape(k)).unwrap();
        }
        let of_others = fit(&train);
        for k in held {
            let shape = source.shape(k);
            let t = align_one(shape, &of_others.mean, &of_others.weights, params.removes).unwrap();
            let d: Vec<Point> =
                shape.iter().zip(&of_others.mean).map(|(&x, &m)| sub(t.apply(x), m)).collect();
            let inner = |a: &[Point], b: &[Point]| -> f64 {
                a.iter().zip(b).zip(&of_others.weights).map(|((&a, &b), w)| w * dot(a, b)).sum()
            };
            let mut left = inner(&d, &d);
            squares[0] += left / 300.0;
            for (mode, sum) in of_others.modes.iter().zip(&mut squares[1..]) {
                left -= inner(&d, mode).powi(2);
                *sum += left / 300.0;
            }
        }
    }
    for (error, square) in found.errors.iter().zip(&squares) {
        assert!(
            (error.rms_mm - square.sqrt()).abs() < 1e-3 * (1.0 + error.rms_mm),
            "{error:?} {}",
            square.sqrt()
        );
    }
    assert!(found.errors.windows(2).all(|e| e[1].rms_mm <= e[0].rms_mm));
    assert!(found.errors[4].rms_mm > 0.0 && found.errors[4].se_mm > 0.0);
}

#[test]
fn two_cycles_are_too_few_to_leave_one_out() {
    let (topology, source, times) = record(100);
    let cycles = Cycles::between(&[0.0, 1.0, 1.9], |_, _| true, 3.0).unwrap();
    let whole = MotionParams { segments: 0, ..MotionParams::default() }
        .fit(&source, &topology, &times, &|_, _| {})
        .unwrap();
    let why = leave_cycles_out(&whole, &source, &times, &cycles).unwrap_err();
    assert!(matches!(why, MotionError::NoCycles { .. }), "{why}");
}

/// Moments grow as the square of the frames: of very many short cycles every second is used, and the note says so.
#[test]
fn very_many_cycles_are_thinned() {
    let (topology, source, times) = record(1350);
    let events: Vec<f64> = (0..=450).map(|k| 3.0 * f64::from(k) / FPS).collect();
    let cycles = Cycles::between(&events, |_, _| true, 3.0).unwrap();
    let there = cycles.counting().count();
    assert!(there > 400, "{there}");
    let params = MotionParams { modes: 2, segments: 0, ..MotionParams::default() };
    let whole = params.fit(&source, &topology, &times, &|_, _| {}).unwrap();
    let found = leave_cycles_out(&whole, &source, &times, &cycles).unwrap();
    assert_eq!(found.cycles, there.div_ceil(2));
    assert!(found.frames <= 800, "{}", found.frames);
    assert!(found.note.contains(&format!("{} of {there} cycles", found.cycles)), "{}", found.note);
}
