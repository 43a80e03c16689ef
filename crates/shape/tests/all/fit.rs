//! What a fitted space must hold to.

#![allow(clippy::unwrap_used)] // helpers of tests are tests

use crate::common::{body, pick, quiet, rms, shapes};
use formkin_align::{AlignParams, Removes, Weighting};
use formkin_geometry::{Point, ShapeArray, ShapeSource, Topology};
use formkin_shape::{FittedSpace, ShapeError, Space, SpaceParams, cross_validate};
use formkin_stats::random::stream;
use rand::Rng;
use rand::seq::SliceRandom;
use rand_distr::StandardNormal;

fn params(removes: Removes, weighting: Weighting) -> SpaceParams {
    let align = AlignParams { removes, weighting, ..AlignParams::default() };
    SpaceParams { align, cross_validate: false, ..SpaceParams::default() }
}

fn fit(params: &SpaceParams, source: &ShapeArray, topology: &Topology) -> FittedSpace {
    let people: Vec<usize> = (0..source.shapes()).collect();
    params.fit(source, topology, &people, None, &quiet).unwrap()
}

fn product(weights: &[f64], a: &[Point], b: &[Point]) -> f64 {
    let terms = a.iter().zip(b).zip(weights);
    terms.map(|((p, q), w)| w * (p[0] * q[0] + p[1] * q[1] + p[2] * q[2])).sum()
}

#[test]
fn modes_are_eigenvectors_of_the_plain_covariance() {
    let (topology, base) = body(5, 6);
    let source = shapes(14, &base, 20.0, 0.3, 1);
    for removes in [Removes::Rigid, Removes::Similarity, Removes::Standing] {
        let FittedSpace { space, alignment, coefficients } =
            fit(&params(removes, Weighting::Area), &source, &topology);
        let aligned: Vec<Vec<Point>> =
            (0..14).map(|i| alignment.aligned(&source).read_shape(i).unwrap()).collect();
        let size = 3 * base.len();
        let deviation = |i: usize, d: usize| aligned[i][d / 3][d % 3] - alignment.mean[d / 3][d % 3];
        // covariance S of coordinates, then S W mode = variance mode
        for (k, mode) in space.modes.iter().enumerate() {
            let weighted: Vec<f64> = (0..size).map(|d| space.weights[d / 3] * mode[d / 3][d % 3]).collect();
            for d in 0..size {
                let mut sum = 0.0;
                for i in 0..14 {
                    sum += deviation(i, d) * (0..size).map(|e| deviation(i, e) * weighted[e]).sum::<f64>();
                }
                let want = space.variances_mm2[k] * mode[d / 3][d % 3];
                assert!((sum / 13.0 - want).abs() < 2e-6 * space.variances_mm2[0], "{removes:?} mode {k}");
            }
            for (l, other) in space.modes.iter().enumerate() {
                let found = product(&space.weights, mode, other);
                assert!((found - f64::from(u8::from(k == l))).abs() < 1e-5);
            }
            let largest =
                mode.as_flattened().iter().copied().max_by(|a, b| a.abs().total_cmp(&b.abs())).unwrap();
            assert!(largest > 0.0);
            let variance = coefficients.iter().map(|c| c[k] * c[k]).sum::<f64>() / 13.0;
            assert!((variance / space.variances_mm2[k] - 1.0).abs() < 1e-9);
            assert!(coefficients.iter().map(|c| c[k]).sum::<f64>().abs() < 1e-6);
        }
        let total = alignment.sum_of_squares_mm2 / 13.0;
        assert!((space.total_variance_mm2 / total - 1.0).abs() < 1e-9);
        let explained = space.explained();
        assert!((explained.last().unwrap() - 1.0).abs() < 1e-12 && explained[0] > 0.0);
        // a shape of the fit comes back, in the frame of the space
        for i in 0..14 {
            let found = space.project(source.shape(i)).unwrap();
            assert!(found.residual_rms_mm < 1e-2, "{removes:?}: {}", found.residual_rms_mm);
            for (a, b) in found.coefficients.iter().zip(&coefficients[i]) {
                assert!((a - b).abs() < 1e-2, "{removes:?}: {a} and {b}");
            }
            assert!(rms(&space.reconstruct(&found.coefficients), &aligned[i]) < 1e-2);
        }
    }
}

