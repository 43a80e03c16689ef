//! Strain maps of known deformations; soft tissue and body frames of known movements.

#![allow(clippy::unwrap_used)]

use std::f64::consts::TAU;

use crate::common::{carried, ellipsoid};
use formkin_geometry::vector::{norm, sub};
use formkin_geometry::{Point, ShapeArray, Topology};
use formkin_motion::soft::displacement::{Target, paths};
use formkin_motion::soft::field::RangeField;
use formkin_motion::soft::tissue::tissue;
use formkin_motion::{
    Axes, CycleParams, Cycles, Direction, FrameParams, MotionError, Reference, StrainParams,
};

fn sheet(n: usize, edge: f64) -> (Topology, Vec<Point>) {
    let id = |i: usize, j: usize| (i * (n + 1) + j) as u32;
    let mut triangles = Vec::new();
    let mut points = Vec::new();
    for i in 0..=n {
        for j in 0..=n {
            points.push([edge * i as f64, edge * (j as f64 + 0.3 * (i % 2) as f64), 0.0]);
            if i < n && j < n {
                triangles.push([id(i, j), id(i + 1, j), id(i + 1, j + 1)]);
                triangles.push([id(i, j), id(i + 1, j + 1), id(i, j + 1)]);
            }
        }
    }
    (Topology::new(points.len(), triangles).unwrap(), points)
}

fn array(frames: &[Vec<Point>]) -> ShapeArray {
    let mut a = ShapeArray::new(frames[0].len());
    for f in frames {
        a.push(f).unwrap();
    }
    a
}

#[test]
fn a_rigid_body_has_no_strain_smoothed_or_not() {
    let (topology, rest) = ellipsoid(4, [150.0, 100.0, 300.0]);
    let frames: Vec<Vec<Point>> =
        (0..20).map(|i| rest.iter().map(|&p| carried(p, 0.1 * f64::from(i))).collect()).collect();
    for smoothing_mm in [0.0, 25.0] {
        let params = StrainParams { smoothing_mm, ..StrainParams::default() };
        let map = params.map(&array(&frames), &topology, &[], &|_, _| {}).unwrap();
        assert!(map.peak.iter().chain(&map.trough).all(|e| e.abs() < 1e-6));
        assert!(map.shear.iter().all(|e| e.abs() < 1e-6) && map.noise_floor.unwrap() < 1e-6);
        assert_eq!(map.smoothed_mm.round(), smoothing_mm);
    }
}

#[test]
fn simple_shear_and_biaxial_stretch_stay_exact_under_smoothing() {
    let (topology, rest) = sheet(30, 6.0);
    let turned = |p: Point| carried(p, 0.8);
    let sheared: Vec<Point> = rest.iter().map(|p| turned([p[0] + 0.5 * p[1], p[1], p[2]])).collect();
    let stretched: Vec<Point> = rest.iter().map(|p| turned([1.3 * p[0], 0.9 * p[1], p[2]])).collect();
    let map = |frame: Vec<Point>| {
        StrainParams::default().map(&array(&[rest.clone(), frame]), &topology, &[], &|_, _| {}).unwrap()
    };
    // g = .5: 1.280776, .780776
    let g: f64 = 0.5;
    let (l1, l2) = ((1.0 + g * g / 4.0).sqrt() + g / 2.0, (1.0 + g * g / 4.0).sqrt() - g / 2.0);
    let found = map(sheared);
    assert!(found.peak.iter().all(|e| (e - (l1 - 1.0)).abs() < 1e-6));
    assert!(found.trough.iter().all(|e| (e - (l2 - 1.0)).abs() < 1e-6));
    assert!(found.area_ratio.iter().all(|a| (a[0] - 1.0).abs() < 1e-6 && (a[1] - 1.0).abs() < 1e-6));
    assert!(found.no_extension_share.iter().all(|s| (s - 0.5).abs() < 1e-12));
    let found = map(stretched);
    assert!(found.peak.iter().all(|e| (e - 0.3).abs() < 1e-6));
    assert!(found.trough.iter().all(|e| (e + 0.1).abs() < 1e-6));
    assert!(found.area_ratio.iter().all(|a| (a[1] - 1.17).abs() < 1e-6));
    assert!(found.peak_direction.iter().all(|d| (d[0].abs() - 1.0).abs() < 1e-6));
}

