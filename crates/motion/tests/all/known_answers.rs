//! Movements made by formula, whose rigid part, modes, variances and frequencies are known.

#![allow(clippy::unwrap_used)] // helpers of tests

use std::collections::BTreeMap;
use std::f64::consts::TAU;

use crate::common::{carried, ellipsoid};
use formkin_geometry::vector::{add, dot, norm, scale, sub};
use formkin_geometry::{Point, ShapeArray, ShapeSource, Subset, Topology};
use formkin_motion::{
    FindingKind, ModeWeighting, Motion, MotionError, MotionParams, NoFrequency, Reference, Route,
    trajectories,
};
use formkin_stats::symmetric::symmetric_eigen;
use ndarray::Array2;

const FPS: f64 = 50.0;
const FRAMES: usize = 250;

fn times() -> Vec<f64> {
    (0..FRAMES).map(|i| 2.0 + i as f64 / FPS).collect()
}

/// Frames of a rest shape that oscillates along given displacements, each (displacement, amplitude, Hz), carried about.
fn oscillating(rest: &[Point], along: &[(Vec<Point>, f64, f64)], frames: usize) -> ShapeArray {
    let mut a = ShapeArray::new(rest.len());
    for i in 0..frames {
        let t = i as f64 / FPS;
        let shape: Vec<Point> = (0..rest.len())
            .map(|v| {
                let mut x = rest[v];
                for (p, amplitude, hz) in along {
                    x = add(x, scale(p[v], amplitude * (TAU * hz * t).sin()));
                }
                carried(x, t)
            })
            .collect();
        a.push(&shape).unwrap();
    }
    a
}

fn fit(params: &MotionParams, source: &dyn ShapeSource, topology: &Topology) -> Result<Motion, MotionError> {
    let t: Vec<f64> =
        times().into_iter().chain((0..).map(|i| 7.0 + f64::from(i) / FPS)).take(source.shapes()).collect();
    params.fit(source, topology, &t, &|_, _| {})
}

/// Displacements that no rigid motion can take up: even or odd in each mirror as the position itself.
fn symmetric_displacements(rest: &[Point]) -> [Vec<Point>; 2] {
    [
        rest.iter().map(|p| [p[0] / 250.0, -p[1] / 150.0, 0.0]).collect(),
        rest.iter().map(|p| [0.0, 0.0, p[2] / 400.0]).collect(),
    ]
}

fn square(weights: &[f64], p: &[Point]) -> f64 {
    weights.iter().zip(p).map(|(w, &p)| w * dot(p, p)).sum()
}

#[test]
fn an_oscillation_of_a_turning_body_comes_back_with_its_variance_and_frequency() {
    let (topology, rest) = ellipsoid(3, [250.0, 150.0, 400.0]);
    let [p, _] = symmetric_displacements(&rest);
    let source = oscillating(&rest, &[(p.clone(), 20.0, 2.0)], FRAMES);
    for weighting in [ModeWeighting::Area, ModeWeighting::Plain] {
        let m = fit(&MotionParams { weighting, ..MotionParams::default() }, &source, &topology).unwrap();
        assert_eq!((m.modes.len(), m.people, m.frames, m.uniform), (1, 1, FRAMES, true));
        // A^2 / 2 over whole periods with divisor n, so n / (n - 1) more; and the mode's length under the weights
        let n = FRAMES as f64;
        let expected = 200.0 * square(&m.weights, &p) * n / (n - 1.0);
        assert!((m.variances_mm2[0] / expected - 1.0).abs() < 1e-9, "{} {expected}", m.variances_mm2[0]);
        assert!((m.total_variance_mm2 / expected - 1.0).abs() < 1e-9);
        let f = m.frequencies[0].unwrap();
        assert!((f.hz - 2.0).abs() < 0.02, "{f:?}");
        // the mode is the displacement, of length 1
        let length = square(&m.weights, &p).sqrt();
        let found = &m.modes[0];
        let agreement: f64 = m.weights.iter().zip(found).zip(&p).map(|((w, &a), &b)| w * dot(a, b)).sum();
        assert!((agreement.abs() / length - 1.0).abs() < 1e-9);
        assert!((square(&m.weights, found) - 1.0).abs() < 1e-9);
        let largest =
            found.iter().flatten().fold(0.0f64, |l, &x| if x.abs() > l.abs() * (1.0 + 1e-9) { x } else { l });
        assert!(largest > 0.0);
        // turned as frame 0, which is at rest and not turned, about its own centre
        let worst = m.mean.iter().zip(&rest).map(|(&a, &b)| norm(sub(a, b))).fold(0.0, f64::max);
        assert!(worst < 1e-2, "{worst}");
        // every frame comes back to where it was captured
        for frame in [0, 7, 249] {
            let back = m.reconstruct_in_lab(frame, 1).unwrap();
            let worst =
                back.iter().zip(source.shape(frame)).map(|(&a, &b)| norm(sub(a, b))).fold(0.0, f64::max);
            assert!(worst < 1e-6, "{worst}");
        }
        assert!((m.errors[0].rms_mm - (200.0 * square(&m.weights, &p)).sqrt()).abs() < 1e-6);
        assert!(m.errors[1].rms_mm < 1e-3 && m.errors[1].held_out_rms_mm.unwrap() < 1e-3, "{:?}", m.errors);
        assert!(m.findings.is_empty(), "{:?}", m.findings);
    }
}

