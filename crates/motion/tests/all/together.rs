//! One motion space over captures and people; broken records.

#![allow(clippy::unwrap_used)]

use std::f64::consts::TAU;

use crate::common::{carried, ellipsoid};
use formkin_geometry::{Point, ShapeArray, Topology};
use formkin_motion::dmd::{DynamicParams, dynamic_modes};
use formkin_motion::posture::rig::{Blend, Rig};
use formkin_motion::shared::{CaptureFrames, Origin, SharedParams};
use formkin_motion::signal::gaps::Pieces;
use formkin_motion::{FrameParams, MotionError, MotionParams, StrainParams};

/// A body that breathes in two fields, in its own size, carried about.
fn capture(topology: &Topology, rest: &[Point], size: f64, hz: f64, frames: usize) -> (ShapeArray, Vec<f64>) {
    let mut a = ShapeArray::new(topology.vertices());
    let times: Vec<f64> = (0..frames).map(|i| i as f64 / 40.0).collect();
    for &t in &times {
        let (b1, b2) = (9.0 * (TAU * hz * t).sin(), 4.0 * (TAU * hz * t).cos());
        let shape: Vec<Point> = rest
            .iter()
            .map(|p| {
                let (u, w) = (p[0] / 150.0, p[2] / 300.0);
                let q = [size * p[0] + b1 * u, size * p[1] + b1 * 0.3 * p[1] / 100.0, size * p[2] + b2 * w];
                carried(q, t)
            })
            .collect();
        a.push(&shape).unwrap();
    }
    (a, times)
}

#[test]
fn people_of_different_sizes_share_the_modes_of_one_movement() {
    let (topology, rest) = ellipsoid(3, [150.0, 100.0, 300.0]);
    let made: Vec<_> = [(1.0, 1.0, 80), (1.1, 1.4, 120), (0.9, 0.8, 100)]
        .into_iter()
        .map(|(size, hz, n)| capture(&topology, &rest, size, hz, n))
        .collect();
    let captures: Vec<CaptureFrames<'_>> = made
        .iter()
        .enumerate()
        .map(|(i, (source, times))| CaptureFrames {
            capture: format!("c{i}"),
            participant: format!("p{i}"),
            source,
            times_s: times.clone(),
        })
        .collect();
    let params = SharedParams { modes: 4, ..SharedParams::default() };
    let shared = params.fit(&captures, &topology, &|_, _| {}).unwrap();
    assert_eq!((shared.people, shared.captures, shared.frames), (3, 3, 300));
    assert!(shared.courses.iter().all(|c| c.explained > 0.999), "{:?}", shared.variances_mm2);
    let held = shared.left_out.as_ref().unwrap();
    assert_eq!((held.by.as_str(), held.groups), ("participant", 3));
    // two modes of the others hold a person that was left out
    assert!(held.rms_mm[2] < 0.02 * held.rms_mm[0], "{held:?}");
    assert_eq!(shared.courses.iter().map(|c| c.coefficients.len()).sum::<usize>(), 300);
    let first = SharedParams { origin: Origin::FirstFrame, ..params };
    let shared = first.fit(&captures[..1], &topology, &|_, _| {}).unwrap();
    assert!(shared.left_out.is_none() && shared.courses[0].coefficients[0].iter().all(|b| b.abs() < 1e-6));
    assert!(first.fit(&[], &topology, &|_, _| {}).is_err());
}

#[test]
fn dynamic_modes_of_a_breathing_body_have_its_frequency() {
    let (topology, rest) = ellipsoid(3, [150.0, 100.0, 300.0]);
    let (source, times) = capture(&topology, &rest, 1.0, 2.0, 160);
    let motion = MotionParams { segments: 0, ..MotionParams::default() }
        .fit(&source, &topology, &times, &|_, _| {})
        .unwrap();
    let found = dynamic_modes(&motion.coefficients, &times, &DynamicParams::default()).unwrap();
    assert!((found.modes[0].hz - 2.0).abs() < 0.02 && found.modes[0].growth_per_s.abs() < 0.02);
}

#[test]
fn a_collapsed_or_single_frame_is_no_crash() {
    let (topology, rest) = ellipsoid(2, [150.0, 100.0, 300.0]);
    let mut a = ShapeArray::new(rest.len());
    a.push(&rest).unwrap();
    a.push(&vec![[5.0, 5.0, 5.0]; rest.len()]).unwrap();
    let map = StrainParams::default().map(&a, &topology, &[], &|_, _| {}).unwrap();
    assert!(map.noise_floor.is_none() && map.trough.iter().all(|e| *e < -0.9));
    let frame = FrameParams::on((0..rest.len() as u32).collect()).fit(&a, &topology).unwrap();
    assert!(frame.fit_rms_mm[0] < 1e-9 && frame.fit_rms_mm[1] > 50.0);
    let mut one = ShapeArray::new(rest.len());
    one.push(&rest).unwrap();
    assert_eq!(StrainParams::default().map(&one, &topology, &[], &|_, _| {}).unwrap().frames, 1);
    assert!(matches!(Pieces::of(&[0.0], &[Some(1.0)], 0.1), Err(MotionError::SignalTooShort { .. })));
    assert!(Pieces::of(&[0.0, 0.2, 0.1], &[Some(1.0); 3], 0.1).is_err());
}

#[test]
fn posture_needs_a_skeleton() {
    let (topology, rest) = ellipsoid(2, [150.0, 100.0, 300.0]);
    let mesh = formkin_geometry::Mesh::new(std::sync::Arc::new(topology), rest.clone()).unwrap();
    let bare = formkin_geometry::Template::bare(mesh);
    assert!(matches!(Rig::new(&bare, &rest, Blend::Linear), Err(MotionError::Template { .. })));
}