/// A base without its infinitesimal translations and rotations, and modes orthonormal in the weights.
fn known_modes(base: &[Point], weights: &[f64], count: usize) -> Vec<Vec<Point>> {
    let mut rng = stream(8, "known modes");
    let c = formkin_geometry::areas::centroid(base, weights);
    let mut kept: Vec<Vec<Point>> = Vec::new();
    for m in 0..6 + count {
        let mut mode: Vec<Point> = match m {
            0..3 => base.iter().map(|_| std::array::from_fn(|k| f64::from(u8::from(k == m)))).collect(),
            3 => base.iter().map(|p| [0.0, -(p[2] - c[2]), p[1] - c[1]]).collect(),
            4 => base.iter().map(|p| [p[2] - c[2], 0.0, -(p[0] - c[0])]).collect(),
            5 => base.iter().map(|p| [-(p[1] - c[1]), p[0] - c[0], 0.0]).collect(),
            _ => {
                let f: [f64; 9] = std::array::from_fn(|_| rng.gen_range(-3.0..3.0));
                base.iter()
                    .map(|p| {
                        let h = p[2] / 1700.0;
                        std::array::from_fn(|k| {
                            (f[3 * k] * h + f[3 * k + 1]).sin() * (f[3 * k + 2] * p[0] / 250.0).cos()
                        })
                    })
                    .collect()
            }
        };
        for _ in 0..2 {
            for other in &kept {
                let along = product(weights, &mode, other);
                for (p, q) in mode.iter_mut().zip(other) {
                    *p = std::array::from_fn(|k| p[k] - along * q[k]);
                }
            }
            let length = product(weights, &mode, &mode).sqrt();
            for p in &mut mode {
                *p = p.map(|x| x / length);
            }
        }
        kept.push(mode);
    }
    kept.split_off(6)
}

#[test]
fn a_known_gaussian_model_is_recovered() {
    let (topology, base) = body(12, 14);
    let areas = formkin_geometry::areas::vertex_areas(&topology, &base);
    let total: f64 = areas.iter().sum();
    let weights: Vec<f64> = areas.iter().map(|a| a / total).collect();
    let sds = [12.0, 6.0, 3.0];
    let modes = known_modes(&base, &weights, sds.len());
    let n = 1500;
    let mut rng = stream(5, "known model");
    let mut source = ShapeArray::new(base.len());
    for _ in 0..n {
        let mut shape = base.clone();
        for (mode, sd) in modes.iter().zip(sds) {
            let c = sd * rng.sample::<f64, _>(StandardNormal);
            for (p, u) in shape.iter_mut().zip(mode) {
                *p = std::array::from_fn(|k| p[k] + c * u[k]);
            }
        }
        let mut pose = crate::common::rotation(
            rng.gen_range(-0.5..0.5),
            rng.gen_range(-0.5..0.5),
            rng.gen_range(-0.5..0.5),
        );
        pose.translation = [rng.gen_range(-500.0..500.0), 3.0, 4.0];
        pose.apply_all(&mut shape);
        source.push(&shape).unwrap();
    }
    let space = fit(&params(Removes::Rigid, Weighting::Area), &source, &topology).space;
    // into the frame of the known modes
    let back = formkin_align::align_one(&space.mean, &base, &weights, Removes::Rigid).unwrap();
    let turn = formkin_align::Transform { translation: [0.0; 3], ..back };
    for (k, (mode, sd)) in modes.iter().zip(sds).enumerate() {
        // SD of a sample variance: variance sqrt(2 / (n - 1)); four of them
        let tolerance = 4.0 * (2.0 / (n - 1) as f64).sqrt();
        assert!(
            (space.variances_mm2[k] / (sd * sd) - 1.0).abs() < tolerance,
            "{:?}",
            &space.variances_mm2[..4]
        );
        let turned: Vec<Point> = space.modes[k].iter().map(|p| turn.apply(*p)).collect();
        let cos = product(&weights, &turned, mode);
        assert!(cos.abs() > 0.99, "mode {k}: {cos}");
    }
    // what is left is of second order in the deformation
    assert!(space.variances_mm2[3] < 0.01 * space.variances_mm2[2], "{:?}", &space.variances_mm2[..5]);
}