#[test]
fn two_oscillations_are_told_apart() {
    let (topology, rest) = ellipsoid(3, [250.0, 150.0, 400.0]);
    let [p, q] = symmetric_displacements(&rest);
    let source = oscillating(&rest, &[(p.clone(), 20.0, 2.0), (q.clone(), 9.0, 5.0)], FRAMES);
    let m = fit(&MotionParams::default(), &source, &topology).unwrap();
    assert_eq!(m.modes.len(), 2);
    let n = FRAMES as f64;
    for (k, (shape, amplitude, hz)) in [(&p, 20.0f64, 2.0), (&q, 9.0, 5.0)].into_iter().enumerate() {
        let expected = amplitude.powi(2) / 2.0 * square(&m.weights, shape) * n / (n - 1.0);
        assert!((m.variances_mm2[k] / expected - 1.0).abs() < 1e-6);
        assert!((m.frequencies[k].unwrap().hz - hz).abs() < 0.02);
    }
    let explained = m.explained();
    assert!((explained[1] - 1.0).abs() < 1e-9 && explained[0] < explained[1]);
    let animation = m.mode_animation(0, 2.0, 1.0, 24).unwrap();
    assert_eq!((animation.times_s.len(), animation.targets.len()), (25, 1));
    let reach = square(&m.weights, &animation.targets[0].1).sqrt();
    assert!((reach - 2.0 * m.variances_mm2[0].sqrt()).abs() < 1e-9);
    assert_eq!((animation.weights[0][0], animation.weights[24][0]), (0.0, 0.0));
    assert!((animation.weights[6][0] - 1.0).abs() < 1e-12);
    let replay = m.replay(5);
    assert_eq!((replay.targets.len(), replay.weights.len(), replay.times_s[0]), (2, FRAMES, 0.0));
    let shown = m.reconstruct(100, 2).unwrap();
    for v in [0, 5, 60] {
        let mut x = replay.base[v];
        for (target, weight) in replay.targets.iter().zip(&replay.weights[100]) {
            x = add(x, scale(target.1[v], *weight));
        }
        assert!(norm(sub(x, shown[v])) < 1e-9);
    }
    assert!(matches!(m.mode_animation(2, 2.0, 1.0, 24), Err(MotionError::NoSuchMode { mode: 2, kept: 2 })));
}

