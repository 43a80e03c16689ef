//! What a fit must hold to.

use crate::common::{body, pick, quiet, rms, rotation, shapes};
use formkin_align::kabsch::best_rotation;
use formkin_align::{
    AlignError, AlignParams, Reference, Removes, Weighting, align_one, procrustes_distances,
};
use formkin_geometry::areas::{centroid, centroid_size};
use formkin_geometry::{Point, ShapeArray, ShapeSource};
use formkin_stats::random::stream;
use rand::Rng;
use rand::seq::SliceRandom;

fn determinant(r: &[[f64; 3]; 3]) -> f64 {
    r[0][0] * (r[1][1] * r[2][2] - r[1][2] * r[2][1]) - r[0][1] * (r[1][0] * r[2][2] - r[1][2] * r[2][0])
        + r[0][2] * (r[1][0] * r[2][1] - r[1][1] * r[2][0])
}

#[test]
fn the_best_rotation_is_found_to_the_last_digits_also_for_thin_and_mirrored_shapes() {
    let mut rng = stream(1, "kabsch");
    for trial in 0..500 {
        let thin = 10f64.powf(-f64::from(trial % 6));
        let mut y: Vec<Point> = (0..20)
            .map(|_| {
                [
                    rng.gen_range(-1.0..1.0),
                    rng.gen_range(-1.0..1.0) * thin,
                    rng.gen_range(-1.0..1.0) * thin * thin,
                ]
            })
            .collect();
        let turn = rotation(rng.gen_range(-3.0..3.0), rng.gen_range(-1.5..1.5), rng.gen_range(-3.0..3.0));
        let m: Vec<Point> = y.iter().map(|p| turn.apply(*p)).collect();
        let cross = |y: &[Point]| -> [[f64; 3]; 3] {
            std::array::from_fn(|i| std::array::from_fn(|k| y.iter().zip(&m).map(|(p, q)| p[i] * q[k]).sum()))
        };
        let found = best_rotation(&cross(&y));
        // errors of the small directions are magnified by the square of their smallness
        let tolerance = 1e-14 / (thin * thin).max(1e-10);
        for (row, want) in found.rotation.iter().zip(&turn.rotation) {
            for (x, w) in row.iter().zip(want) {
                assert!((x - w).abs() < tolerance.max(1e-13), "thin {thin}: {x} and not {w}");
            }
        }
        for p in &mut y {
            p[0] = -p[0];
        }
        assert!((determinant(&best_rotation(&cross(&y)).rotation) - 1.0).abs() < 1e-12);
    }
}

#[test]
fn copies_of_one_shape_fall_together_whatever_their_pose() {
    let (topology, base) = body(12, 16);
    for turn in [0.3, 3.1] {
        let copies = shapes(9, &base, 0.0, turn, 4);
        for removes in [Removes::Rigid, Removes::Similarity] {
            let fit = AlignParams { removes, ..AlignParams::default() }
                .fit(&copies, &topology, None, &quiet)
                .unwrap();
            assert!(fit.rms_mm < 1e-9, "{removes:?}, turns of {turn}: {}", fit.rms_mm);
            let aligned = fit.aligned(&copies);
            assert!(rms(&aligned.read_shape(3).unwrap(), &fit.mean) < 1e-9);
        }
    }
}