#[test]
fn smoothing_has_the_stated_width() {
    // one triangle's strain on a fine sheet spreads to a Gaussian: second moment = sd^2 a coordinate
    let (topology, rest) = sheet(80, 2.0);
    let mut moved = rest.clone();
    let middle = 40 * 81 + 40;
    moved[middle][2] += 1.0;
    let params = StrainParams { smoothing_mm: 25.0, kept_frames: 2, ..StrainParams::default() };
    let map = params.map(&array(&[rest.clone(), moved]), &topology, &[], &|_, _| {}).unwrap();
    let centre = rest[middle];
    let (mut sum, mut second) = (0.0, 0.0);
    for (t, area) in topology.triangles().iter().zip(&map.area_ratio) {
        let c: Point = std::array::from_fn(|k| t.iter().map(|&v| rest[v as usize][k]).sum::<f64>() / 3.0);
        let e = area[1] - 1.0; // the trace, in which tensors do not cancel
        sum += e;
        second += e * norm(sub(c, centre)).powi(2);
    }
    let width = (0.5 * second / sum).sqrt() * 2.354_82;
    assert!((width - 25.0).abs() < 1.5, "{width}");
}

#[test]
fn noise_shows_as_a_floor_under_two_per_cent_and_regions_are_summed() {
    use formkin_stats::random::stream;
    use rand::Rng;
    let (topology, rest) = ellipsoid(4, [150.0, 100.0, 300.0]);
    let mut rng = stream(8, "strain noise");
    let frames: Vec<Vec<Point>> = (0..24)
        .map(|i| {
            rest.iter()
                .map(|&p| carried(p, 0.1 * f64::from(i)).map(|c| c + rng.gen_range(-0.8..0.8)))
                .collect()
        })
        .collect();
    let upper: Vec<u32> = (0..rest.len() as u32).filter(|&v| rest[v as usize][2] > 0.0).collect();
    let regions = [("upper".to_owned(), upper)];
    let params = StrainParams { kept_frames: 6, ..StrainParams::default() };
    let map = params.map(&array(&frames), &topology, &regions, &|_, _| {}).unwrap();
    let floor = map.noise_floor.unwrap();
    assert!(floor > 1e-4 && floor < 0.02, "{floor}");
    assert_eq!((map.kept.len(), map.regions[0].largest.len()), (6, 24));
    assert!(map.regions[0].peak < 0.05 && map.regions[0].triangles > 500);
}

/// A bump on the front of an ellipsoid that swings, while the body turns and walks.
fn swinging(fps: f64, frames: usize) -> (Topology, Vec<Point>, Vec<u32>, Vec<f64>, ShapeArray) {
    let (topology, rest) = ellipsoid(4, [150.0, 100.0, 300.0]);
    let soft: Vec<u32> =
        (0..rest.len() as u32).filter(|&v| norm(sub(rest[v as usize], [60.0, -90.0, 60.0])) < 55.0).collect();
    let times: Vec<f64> = (0..frames).map(|i| i as f64 / fps).collect();
    let hz = 3.0;
    let mut a = ShapeArray::new(rest.len());
    for &t in &times {
        let mut shape = rest.clone();
        for &v in &soft {
            // 22 mm from top to bottom, 35 degrees late
            shape[v as usize][2] += 11.0 * (TAU * hz * t - 35f64.to_radians()).sin();
            shape[v as usize][1] += 4.0 * (TAU * hz * t).cos();
        }
        // the body bounces at 3 Hz, turns about the vertical and walks
        let (s, c) = (0.6 * t).sin_cos();
        let shape: Vec<Point> = shape
            .iter()
            .map(|p| {
                let bounce = 40.0 * (TAU * hz * t).sin();
                [c * p[0] - s * p[1] + 900.0 * t, s * p[0] + c * p[1] - 200.0 * t, p[2] + 900.0 + bounce]
            })
            .collect();
        a.push(&shape).unwrap();
    }
    (topology, rest, soft, times, a)
}