#[test]
fn a_frame_fixed_to_a_region_shows_all_that_moves_against_it() {
    let (topology, rest) = ellipsoid(3, [250.0, 150.0, 400.0]);
    // above the middle everything sways sideways: a whole-body frame would take part of it up
    let sway: Vec<Point> = rest.iter().map(|p| [p[2].max(0.0) / 400.0, 0.0, 0.0]).collect();
    let region: Vec<u32> = (0..rest.len() as u32).filter(|&v| rest[v as usize][2] <= 0.0).collect();
    let source = oscillating(&rest, &[(sway.clone(), 30.0, 2.0)], FRAMES);
    let params = MotionParams { region: Some(region.clone()), ..MotionParams::default() };
    let m = fit(&params, &source, &topology).unwrap();
    let n = FRAMES as f64;
    let expected = 450.0 * square(&m.weights, &sway) * n / (n - 1.0);
    assert!((m.variances_mm2[0] / expected - 1.0).abs() < 1e-9);
    assert_eq!(m.modes.len(), 1);
    assert!(m.weights.iter().all(|&w| w > 0.0), "the modes are of the whole body");
    assert!(region.iter().all(|&v| norm(m.modes[0][v as usize]) < 1e-6));
    assert!((m.frequencies[0].unwrap().hz - 2.0).abs() < 0.02);
    let whole = fit(&MotionParams::default(), &source, &topology).unwrap();
    assert!(whole.total_variance_mm2 < 0.9 * m.total_variance_mm2);

    // the same through a landmark: its range in the body frame is twice the amplitude
    let top = (0..rest.len()).max_by(|&a, &b| rest[a][2].total_cmp(&rest[b][2])).unwrap() as u32;
    let marks = BTreeMap::from([("crown".to_owned(), top)]);
    let paths = trajectories(&marks, &source, &times(), Some(&m.alignment)).unwrap();
    let body = paths[0].body_extent.unwrap();
    assert!((body.resultant_mm - 60.0).abs() < 0.2, "{body:?}"); // the extremes fall between frames
    assert!(paths[0].lab_extent.range_mm[0] > 5000.0);
    let without = trajectories(&marks, &source, &times(), None).unwrap();
    assert!(without[0].body.is_none() && without[0].lab == paths[0].lab);
}

#[test]
fn a_body_that_does_not_change_shape_has_no_modes_and_says_so() {
    let (topology, rest) = ellipsoid(2, [250.0, 150.0, 400.0]);
    let source = oscillating(&rest, &[], 40);
    let m = fit(&MotionParams::default(), &source, &topology).unwrap();
    assert!(m.modes.is_empty() && m.variances_mm2.is_empty() && m.explained().is_empty());
    assert!(m.total_variance_mm2.is_finite() && m.total_variance_mm2 < 1e-6);
    assert_eq!(m.findings.last().unwrap().kind, FindingKind::NoVariation);
    assert_eq!(m.errors.len(), 1);
    assert!(m.errors[0].rms_mm.is_finite() && m.no_segments.is_some());
    assert!(m.coefficients.iter().all(Vec::is_empty) && m.replay(3).targets.is_empty());
    // and one that stands still is frozen besides
    let mut still = ShapeArray::new(rest.len());
    for _ in 0..5 {
        still.push(&rest).unwrap();
    }
    let m = fit(&MotionParams::default(), &still, &topology).unwrap();
    assert_eq!((m.frozen_frames, m.findings[0].frame), (4, Some(1)));
    assert!(m.total_variance_mm2.is_finite());
}

#[test]
fn two_frames_have_one_mode_and_one_frame_is_an_error() {
    let (topology, rest) = ellipsoid(2, [250.0, 150.0, 400.0]);
    let [p, _] = symmetric_displacements(&rest);
    let source = oscillating(&rest, &[(p.clone(), 20.0, 2.0)], 8);
    let two = fit(&MotionParams::default(), &Subset::new(&source, &[0, 6]), &topology).unwrap();
    assert_eq!((two.modes.len(), two.coefficients.len()), (1, 2));
    // variance of two values with divisor 1: half their squared difference
    let d = 20.0 * (TAU * 2.0 * 0.12).sin();
    assert!((two.variances_mm2[0] / (0.5 * d * d * square(&two.weights, &p)) - 1.0).abs() < 1e-3);
    assert!(two.errors[1].rms_mm < 1e-4 && two.segments.is_none() && two.no_segments.is_some());
    assert!(matches!(two.no_frequency[0], Some(NoFrequency::TooShort { frames: 2, .. })));
    let one = fit(&MotionParams::default(), &Subset::new(&source, &[0]), &topology).unwrap_err();
    assert!(matches!(one, MotionError::TooFewFrames { frames: 1, needed: 2 }));
    let none = fit(&MotionParams::default(), &Subset::new(&source, &[]), &topology).unwrap_err();
    assert!(matches!(none, MotionError::TooFewFrames { frames: 0, .. }));
}