#[test]
fn the_mean_is_the_average_of_the_aligned_shapes_and_the_sums_are_theirs() {
    let (topology, base) = body(12, 16);
    let source = shapes(15, &base, 20.0, 0.5, 2);
    for removes in [Removes::Rigid, Removes::Similarity, Removes::Standing] {
        let fit =
            AlignParams { removes, ..AlignParams::default() }.fit(&source, &topology, None, &quiet).unwrap();
        assert!((fit.weights.iter().sum::<f64>() - 1.0).abs() < 1e-12);
        let aligned = fit.aligned(&source);
        let all: Vec<Vec<Point>> = (0..15).map(|i| aligned.read_shape(i).unwrap()).collect();
        let mut sum = 0.0;
        for v in 0..base.len() {
            for k in 0..3 {
                let mean = all.iter().map(|s| s[v][k]).sum::<f64>() / 15.0;
                assert!((mean - fit.mean[v][k]).abs() < 1e-9);
                sum += fit.weights[v] * all.iter().map(|s| (s[v][k] - mean).powi(2)).sum::<f64>();
            }
        }
        assert!((sum / fit.sum_of_squares_mm2 - 1.0).abs() < 1e-9);
        assert!((fit.rms_mm.powi(2) * 15.0 / sum - 1.0).abs() < 1e-9);
        let last = fit.history[fit.rounds - 1];
        assert!(last.mean_moved_mm < 1e-3);
        for (i, t) in fit.transforms.iter().enumerate() {
            assert!((determinant(&t.rotation) - 1.0).abs() < 1e-12);
            let size = centroid_size(source.shape(i), &fit.weights);
            assert!((fit.centroid_sizes_mm[i] - size).abs() < 1e-9);
            // a shape on its own is laid where the fit laid it
            let alone = align_one(source.shape(i), &fit.mean, &fit.weights, removes).unwrap();
            let mut x = source.shape(i).to_vec();
            alone.apply_all(&mut x);
            assert!(rms(&x, &all[i]) < 1e-3, "{removes:?}: {}", rms(&x, &all[i]));
        }
        if removes != Removes::Similarity {
            assert!(
                fit.history.windows(2).all(|w| w[1].sum_of_squares_mm2 <= w[0].sum_of_squares_mm2 + 1e-6)
            );
        }
    }
}

#[test]
fn order_and_threads_do_not_show() {
    let (topology, base) = body(40, 60);
    for turn in [0.4, 3.1] {
        let source = shapes(30, &base, 15.0, turn, 3);
        let mut order: Vec<usize> = (0..30).collect();
        order.shuffle(&mut stream(1, "order"));
        let params = AlignParams::default();
        let with = |source: &ShapeArray, threads| {
            let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
            pool.install(|| params.fit(source, &topology, None, &quiet).unwrap())
        };
        let one = with(&source, 1);
        assert_eq!(one, with(&source, 4));
        let other = with(&pick(&source, &order), 2);
        assert!(rms(&one.mean, &other.mean) < 1e-3);
        for (place, &i) in order.iter().enumerate() {
            let p = one.transforms[i].apply(source.shape(i)[5]);
            let q = other.transforms[place].apply(source.shape(i)[5]);
            assert!((0..3).all(|k| (p[k] - q[k]).abs() < 1e-3));
        }
    }
}

#[test]
fn shapes_in_all_directions_start_from_one_of_them() {
    let (topology, base) = body(12, 16);
    let fit = |turn| {
        AlignParams::default().fit(&shapes(25, &base, 15.0, turn, 9), &topology, None, &quiet).unwrap()
    };
    let (still, turned) = (fit(0.05), fit(3.1));
    assert_eq!(still.reference, Reference::Average);
    assert!(matches!(turned.reference, Reference::MedianSize { .. }));
    assert!((still.sum_of_squares_mm2 / turned.sum_of_squares_mm2 - 1.0).abs() < 0.2);
    // the same shapes, once upright and once anyhow
    let upright = shapes(25, &base, 15.0, 0.0, 5);
    let mut anyhow = ShapeArray::new(base.len());
    let mut rng = stream(2, "turns");
    for i in 0..25 {
        let mut shape = upright.shape(i).to_vec();
        rotation(rng.gen_range(-3.0..3.0), rng.gen_range(-1.5..1.5), rng.gen_range(-3.0..3.0))
            .apply_all(&mut shape);
        anyhow.push(&shape).unwrap();
    }
    let [a, b] = [upright, anyhow].map(|s| AlignParams::default().fit(&s, &topology, None, &quiet).unwrap());
    assert!((a.sum_of_squares_mm2 / b.sum_of_squares_mm2 - 1.0).abs() < 1e-6);
}