#[test]
fn a_turn_of_everything_order_and_threads_do_not_show() {
    let (topology, base) = body(30, 40);
    let source = shapes(20, &base, 15.0, 0.3, 2);
    let params = SpaceParams { cross_validate: true, ..params(Removes::Rigid, Weighting::Area) };
    let people: Vec<usize> = (0..20).collect();
    let with = |threads| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
        pool.install(|| params.fit(&source, &topology, &people, None, &quiet).unwrap())
    };
    let one = with(1);
    assert_eq!(one, with(4));
    assert_eq!(one.space.to_safetensors(), with(2).space.to_safetensors());

    let mut order = people.clone();
    order.shuffle(&mut stream(1, "order"));
    let other = params.fit(&pick(&source, &order), &topology, &order, None, &quiet).unwrap();
    assert!(rms(&one.space.mean, &other.space.mean) < 1e-3);
    for (place, &i) in order.iter().enumerate() {
        for k in 0..6 {
            assert!((one.coefficients[i][k] - other.coefficients[place][k]).abs() < 1e-2);
        }
    }
    // people keep their folds, so the cross-validation is the same too
    let errors = |f: &FittedSpace| f.space.cross_validation.as_ref().unwrap().errors.clone();
    for (a, b) in errors(&one).iter().zip(errors(&other)) {
        assert!((a.rms_mm - b.rms_mm).abs() < 1e-3 && (a.se_mm - b.se_mm).abs() < 1e-3);
    }

    let mut turned = ShapeArray::new(base.len());
    for i in 0..20 {
        let mut shape = source.shape(i).to_vec();
        crate::common::rotation(0.4 * i as f64, 0.1 * i as f64, 1.0).apply_all(&mut shape);
        turned.push(&shape).unwrap();
    }
    let turned = params.fit(&turned, &topology, &people, None, &quiet).unwrap();
    for (a, b) in one.space.variances_mm2.iter().zip(&turned.space.variances_mm2) {
        assert!((a - b).abs() < 1e-6 * one.space.variances_mm2[0]);
    }
}

/// Splits every triangle below a height into four, at the middles of its sides (its neighbours above keep theirs).
fn subdivide(topology: &Topology, shapes: &ShapeArray, below: f64) -> (Topology, ShapeArray) {
    let first = shapes.shape(0);
    let mut middles = std::collections::BTreeMap::new();
    let mut triangles = Vec::new();
    for &t in topology.triangles() {
        if t.iter().any(|&v| first[v as usize][2] >= below) {
            triangles.push(t);
            continue;
        }
        let [a, b, c] = t;
        let mut middle = |p: u32, q: u32| {
            let next = (shapes.vertices() + middles.len()) as u32;
            *middles.entry([p.min(q), p.max(q)]).or_insert(next)
        };
        let (x, y, z) = (middle(a, b), middle(b, c), middle(c, a));
        triangles.extend([[a, x, z], [x, b, y], [z, y, c], [x, y, z]]);
    }
    let mut ends: Vec<_> = middles.into_iter().collect();
    ends.sort_by_key(|(_, id)| *id);
    let mut out = ShapeArray::new(shapes.vertices() + ends.len());
    for i in 0..shapes.shapes() {
        let mut shape = shapes.shape(i).to_vec();
        for ([p, q], _) in &ends {
            let (p, q) = (shape[*p as usize], shape[*q as usize]);
            shape.push(std::array::from_fn(|k| (p[k] + q[k]) / 2.0));
        }
        out.push(&shape).unwrap();
    }
    (Topology::new(out.vertices(), triangles).unwrap(), out)
}