#[test]
fn a_planted_swing_is_recovered_on_a_turning_walking_body() {
    let (topology, rest, soft, times, source) = swinging(90.0, 400);
    let mut params = FrameParams::on((0..rest.len() as u32).collect());
    params.leave_out = soft.clone();
    let frame = params.fit(&source, &topology).unwrap();
    assert!(frame.fit_rms_mm.iter().all(|r| *r < 1e-6));
    let targets = [
        Target { name: "bump".into(), vertices: soft.clone() },
        Target { name: "back".into(), vertices: frame.region[..50].to_vec() },
    ];
    let found = paths(&targets, &topology, &source, &frame, 0).unwrap();
    let bounce: Vec<Option<f64>> = frame.origins_mm.iter().map(|o| Some(o[2])).collect();
    let cycles = Cycles::find("height of the frame", &times, &bounce, &CycleParams::default()).unwrap();
    assert!((cycles.hz - 3.0).abs() < 0.02 && cycles.kept >= 11, "{cycles:?}");
    let bump = tissue(&found[0], &frame, &times, &cycles, None).unwrap();
    let summary = bump.summary.unwrap();
    assert!((summary.vertical_mm.mean - 22.0).abs() < 0.22, "{summary:?}");
    assert!((summary.fore_aft_mm.mean - 8.0).abs() < 0.08, "{summary:?}");
    assert!(summary.lateral_mm.mean < 1e-6);
    let late = bump.lag.unwrap();
    assert!((late.degrees.unwrap() - 35.0).abs() < 0.35, "{late:?}");
    let speed = TAU * 3.0 * 11.0;
    assert!(summary.speed_mm_s.mean > 0.97 * speed && summary.speed_mm_s.mean < 1.1 * speed);
    assert!(summary.normal_mm.is_some() && bump.noise_mm.unwrap()[0] < 1e-6);
    // what belongs to the frame does not move in it
    let back = &found[1];
    assert!(back.places_mm.iter().all(|&p| norm(sub(p, back.places_mm[0])) < 1e-6));

    let field = RangeField::of(&source, &times, &frame, Some(&cycles)).unwrap();
    let outside = frame.region[0] as usize;
    assert!(
        norm(field.ranges_mm[outside]) < 1e-6 && (field.ranges_mm[soft[0] as usize][2] - 22.0).abs() < 0.4
    );
    let none = field.vertical_reduction_mm(&field).unwrap();
    assert!(none.iter().all(|d| d.abs() < 1e-12));
}

#[test]
fn a_garment_that_takes_forty_percent_off_one_region_shows_there_and_nowhere_else() {
    let (topology, rest) = ellipsoid(4, [150.0, 100.0, 300.0]);
    let near = |at: Point| -> Vec<u32> {
        (0..rest.len() as u32).filter(|&v| norm(sub(rest[v as usize], at)) < 55.0).collect()
    };
    // two regions move; the garment holds the first
    let (held, free) = (near([60.0, -90.0, 60.0]), near([-60.0, -90.0, -60.0]));
    assert!(held.len() > 10 && free.len() > 10 && held.iter().all(|v| !free.contains(v)));
    let times: Vec<f64> = (0..400).map(|i| f64::from(i) / 100.0).collect();
    let field = |part: f64| {
        let mut a = ShapeArray::new(rest.len());
        for &t in &times {
            let mut shape = rest.clone();
            // vertices of a region differ in how far they go
            for (i, &v) in held.iter().enumerate() {
                shape[v as usize][2] += part * (8.0 + 0.2 * i as f64) * (TAU * 2.0 * t - 0.5).sin();
            }
            for &v in &free {
                shape[v as usize][2] += 6.0 * (TAU * 2.0 * t - 0.5).sin();
            }
            let bounce = 40.0 * (TAU * 2.0 * t).sin();
            a.push(&shape.iter().map(|&p| carried([p[0], p[1], p[2] + bounce], 0.0)).collect::<Vec<_>>())
                .unwrap();
        }
        let mut params = FrameParams::on((0..rest.len() as u32).collect());
        params.leave_out = held.iter().chain(&free).copied().collect();
        let frame = params.fit(&a, &topology).unwrap();
        let heights: Vec<Option<f64>> = frame.origins_mm.iter().map(|o| Some(o[2])).collect();
        let cycles = Cycles::find("frame", &times, &heights, &CycleParams::default()).unwrap();
        RangeField::of(&a, &times, &frame, Some(&cycles)).unwrap()
    };
    let (bare, worn) = (field(1.0), field(0.6));
    let less = worn.vertical_reduction_mm(&bare).unwrap();
    for v in 0..rest.len() {
        let range = bare.ranges_mm[v][2];
        if held.contains(&(v as u32)) {
            assert!(
                range > 15.0 && (100.0 * less[v] / range - 40.0).abs() < 0.1,
                "{v}: {} of {range}",
                less[v]
            );
        } else if free.contains(&(v as u32)) {
            assert!(range > 11.0 && less[v].abs() < 1e-6, "{v}: {} of {range}", less[v]);
        } else {
            assert!(range < 1e-6 && less[v].abs() < 1e-6, "{v}: {} of {range}", less[v]);
        }
    }
}