#[test]
fn standing_shapes_stay_upright_on_the_floor() {
    let (topology, base) = body(12, 16);
    let mut source = ShapeArray::new(base.len());
    let mut rng = stream(3, "standing");
    for i in 0..8 {
        let mut shape = base.clone();
        for p in &mut shape {
            p[2] *= 1.0 + 0.01 * f64::from(i);
        }
        let mut pose = rotation(rng.gen_range(-3.0..3.0), 0.0, 0.0);
        pose.translation = std::array::from_fn(|_| rng.gen_range(-900.0..900.0));
        pose.apply_all(&mut shape);
        source.push(&shape).unwrap();
    }
    let params = AlignParams { removes: Removes::Standing, ..AlignParams::default() };
    let fit = params.fit(&source, &topology, Some(&base), &quiet).unwrap();
    for i in 0..8 {
        let t = &fit.transforms[i];
        assert_eq!((t.rotation[2], t.scale), ([0.0, 0.0, 1.0], 1.0));
        let shape = fit.aligned(&source).read_shape(i).unwrap();
        let low = shape.iter().map(|p| p[2]).fold(f64::INFINITY, f64::min);
        let high = shape.iter().map(|p| p[2]).fold(f64::NEG_INFINITY, f64::max);
        assert!(low.abs() < 1e-9 && (high - 1700.0 * (1.0 + 0.01 * i as f64)).abs() < 1e-9);
        // headings are gone: all face as the reference does
        let c = centroid(&base, &fit.weights);
        assert!((shape[20][0] - (base[20][0] - c[0])).abs() < 1e-6);
    }
}

#[test]
fn similarity_takes_size_away_and_lands_in_the_tangent_space() {
    let (topology, base) = body(12, 16);
    let plain = shapes(12, &base, 10.0, 0.3, 6);
    let mut sized = ShapeArray::new(base.len());
    for i in 0..12 {
        sized
            .push(&plain.shape(i).iter().map(|p| p.map(|c| c * (0.5 + 0.1 * i as f64))).collect::<Vec<_>>())
            .unwrap();
    }
    let params =
        AlignParams { removes: Removes::Similarity, weighting: Weighting::Plain, ..AlignParams::default() };
    let given = |s: &ShapeArray| params.fit(s, &topology, Some(&base), &quiet).unwrap();
    let (a, b) = (given(&plain), given(&sized));
    assert!((a.sum_of_squares_mm2 / b.sum_of_squares_mm2 - 1.0).abs() < 1e-6);
    assert!((centroid_size(&a.mean, &a.weights) / centroid_size(&base, &a.weights) - 1.0).abs() < 1e-9);
    let (mut tangent, mut distance) = (Vec::new(), Vec::new());
    for i in 0..12 {
        let x = b.aligned(&sized).read_shape(i).unwrap();
        let dot: f64 =
            x.iter().zip(&b.mean).map(|(p, m)| (0..3).map(|k| (p[k] - m[k]) * m[k]).sum::<f64>()).sum();
        assert!(dot.abs() / (base.len() as f64) < 1e-1, "{dot}"); // mm2, of sizes of 250,000 mm2
        tangent.push(rms(&x, &b.mean));
        distance.push(
            procrustes_distances(sized.shape(i), &b.mean, &b.weights, Removes::Rigid).unwrap().riemannian,
        );
    }
    // tangent against Procrustes distance, r > 0.999 on bodies (common practice, no source)
    let n = 12.0;
    let (mx, my) = (tangent.iter().sum::<f64>() / n, distance.iter().sum::<f64>() / n);
    let sum = |f: &dyn Fn(f64, f64) -> f64| {
        tangent.iter().zip(&distance).map(|(x, y)| f(x - mx, y - my)).sum::<f64>()
    };
    assert!(sum(&|x, y| x * y) / (sum(&|x, _| x * x) * sum(&|_, y| y * y)).sqrt() > 0.999);
}