#[test]
fn what_is_asked_wrongly_is_a_typed_error() {
    let (topology, rest) = ellipsoid(1, [250.0, 150.0, 400.0]);
    let [p, _] = symmetric_displacements(&rest);
    let source = oscillating(&rest, &[(p, 20.0, 2.0)], 8);
    let with = |params: MotionParams| fit(&params, &source, &topology).unwrap_err();
    let d = MotionParams::default;
    assert!(matches!(
        with(MotionParams { region: Some(vec![0, 1, 99]), ..d() }),
        MotionError::RegionVertex { vertex: 99, last: 17 }
    ));
    assert!(matches!(
        with(MotionParams { region: Some(vec![0, 1, 1]), ..d() }),
        MotionError::RegionTooSmall { vertices: 2, .. }
    ));
    assert!(matches!(with(MotionParams { modes: 0, ..d() }), MotionError::OutOfRange { name: "modes", .. }));
    assert!(matches!(
        with(MotionParams { segments: 1, ..d() }),
        MotionError::OutOfRange { name: "segments", .. }
    ));
    assert!(matches!(
        with(MotionParams { reference_frame: Reference::Frame(8), ..d() }),
        MotionError::NoSuchFrame { frame: 8, last: 7 }
    ));
    let other = Topology::new(3, vec![[0, 1, 2]]).unwrap();
    assert!(matches!(fit(&d(), &source, &other), Err(MotionError::VertexCount { .. })));
    let mut broken = rest.clone();
    broken[4][1] = f64::NAN;
    let mut a = ShapeArray::new(rest.len());
    a.push(&rest).unwrap();
    a.push(&broken).unwrap();
    assert!(matches!(fit(&d(), &a, &topology), Err(MotionError::Align(_))));
}

/// A body that moves in many ways at once, none of them tidy.
fn untidy(frames: usize) -> (Topology, ShapeArray) {
    let (topology, rest) = ellipsoid(2, [250.0, 150.0, 400.0]);
    let along: Vec<(Vec<Point>, f64, f64)> = (1..9u32)
        .map(|k| {
            let f = f64::from(k);
            let p = rest
                .iter()
                .map(|x| {
                    let a = 0.004 * f * x[2] + f;
                    [a.sin(), (1.3 * a + 0.01 * x[0]).cos(), (0.7 * a - 0.01 * x[1]).sin()]
                })
                .collect();
            (p, 40.0 / (f * f), 0.37 * f)
        })
        .collect();
    let source = oscillating(&rest, &along, frames);
    (topology, source)
}

#[test]
fn modes_agree_with_naive_components_on_either_route() {
    let (topology, source) = untidy(120);
    for gram_frames in [3000, 50] {
        let params = MotionParams { modes: 5, gram_frames, segments: 0, ..MotionParams::default() };
        let m = fit(&params, &source, &topology).unwrap();
        assert_eq!(matches!(m.route, Route::Gram), gram_frames == 3000);
        // the slow way: the covariance matrix of all weighted coordinates
        let coordinates = 3 * m.mean.len();
        let rows = Array2::from_shape_fn((120, coordinates), |(i, j)| {
            let x = m.alignment.transforms[i].apply(source.shape(i)[j / 3]);
            m.weights[j / 3].sqrt() * (x[j % 3] - m.mean[j / 3][j % 3])
        });
        let covariance = rows.t().dot(&rows) / 119.0;
        let eigen = symmetric_eigen(&covariance).unwrap();
        assert!((m.total_variance_mm2 / covariance.diag().sum() - 1.0).abs() < 1e-9);
        for k in 0..5 {
            assert!((m.variances_mm2[k] / eigen.values[k] - 1.0).abs() < 1e-7, "{gram_frames} {k}");
            let cosine: f64 = (0..coordinates)
                .map(|j| eigen.vectors[[j, k]] * m.weights[j / 3].sqrt() * m.modes[k][j / 3][j % 3])
                .sum();
            assert!((cosine.abs() - 1.0).abs() < 1e-6, "{gram_frames} {k}: {cosine}");
            let variance = m.coefficients.iter().map(|r| r[k] * r[k]).sum::<f64>() / 119.0;
            assert!((variance / m.variances_mm2[k] - 1.0).abs() < 1e-7);
        }
        // the error in sample is the error of the reconstructions
        let squares: f64 = (0..120)
            .map(|i| {
                let x = m.reconstruct(i, 3).unwrap();
                let d: Vec<Point> = x
                    .iter()
                    .zip(source.shape(i))
                    .map(|(&a, &b)| sub(a, m.alignment.transforms[i].apply(b)))
                    .collect();
                square(&m.weights, &d)
            })
            .sum();
        assert!((m.errors[3].rms_mm - (squares / 120.0).sqrt()).abs() < 1e-6);
    }
}