#[test]
fn a_robust_frame_is_not_dragged_along_by_tissue_inside_its_region() {
    let (topology, rest, _, _, source) = swinging(60.0, 60);
    let all: Vec<u32> = (0..rest.len() as u32).collect();
    let robust = FrameParams::on(all.clone()).fit(&source, &topology).unwrap();
    let plain = FrameParams { robust: false, ..FrameParams::on(all) }.fit(&source, &topology).unwrap();
    let drift = |f: &formkin_motion::BodyFrame| {
        let vertex = (0..rest.len()).max_by(|&a, &b| rest[a][1].total_cmp(&rest[b][1])).unwrap();
        let first = f.transforms[0].apply(source.shape(0)[vertex]);
        (0..60).map(|k| norm(sub(f.transforms[k].apply(source.shape(k)[vertex]), first))).fold(0.0, f64::max)
    };
    assert!(drift(&robust) < 0.05 && drift(&plain) > 0.2, "{} {}", drift(&robust), drift(&plain));
}

#[test]
fn axes_come_longitudinal_first_and_left_handed_bodies_are_refused() {
    let (topology, rest) = ellipsoid(3, [150.0, 100.0, 300.0]);
    // a body that leans to its left by ten degrees
    let lean = |p: &Point| {
        let (s, c) = 10f64.to_radians().sin_cos();
        [c * p[0] + s * p[2], p[1], -s * p[0] + c * p[2]]
    };
    let leaning: Vec<Point> = rest.iter().map(lean).collect();
    let furthest = |axis: usize, sign: f64| {
        (0..rest.len()).max_by(|&a, &b| (sign * rest[a][axis]).total_cmp(&(sign * rest[b][axis]))).unwrap()
            as u32
    };
    let between = |axis: usize| Direction { from: vec![furthest(axis, -1.0)], to: vec![furthest(axis, 1.0)] };
    let axes = Axes { up: between(2), left: between(0), back: Some(between(1)) };
    let on =
        |axes: Axes| FrameParams { axes: Some(axes), ..FrameParams::on((0..rest.len() as u32).collect()) };
    let source = array(&[leaning.clone(), leaning.clone()]);
    let frame = on(axes.clone()).fit(&source, &topology).unwrap();
    let top = frame.transforms[1].apply(leaning[furthest(2, 1.0) as usize]);
    assert!(top[0].abs() < 1e-9 && (top[2] - 300.0).abs() < 1e-9, "{top:?}");
    let swapped = Axes { left: Direction { from: axes.left.to.clone(), to: axes.left.from.clone() }, ..axes };
    assert!(matches!(on(swapped).fit(&source, &topology), Err(MotionError::LeftHanded { .. })));
    // a mirrored body, and a mirrored frame of a sound one
    let uneven: Vec<Point> =
        rest.iter().map(|p| [p[0] + 0.002 * p[2] * p[1], p[1] + 0.3 * p[0], p[2]]).collect();
    let mirrored: Vec<Point> = uneven.iter().map(|p| [-p[0], p[1], p[2]]).collect();
    let plain = FrameParams::on((0..rest.len() as u32).collect());
    let refused = plain.fit(&array(&[mirrored.clone(), mirrored.clone()]), &topology);
    assert!(matches!(refused, Err(MotionError::LeftHanded { .. })), "{refused:?}");
    let refused = plain.fit(&array(&[uneven, mirrored]), &topology);
    assert!(matches!(refused, Err(MotionError::LeftHanded { .. })), "{refused:?}");
}

#[test]
fn wrong_requests_are_errors() {
    let (topology, rest) = ellipsoid(2, [150.0, 100.0, 300.0]);
    let source = array(&[rest.clone(), rest]);
    assert!(FrameParams::on(vec![1, 2]).fit(&source, &topology).is_err());
    assert!(FrameParams::on(vec![0, 1, 2, 99_999]).fit(&source, &topology).is_err());
    let params = StrainParams { reference: Reference::Frame(7), ..StrainParams::default() };
    assert!(params.map(&source, &topology, &[], &|_, _| {}).is_err());
}
