//! Completions against a known model.

#![allow(clippy::unwrap_used)] // helpers of tests are tests

use formkin_geometry::{Point, ShapeArray, Subset, Topology};
use formkin_shape::complete::{CalibrationParams, calibrate};
use formkin_shape::{CompleteParams, FittedSpace, ShapeError, Space, SpaceParams, complete};
use formkin_stats::random::stream;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};

fn normal(rng: &mut ChaCha8Rng) -> f64 {
    StandardNormal.sample(rng)
}

const SIDE: usize = 9;

/// A bent sheet of 81 vertices and its triangles.
fn sheet() -> (Vec<Point>, Topology) {
    let points = (0..SIDE * SIDE)
        .map(|i| {
            let (u, v) = ((i % SIDE) as f64 / 8.0, (i / SIDE) as f64 / 8.0);
            [300.0 * u, 80.0 * (3.0 * u).sin() + 40.0 * v, 900.0 * v]
        })
        .collect();
    let mut triangles = Vec::new();
    for row in 0..SIDE - 1 {
        for column in 0..SIDE - 1 {
            let a = (row * SIDE + column) as u32;
            let s = SIDE as u32;
            triangles.extend([[a, a + 1, a + s], [a + 1, a + s + 1, a + s]]);
        }
    }
    (points, Topology::new(SIDE * SIDE, triangles).unwrap())
}

fn bent(b: &[f64], noise: f64, rng: &mut ChaCha8Rng) -> Vec<Point> {
    let (points, _) = sheet();
    points
        .into_iter()
        .map(|[x, y, z]| {
            let v = z / 900.0;
            let moved = [
                x * (1.0 + 0.002 * b[0]),
                y + b[1] * (x / 300.0 - 0.5).powi(2) + 0.5 * b[2] * (6.0 * v).sin(),
                z + b[0] * v,
            ];
            moved.map(|c| c + noise * normal(rng))
        })
        .collect()
}

fn turned(shape: &[Point], angle: f64) -> Vec<Point> {
    let (s, c) = angle.sin_cos();
    shape.iter().map(|p| [c * p[0] - s * p[1] + 50.0, s * p[0] + c * p[1] - 20.0, p[2] + 10.0]).collect()
}

fn person(rng: &mut ChaCha8Rng, noise: f64) -> Vec<Point> {
    let b = [30.0 * normal(rng), 25.0 * normal(rng), 20.0 * normal(rng)];
    bent(&b, noise, rng)
}

/// A space of 700 people without noise: as good as the model itself.
fn space() -> Space {
    let (_, topology) = sheet();
    let mut rng = stream(4, "people of the sheet");
    let mut source = ShapeArray::new(SIDE * SIDE);
    for _ in 0..700 {
        source.push(&person(&mut rng, 0.0)).unwrap();
    }
    let people: Vec<usize> = (0..700).collect();
    let params = SpaceParams { cross_validate: false, ..SpaceParams::default() };
    let FittedSpace { space, .. } = params.fit(&source, &topology, &people, None, &|_, _| ()).unwrap();
    space
}

#[test]
fn intervals_of_unseen_vertices_cover_95_percent() {
    let space = space();
    let noise = 2.0;
    let params =
        CompleteParams { modes: Some(6), noise_mm: Some(noise), white: true, ..CompleteParams::default() };
    let mut rng = stream(8, "completed");
    for rows in [2, 4] {
        let seen_count = rows * SIDE;
        let (mut within, mut all, mut square, mut of_mean) = (0usize, 0usize, 0.0, 0.0);
        for which in 0..600 {
            let shape = turned(&person(&mut rng, noise), f64::from(which));
            let seen: Vec<(u32, Point)> = (0..seen_count).map(|v| (v as u32, shape[v])).collect();
            let found = complete(&space, &seen, &params).unwrap();
            for v in seen_count..SIDE * SIDE {
                for a in 0..3 {
                    let off = found.positions[v][a] - shape[v][a];
                    within += usize::from(off.abs() <= found.z_95 * found.sd_mm[v][a]);
                    square += off * off;
                    of_mean += found.sd_mm[v][a].powi(2);
                    all += 1;
                }
            }
        }
        let share = within as f64 / all as f64;
        assert!((0.93..=0.97).contains(&share), "{rows} rows: {share}");
        assert!((square / of_mean - 1.0).abs() < 0.1, "{rows} rows: {square} {of_mean}");
    }
}