#[test]
fn a_denser_region_does_not_change_an_area_weighted_space() {
    let (topology, base) = body(40, 40);
    let mut rng = stream(4, "smooth");
    let mut source = ShapeArray::new(base.len());
    for _ in 0..12 {
        let f: [f64; 4] = std::array::from_fn(|_| rng.sample::<f64, _>(StandardNormal));
        let shape: Vec<Point> = base
            .iter()
            .map(|p| {
                let h = p[2] / 1700.0;
                let girth = 1.0 + 0.08 * f[0] + 0.1 * f[1] * (3.0 * h).sin();
                [p[0] * girth + 20.0 * f[3] * (5.0 * h).sin(), p[1] * girth, p[2] * (1.0 + 0.04 * f[2])]
            })
            .collect();
        source.push(&shape).unwrap();
    }
    let (finer, dense) = subdivide(&topology, &source, 500.0);
    assert!(dense.vertices() as f64 > 1.4 * source.vertices() as f64);
    let change = |weighting: Weighting| {
        let params = params(Removes::Rigid, weighting);
        let a = fit(&params, &source, &topology).space.variances_mm2;
        let b = fit(&params, &dense, &finer).space.variances_mm2;
        (0..3).map(|k| (b[k] / a[k] - 1.0).abs()).fold(0.0, f64::max)
    };
    let area = change(Weighting::Area);
    assert!(area < 0.01, "{area}");
    let plain = change(Weighting::Plain);
    assert!(plain > 0.05, "{plain}");
}

#[test]
fn few_and_equal_shapes_work_or_say_why_not() {
    let (topology, base) = body(8, 10);
    let source = shapes(2, &base, 10.0, 0.2, 1);
    let params = SpaceParams::default();
    let two = fit(&params, &source, &topology).space;
    assert_eq!((two.modes.len(), two.variances_mm2.len(), two.people), (1, 1, 2));
    assert!(two.cross_validation.is_none());
    assert!(two.cross_validation_refused.as_ref().unwrap().contains("at least 3"));
    let one = params.fit(&pick(&source, &[0]), &topology, &[0], None, &quiet);
    assert_eq!(one.unwrap_err(), ShapeError::TooFewShapes { shapes: 1 });
    let equal = fit(&params, &shapes(4, &base, 0.0, 0.5, 1), &topology);
    assert!(equal.space.modes.is_empty() && equal.space.total_variance_mm2 == 0.0);
    assert_eq!(equal.space.cross_validation.unwrap().chosen_modes, Some(0));
    assert!(equal.coefficients.iter().all(Vec::is_empty));
    let again = Space::from_safetensors(&two.to_safetensors());
    assert!(again.is_ok());
    assert!(matches!(params.fit(&source, &topology, &[0], None, &quiet), Err(ShapeError::Count { .. })));
    let refused = SpaceParams { target_mm: 0.0, ..params }.fit(&source, &topology, &[0, 1], None, &quiet);
    assert!(matches!(refused, Err(ShapeError::Setting { .. })));
}

#[test]
fn fewer_modes_keep_all_variances() {
    let (topology, base) = body(8, 10);
    let source = shapes(12, &base, 10.0, 0.2, 1);
    let all = fit(&params(Removes::Rigid, Weighting::Area), &source, &topology);
    let few = fit(
        &SpaceParams { max_modes: Some(3), ..params(Removes::Rigid, Weighting::Area) },
        &source,
        &topology,
    );
    assert_eq!(few.space.modes, all.space.modes[..3]);
    assert_eq!(few.space.variances_mm2, all.space.variances_mm2);
    assert_eq!(all.space.modes.len(), 11);
    let left: f64 = few.space.variances_mm2[3..].iter().sum();
    let residuals: f64 =
        (0..12).map(|i| few.space.project(source.shape(i)).unwrap().residual_rms_mm.powi(2)).sum::<f64>()
            / 11.0;
    assert!((residuals / left - 1.0).abs() < 1e-3);
}