#[test]
fn the_order_of_the_frames_does_not_change_the_modes() {
    let (topology, source) = untidy(60);
    let order: Vec<usize> = (0..60).map(|i| (i * 37 + 11) % 60).collect();
    let params = MotionParams { modes: 4, segments: 0, ..MotionParams::default() };
    let a = fit(&params, &source, &topology).unwrap();
    let reference_frame = Reference::Frame(order.iter().position(|&i| i == 0).unwrap());
    let b =
        fit(&MotionParams { reference_frame, ..params }, &Subset::new(&source, &order), &topology).unwrap();
    for k in 0..4 {
        assert!((a.variances_mm2[k] / b.variances_mm2[k] - 1.0).abs() < 1e-5);
        let cosine: f64 =
            a.weights.iter().zip(&a.modes[k]).zip(&b.modes[k]).map(|((w, &p), &q)| w * dot(p, q)).sum();
        assert!((cosine - 1.0).abs() < 1e-5, "{k}: {cosine}");
    }
}

#[test]
fn held_out_error_is_larger_than_in_sample_and_falls_with_modes() {
    let (topology, source) = untidy(150);
    let m =
        fit(&MotionParams { modes: 6, segments: 3, ..MotionParams::default() }, &source, &topology).unwrap();
    assert_eq!(m.segments.as_ref().unwrap().held_out, [(0, 50), (50, 50), (100, 50)]);
    let held: Vec<f64> = m.errors.iter().map(|e| e.held_out_rms_mm.unwrap()).collect();
    assert!(held.windows(2).all(|w| w[1] <= w[0]));
    assert!(m.errors.iter().zip(&held).skip(1).all(|(e, h)| *h >= e.rms_mm));
}

#[test]
fn a_fit_repeats_itself_whatever_the_number_of_threads() {
    let (topology, source) = untidy(40);
    for gram_frames in [3000, 10] {
        let params = MotionParams { modes: 3, gram_frames, ..MotionParams::default() };
        let a = fit(&params, &source, &topology).unwrap();
        for threads in [1, 3] {
            let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
            let b = pool.install(|| fit(&params, &source, &topology)).unwrap();
            assert_eq!(a.modes, b.modes);
            assert_eq!(a.coefficients, b.coefficients);
            assert_eq!(a.errors, b.errors);
        }
    }
}

#[test]
fn progress_rises_to_its_end() {
    let (topology, source) = untidy(40);
    let t: Vec<f64> = (0..40).map(|i| f64::from(i) / FPS).collect();
    let heard = std::sync::Mutex::new(Vec::new());
    MotionParams::default()
        .fit(&source, &topology, &t, &|done, of| heard.lock().unwrap().push((done, of)))
        .unwrap();
    let heard = heard.into_inner().unwrap();
    assert!(heard.windows(2).all(|w| w[0].0 <= w[1].0 && w[0].1 == w[1].1));
    let (done, of) = heard[heard.len() - 1];
    assert_eq!(done, of);
}

#[test]
fn a_gap_in_time_takes_the_frequencies_away_and_is_reported() {
    let (topology, rest) = ellipsoid(2, [250.0, 150.0, 400.0]);
    let [p, _] = symmetric_displacements(&rest);
    let source = oscillating(&rest, &[(p, 20.0, 2.0)], FRAMES);
    let kept: Vec<usize> = (0..FRAMES).filter(|i| !(100..104).contains(i)).collect();
    let t: Vec<f64> = kept.iter().map(|&i| times()[i]).collect();
    let m = MotionParams::default().fit(&Subset::new(&source, &kept), &topology, &t, &|_, _| {}).unwrap();
    assert_eq!(
        (m.uniform, m.timing.dropped_frames, m.no_frequency[0]),
        (false, 4, Some(NoFrequency::NotUniform))
    );
    assert_eq!((m.findings[0].kind, m.findings[0].frame), (FindingKind::DroppedFrames, Some(99)));
}

#[test]
fn a_reference_is_written_as_a_number_or_as_mean() {
    for reference in [Reference::Frame(3), Reference::Mean] {
        let text = serde_json::to_string(&reference).unwrap();
        assert_eq!(text, if reference == Reference::Mean { "\"mean\"" } else { "3" });
        assert_eq!(serde_json::from_str::<Reference>(&text).unwrap(), reference);
    }
}