#[test]
fn a_whole_surface_gives_itself_and_its_pose() {
    let space = space();
    let mut rng = stream(6, "whole");
    let shape = turned(&person(&mut rng, 0.0), 2.0);
    let seen: Vec<(u32, Point)> = shape.iter().enumerate().map(|(v, p)| (v as u32, *p)).collect();
    let params =
        CompleteParams { modes: Some(8), noise_mm: Some(0.05), white: true, ..CompleteParams::default() };
    let found = complete(&space, &seen, &params).unwrap();
    assert!(found.residual_rms_mm < 0.5, "{}", found.residual_rms_mm);
    let expected = space.project(&shape).unwrap();
    for (x, y) in found.coefficients_mm.iter().zip(&expected.coefficients) {
        assert!((x - y).abs() < 0.5, "{x} {y}");
    }
    assert!(!found.outside);
    // landmarks alone: five vertices
    let few: Vec<(u32, Point)> = [0usize, 8, 40, 72, 80].map(|v| (v as u32, shape[v])).to_vec();
    let found = complete(&space, &few, &CompleteParams { noise_mm: Some(1.0), ..params }).unwrap();
    let rms = (shape
        .iter()
        .zip(&found.positions)
        .map(|(p, x)| (0..3).map(|k| (p[k] - x[k]).powi(2)).sum::<f64>())
        .sum::<f64>()
        / 81.0)
        .sqrt();
    assert!(rms < 12.0, "{rms}");
}

#[test]
fn what_cannot_be_completed_is_refused() {
    let space = space();
    let at = |v: u32, x: f64| (v, [x, x * x, 1.0]);
    let params =
        CompleteParams { modes: Some(3), noise_mm: Some(1.0), white: false, ..CompleteParams::default() };
    for (seen, word) in [
        (vec![at(0, 0.0), at(1, 1.0)], "three"),
        (vec![at(0, 0.0), at(1, 1.0), at(900, 2.0)], "no vertex 900"),
        (vec![at(0, 0.0), at(1, 1.0), at(1, 2.0)], "twice"),
        (vec![at(0, 0.0), at(1, f64::NAN), at(2, 2.0)], "finite"),
    ] {
        match complete(&space, &seen, &params) {
            Err(ShapeError::Seen(fault)) => assert!(fault.to_string().contains(word), "{fault}"),
            other => panic!("{other:?}"),
        }
    }
    assert!(
        complete(
            &space,
            &[at(0, 0.0), at(1, 1.0), at(2, 2.0)],
            &CompleteParams { modes: Some(999), ..params }
        )
        .is_err()
    );
}