#[test]
fn the_cross_validation_is_that_of_refitting_every_fold() {
    let (topology, base) = body(10, 12);
    let source = shapes(26, &base, 20.0, 0.3, 3);
    let people: Vec<usize> = (0..26).map(|i| i / 2).collect();
    for removes in [Removes::Rigid, Removes::Similarity, Removes::Standing] {
        let mut params = params(removes, Weighting::Plain);
        params.align.relative_tolerance = 1e-12;
        params.folds = 4;
        let weights = vec![1.0 / base.len() as f64; base.len()];
        let quick = cross_validate(&source, &weights, &people, &params, &quiet).unwrap();
        assert_eq!((quick.people, quick.items, quick.folds), (13, 26, 4));
        let folds = formkin_stats::folds::grouped_folds(&people, 4, params.seed).unwrap();
        let most = quick.errors.len() - 1;
        let mut squares = vec![vec![0.0; 13]; most + 1];
        for fold in folds {
            let train = pick(&source, &fold.train);
            let space = fit(&params, &train, &topology).space;
            for &i in &fold.test {
                for (k, squares) in squares.iter_mut().enumerate() {
                    let some = Space { modes: space.modes[..k].to_vec(), ..space.clone() };
                    squares[people[i]] +=
                        some.project(source.shape(i)).unwrap().residual_rms_mm.powi(2) / 2.0;
                }
            }
        }
        for (error, squares) in quick.errors.iter().zip(squares) {
            let mean = squares.iter().sum::<f64>() / 13.0;
            assert!((error.rms_mm - mean.sqrt()).abs() < 1e-3, "{removes:?}: {error:?} and {}", mean.sqrt());
            let sd = (squares.iter().map(|s| (s - mean).powi(2)).sum::<f64>() / 12.0).sqrt();
            assert!((error.se_mm - sd / 13f64.sqrt() / (2.0 * mean.sqrt())).abs() < 1e-3);
        }
        assert!(quick.errors.windows(2).all(|w| w[1].rms_mm <= w[0].rms_mm));
    }
}

#[test]
fn six_factors_and_noise_are_told_apart() {
    let (topology, base) = body(20, 24);
    let source = shapes(60, &base, 20.0, 0.3, 3);
    let people: Vec<usize> = (0..60).collect();
    let params = SpaceParams { target_mm: 0.5, ..SpaceParams::default() };
    let found =
        params.fit(&source, &topology, &people, None, &quiet).unwrap().space.cross_validation.unwrap();
    // six factors of change, and the second order of turning them
    assert!((6..=9).contains(&found.chosen_modes.unwrap()), "{found:?}");
    // noise of 2 mm an axis cannot be foretold: sqrt(3) x 2
    let floor = found.errors.last().unwrap().rms_mm;
    assert!((3.0..3.8).contains(&floor), "{floor}");
    assert!(found.rule.contains("0.5 mm"));
    assert!(found.errors[0].worst_mm > found.errors[0].rms_mm);
}

#[test]
fn frames_of_few_people_are_not_people() {
    let (topology, base) = body(8, 10);
    let source = shapes(20, &base, 10.0, 0.2, 1);
    let people: Vec<usize> = (0..20).map(|i| 7 * (i % 2)).collect();
    let space = SpaceParams::default().fit(&source, &topology, &people, None, &quiet).unwrap().space;
    assert_eq!((space.people, space.items), (2, 20));
    assert!(space.cross_validation.is_none() && space.cross_validation_refused.is_some());
    let refused = cross_validate(&source, &space.weights, &people, &SpaceParams::default(), &quiet);
    assert_eq!(refused.unwrap_err(), ShapeError::TooFewPeople { people: 2 });
    let five: Vec<usize> = (0..20).map(|i| i % 5).collect();
    let space = SpaceParams::default().fit(&source, &topology, &five, None, &quiet).unwrap().space;
    let found = space.cross_validation.unwrap();
    assert_eq!((found.people, found.folds, found.items), (5, 5, 20));
}

#[test]
fn progress_runs_to_the_end_and_never_back() {
    let (topology, base) = body(8, 10);
    let source = shapes(6, &base, 10.0, 0.2, 1);
    let heard = std::sync::Mutex::new(Vec::new());
    let people: Vec<usize> = (0..6).collect();
    SpaceParams::default()
        .fit(&source, &topology, &people, None, &|done, of| heard.lock().unwrap().push((done, of)))
        .unwrap();
    let heard = heard.into_inner().unwrap();
    assert!(heard.windows(2).all(|w| w[0].0 < w[1].0));
    assert_eq!(heard.last(), Some(&(1000, 1000)));
}