#[test]
fn a_region_alone_decides_the_pose() {
    let (topology, base) = body(12, 16);
    let region: Vec<u32> = (0..base.len() as u32).filter(|&v| base[v as usize][2] < 900.0).collect();
    let mut source = ShapeArray::new(base.len());
    for i in 0..5 {
        // only what is outside the region moves
        let shape: Vec<Point> = base
            .iter()
            .map(|p| if p[2] < 900.0 { *p } else { [p[0] + 40.0 * i as f64, p[1], p[2]] })
            .collect();
        source.push(&shape).unwrap();
    }
    let weighting = Weighting::Region { vertices: region.clone() };
    let fit =
        AlignParams { weighting, ..AlignParams::default() }.fit(&source, &topology, None, &quiet).unwrap();
    assert!(fit.rms_mm < 1e-9);
    assert!(fit.weights.iter().zip(&base).all(|(w, p)| (*w > 0.0) == (p[2] < 900.0)));
    let weighting = Weighting::Region { vertices: vec![9999] };
    let refused = AlignParams { weighting, ..AlignParams::default() }.fit(&source, &topology, None, &quiet);
    assert!(matches!(refused, Err(AlignError::Weights { .. })));
}

#[test]
fn one_and_two_shapes_work() {
    let (topology, base) = body(8, 10);
    let source = shapes(2, &base, 10.0, 0.5, 1);
    for removes in [Removes::Rigid, Removes::Similarity, Removes::Standing] {
        let params = AlignParams { removes, ..AlignParams::default() };
        let one = params.fit(&pick(&source, &[0]), &topology, None, &quiet).unwrap();
        assert!(one.rms_mm < 1e-9);
        let two = params.fit(&source, &topology, None, &quiet).unwrap();
        assert!(two.rms_mm > 1.0);
    }
    let none = AlignParams::default().fit(&ShapeArray::new(base.len()), &topology, None, &quiet);
    assert_eq!(none.unwrap_err(), AlignError::NoShapes);
}

#[test]
fn a_shape_without_a_pose_is_named() {
    let (topology, base) = body(8, 10);
    let with = |bad: Vec<Point>, removes| {
        let mut source = shapes(3, &base, 10.0, 0.1, 1);
        source.push(&bad).unwrap();
        AlignParams { removes, ..AlignParams::default() }.fit(&source, &topology, None, &quiet).unwrap_err()
    };
    let mut hole = base.clone();
    hole[17][1] = f64::NAN;
    assert_eq!(with(hole, Removes::Rigid), AlignError::NotFinite { shape: Some(3), vertex: 17 });
    let mut far = base.clone();
    far[2][0] = 1e200;
    for removes in [Removes::Rigid, Removes::Similarity, Removes::Standing] {
        for bad in
            [vec![[5.0, 6.0, 7.0]; base.len()], base.iter().map(|p| [0.0, 0.0, p[2]]).collect(), far.clone()]
        {
            let error = with(bad, removes);
            assert!(matches!(error, AlignError::Degenerate { shape: Some(3), .. }), "{error}");
            assert!(error.to_string().contains("shape 3"));
        }
    }
}

#[test]
fn settings_sizes_and_the_stop_rule_are_checked() {
    let (topology, base) = body(8, 10);
    let source = shapes(5, &base, 40.0, 0.5, 1);
    let fit = |params: AlignParams| params.fit(&source, &topology, None, &quiet);
    let params = AlignParams::default();
    assert!(matches!(
        fit(AlignParams { max_rounds: 1, ..params.clone() }),
        Err(AlignError::NotConverged { rounds: 1, .. })
    ));
    assert!(matches!(fit(AlignParams { max_rounds: 0, ..params.clone() }), Err(AlignError::Setting { .. })));
    assert!(matches!(
        fit(AlignParams { mean_tolerance_mm: f64::NAN, ..params.clone() }),
        Err(AlignError::Setting { .. })
    ));
    assert!(matches!(
        params.fit(&source, &topology, Some(&base[1..]), &quiet),
        Err(AlignError::VertexCount { .. })
    ));
    let other = body(8, 11).0;
    assert!(matches!(params.fit(&source, &other, None, &quiet), Err(AlignError::VertexCount { .. })));
    assert!(
        align_one(
            &base,
            &base[1..],
            &params.fit(&source, &topology, None, &quiet).unwrap().weights,
            Removes::Rigid
        )
        .is_err()
    );
}