/// Landmarks that are measured with an error of 8 mm: intervals hold where the error is given, and not where landmarks are taken for exact, calibrated or not.
#[test]
fn error_of_measuring_is_in_the_intervals() {
    let (_, topology) = sheet();
    let mut rng = stream(14, "measured landmarks");
    let mut source = ShapeArray::new(SIDE * SIDE);
    for _ in 0..150 {
        source.push(&person(&mut rng, 0.5)).unwrap();
    }
    let people: Vec<usize> = (0..150).collect();
    let params = SpaceParams { max_modes: Some(6), cross_validate: false, ..SpaceParams::default() };
    let space = params.fit(&source, &topology, &people, None, &|_, _| ()).unwrap().space;
    let seen: Vec<u32> = (0..81).step_by(7).collect();
    let error = 8.0;
    let exact =
        CompleteParams { modes: Some(6), noise_mm: Some(0.5), white: true, ..CompleteParams::default() };
    let told = CompleteParams { error_mm: Some(error), ..exact.clone() };
    let calibrated = |params: &CompleteParams| {
        calibrate(&source, &people, &space, &seen, params, &CalibrationParams::default()).unwrap()
    };
    let (plain, with) = (calibrated(&exact), calibrated(&told));
    assert!(
        (0.93..0.97).contains(&with.coverage_95) && with.rms_mm > 2.0 * plain.rms_mm,
        "{plain:?} {with:?}"
    );
    assert_eq!(with, calibrated(&told));

    let (mut held, mut all) = ([0usize; 2], 0usize);
    for _ in 0..300 {
        let body = person(&mut rng, 0.5);
        let given: Vec<(u32, Point)> =
            seen.iter().map(|v| (*v, body[*v as usize].map(|x| x + error * normal(&mut rng)))).collect();
        for (which, (params, factor)) in
            [(&told, with.factor), (&exact, plain.factor)].into_iter().enumerate()
        {
            let found = complete(&space, &given, params).unwrap();
            for v in (0..81u32).filter(|v| !seen.contains(v)) {
                for a in 0..3 {
                    let off = found.positions[v as usize][a] - body[v as usize][a];
                    let half = found.z_95 * factor * found.sd_mm[v as usize][a];
                    held[which] += usize::from(off.abs() <= half);
                    all += usize::from(which == 0);
                }
            }
        }
    }
    let share = held.map(|h| h as f64 / all as f64);
    assert!((0.93..=0.97).contains(&share[0]) && share[1] < 0.6, "{share:?}");
}

/// Cross moments grow as the square of the shapes: of many, a calibration takes as many as every cross-validation, evenly over people, and says how many.
#[test]
fn a_calibration_takes_2000_shapes_of_many() {
    const MOST: usize = 2000;
    let (_, topology) = sheet();
    let mut rng = stream(15, "many shapes");
    let mut source = ShapeArray::new(SIDE * SIDE);
    for _ in 0..MOST + 40 {
        source.push(&person(&mut rng, 0.5)).unwrap();
    }
    let few: Vec<usize> = (0..60).collect();
    let some = Subset::new(&source, &few);
    let params = SpaceParams { max_modes: Some(6), cross_validate: false, ..SpaceParams::default() };
    let space = params.fit(&some, &topology, &few, None, &|_, _| ()).unwrap().space;
    let seen: Vec<u32> = (0..81).step_by(7).collect();
    let given = CompleteParams { modes: Some(6), noise_mm: Some(0.5), ..CompleteParams::default() };
    let own = CalibrationParams { folds: 2, ..CalibrationParams::default() };
    // four shapes a person
    let people: Vec<usize> = (0..MOST + 40).map(|i| i / 4).collect();
    let found = calibrate(&source, &people, &space, &seen, &given, &own).unwrap();
    assert_eq!((found.items, found.people), (MOST, (MOST + 40) / 4));
    assert!((0.9..0.99).contains(&found.coverage_95), "{found:?}");
    assert_eq!(calibrate(&some, &few, &space, &seen, &given, &own).unwrap().items, 60);
}

#[test]
fn a_space_without_held_out_error_asks_for_it_and_wrong_errors_are_refused() {
    let space = space();
    let seen = [(0, [0.0; 3]), (8, [300.0, 0.0, 0.0]), (72, [0.0, 40.0, 900.0])];
    let none = CompleteParams::default();
    match complete(&space, &seen, &none) {
        Err(e @ ShapeError::NoNoise) => assert!(e.to_string().contains("noise_mm")),
        other => panic!("{other:?}"),
    }
    let wrong = CompleteParams { noise_mm: Some(1.0), error_mm: Some(-1.0), ..none };
    assert!(matches!(complete(&space, &seen, &wrong), Err(ShapeError::Setting { name: "error_mm", .. })));
}
