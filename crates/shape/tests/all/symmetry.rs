//! Symmetry and asymmetry that were planted are found, and only they.

#![allow(clippy::unwrap_used)] // helpers of tests are tests

use crate::common::{quiet, rotation};
use formkin_align::{AlignParams, Alignment, Removes, Weighting};
use formkin_geometry::{Point, ShapeArray, Topology};
use formkin_shape::ShapeError;
use formkin_shape::mirror::{WithMirrored, mirrored};
use formkin_shape::symmetry::{Symmetry, SymmetryParams};
use formkin_stats::random::stream;
use rand::Rng;
use rand_distr::StandardNormal;

const RINGS: usize = 9;
const SPOKES: usize = 12;

/// A closed surface that is its own reflection in x = 0, with its mirror pairs.
fn even_body() -> (Topology, Vec<Point>, Vec<u32>) {
    let mut points = vec![[0.0, 0.0, 0.0]];
    let mut mirror = vec![0];
    let id = |r: usize, s: usize| (1 + r * SPOKES + s % SPOKES) as u32;
    for r in 0..RINGS {
        let t = std::f64::consts::PI * (r + 1) as f64 / (RINGS + 1) as f64;
        for s in 0..SPOKES {
            let a = std::f64::consts::TAU * s as f64 / SPOKES as f64;
            let bump = 1.0 + 0.3 * (a.sin() + t).sin() * t.sin();
            points.push([
                250.0 * t.sin() * a.cos() * bump,
                150.0 * t.sin() * a.sin() * bump,
                850.0 * (1.0 - t.cos()),
            ]);
            mirror.push(id(r, SPOKES + SPOKES / 2 - s));
        }
    }
    points.push([0.0, 0.0, 1700.0]);
    let top = (points.len() - 1) as u32;
    mirror.push(top);
    let mut triangles = Vec::new();
    for s in 0..SPOKES {
        triangles.push([0, id(0, s + 1), id(0, s)]);
        triangles.push([top, id(RINGS - 1, s), id(RINGS - 1, s + 1)]);
        for r in 0..RINGS - 1 {
            triangles.push([id(r, s), id(r, s + 1), id(r + 1, s + 1)]);
            triangles.push([id(r, s), id(r + 1, s + 1), id(r + 1, s)]);
        }
    }
    (Topology::new(points.len(), triangles).unwrap(), points, mirror)
}

/// A smooth field, symmetric (1) or asymmetric (-1).
fn field(base: &[Point], mirror: &[u32], sign: f64, rng: &mut impl Rng) -> Vec<Point> {
    let f: [f64; 9] = std::array::from_fn(|_| rng.gen_range(-4.0..4.0));
    let raw: Vec<Point> = base
        .iter()
        .map(|p| {
            let h = p[2] / 1700.0;
            std::array::from_fn(|k| {
                (f[3 * k] * h + f[3 * k + 1]).sin() * (f[3 * k + 2] * p[0] / 250.0 + h).cos()
            })
        })
        .collect();
    raw.iter()
        .zip(mirrored(&raw, mirror))
        .map(|(a, b)| std::array::from_fn(|k| (a[k] + sign * b[k]) / 2.0))
        .collect()
}

fn product(weights: &[f64], a: &[Point], b: &[Point]) -> f64 {
    a.iter().zip(b).zip(weights).map(|((p, q), w)| w * (0..3).map(|k| p[k] * q[k]).sum::<f64>()).sum()
}

/// An asymmetric field without what a move or a turn would take away, of length 1.
fn pure(base: &[Point], mut field: Vec<Point>, weights: &[f64]) -> Vec<Point> {
    let c = formkin_geometry::areas::centroid(base, weights);
    let moves: [Vec<Point>; 3] = [
        base.iter().map(|_| [1.0, 0.0, 0.0]).collect(),
        base.iter().map(|p| [p[2] - c[2], 0.0, -(p[0] - c[0])]).collect(),
        base.iter().map(|p| [-(p[1] - c[1]), p[0] - c[0], 0.0]).collect(),
    ];
    let mut kept: Vec<Vec<Point>> = Vec::new();
    for m in moves.into_iter().chain([std::mem::take(&mut field)]) {
        let mut m = m;
        for other in &kept {
            let along = product(weights, &m, other);
            for (p, q) in m.iter_mut().zip(other) {
                *p = std::array::from_fn(|k| p[k] - along * q[k]);
            }
        }
        let length = product(weights, &m, &m).sqrt();
        m.iter_mut().flatten().for_each(|x| *x /= length);
        kept.push(m);
    }
    kept.pop().unwrap()
}

struct Planted {
    topology: Topology,
    mirror: Vec<u32>,
    source: ShapeArray,
    people: Vec<usize>,
    lean: Vec<Point>,
    alignment: Alignment,
}

/// `lean` mm of mean asymmetry at one height, `own` mm of a person's own, `error` mm of it at every capture.
fn planted(n: usize, captures: usize, lean: f64, own: f64, error: f64, removes: Removes) -> Planted {
    let (topology, base, mirror) = even_body();
    let plain = vec![1.0 / base.len() as f64; base.len()];
    let mut rng = stream(5, "planted asymmetry");
    // one side stands out around the middle height
    let bump: Vec<Point> = base
        .iter()
        .map(|p| {
            let near = (-((p[2] - 850.0) / 150.0).powi(2)).exp();
            [near, 0.3 * near * p[0].signum() * p[1] / 150.0, 0.0]
        })
        .collect();
    let back = mirrored(&bump, &mirror);
    let bump: Vec<Point> =
        bump.iter().zip(&back).map(|(a, b)| std::array::from_fn(|k| (a[k] - b[k]) / 2.0)).collect();
    let direction = pure(&base, bump, &plain);
    let evens: Vec<Vec<Point>> = (0..4).map(|_| field(&base, &mirror, 1.0, &mut rng)).collect();
    let odds: Vec<Vec<Point>> =
        (0..40).map(|_| pure(&base, field(&base, &mirror, -1.0, &mut rng), &plain)).collect();
    let mut source = ShapeArray::new(base.len());
    let mut people = Vec::new();
    let normal = |rng: &mut rand_chacha::ChaCha8Rng| rng.sample::<f64, _>(StandardNormal);
    for person in 0..n {
        let (e, o): (Vec<f64>, Vec<f64>) =
            ((0..4).map(|_| 15.0 * normal(&mut rng)).collect(), (0..6).map(|_| normal(&mut rng)).collect());
        for _ in 0..captures {
            let noise: Vec<f64> = (0..40).map(|_| normal(&mut rng)).collect();
            let mut shape: Vec<Point> = (0..base.len())
                .map(|v| {
                    std::array::from_fn(|k| {
                        let mut x = base[v][k] + lean * direction[v][k];
                        x += (0..4).map(|j| e[j] * evens[j][v][k]).sum::<f64>();
                        x += (0..6).map(|j| own / 6f64.sqrt() * o[j] * odds[j][v][k]).sum::<f64>();
                        x + (0..40).map(|j| error / 40f64.sqrt() * noise[j] * odds[j][v][k]).sum::<f64>()
                    })
                })
                .collect();
            let mut pose = if removes == Removes::Standing {
                rotation(0.4 * normal(&mut rng), 0.0, 0.0)
            } else {
                rotation(0.4 * normal(&mut rng), 0.4 * normal(&mut rng), 0.4 * normal(&mut rng))
            };
            pose.translation = [100.0 * normal(&mut rng), 100.0 * normal(&mut rng), 0.0];
            pose.apply_all(&mut shape);
            source.push(&shape).unwrap();
            people.push(person);
        }
    }
    let params = AlignParams { removes, weighting: Weighting::Plain, ..AlignParams::default() };
    let alignment = params.fit(&source, &topology, Some(&base), &quiet).unwrap();
    Planted { topology, mirror, source, people, lean: direction, alignment }
}

fn find(planted: &Planted, params: &SymmetryParams) -> Symmetry {
    let Planted { topology, mirror, source, people, alignment, .. } = planted;
    params.find(source, topology, alignment, mirror, people, &quiet).unwrap()
}

const QUICK: SymmetryParams =
    SymmetryParams { permutations: 999, draws: 200, modes: 10, level: 0.05, seed: 3 };

#[test]
fn a_planted_lean_and_planted_differences_are_found_in_mm() {
    for removes in [Removes::Rigid, Removes::Standing] {
        let planted = planted(60, 2, 3.0, 2.0, 1.0, removes);
        let found = find(&planted, &QUICK);
        assert_eq!((found.people, found.items, found.repeated), (60, 120, 60));
        assert_eq!((found.pairs, found.middle), (RINGS * (SPOKES / 2 - 1), 2 * RINGS + 2));
        let d = &found.directional;
        assert!(d.p <= 0.001, "{d:?}");
        assert!(d.interval_95_mm.0 < 3.0 && 3.0 < d.interval_95_mm.1, "{d:?}");
        assert!((d.unbiased_mm - 3.0).abs() < 0.6, "{d:?}");
        // the lean has the planted direction
        let unit = product(&found.weights, &found.lean, &planted.lean)
            / product(&found.weights, &found.lean, &found.lean).sqrt()
            / product(&found.weights, &planted.lean, &planted.lean).sqrt();
        assert!(unit > 0.93, "{removes:?}: {unit}");
        let f = &found.fluctuating;
        assert!(f.error_removed && f.p.unwrap() <= 0.001, "{f:?}");
        assert!(f.interval_95_mm.0 < 2.0 && 2.0 < f.interval_95_mm.1, "{f:?}");
        assert!((f.error_sd_mm.unwrap() - 1.0).abs() < 0.15, "{f:?}");
        // 4 / (4 + 1 / 2)
        assert!((f.reliability.unwrap() - 8.0 / 9.0).abs() < 0.06, "{f:?}");
    }
}

#[test]
fn the_lean_is_shown_where_it_is_and_not_elsewhere() {
    let planted = planted(60, 1, 3.0, 1.0, 0.0, Removes::Rigid);
    let found = find(&planted, &QUICK);
    let strongest = (0..found.mean.len())
        .max_by(|a, b| found.place.lean_mm[*a].abs().total_cmp(&found.place.lean_mm[*b].abs()))
        .unwrap();
    let height = found.mean[strongest][2] - found.mean[0][2];
    assert!((height - 850.0).abs() < 200.0, "at {height}");
    assert!(found.place.q[strongest] < 0.001);
    for (v, &m) in planted.mirror.iter().enumerate() {
        let other = m as usize;
        assert!((found.place.lean_mm[v] + found.place.lean_mm[other]).abs() < 1e-6, "sides are opposite");
        assert_eq!(found.place.q[v], found.place.q[other]);
        if other == v {
            assert_eq!(found.place.q[v], 1.0);
        }
        let reflected = [-found.mean[other][0], found.mean[other][1], found.mean[other][2]];
        assert!((0..3).all(|k| (reflected[k] - found.mean[v][k]).abs() < 1e-9));
    }
    assert!(!found.fluctuating.error_removed && found.fluctuating.why_not.is_some());
    assert!(found.table.iter().all(|l| l.source != "error"));
}

#[test]
fn one_fit_of_bodies_and_mirrored_copies_gives_the_same_sums_of_squares() {
    for removes in [Removes::Rigid, Removes::Similarity, Removes::Standing] {
        let planted = planted(12, 2, 2.0, 1.5, 0.5, removes);
        let both = WithMirrored::new(&planted.source, &planted.mirror).unwrap();
        let joint = planted
            .alignment
            .params
            .fit(&both, &planted.topology, Some(&planted.alignment.mean), &quiet)
            .unwrap();
        let found = find(&planted, &QUICK);
        let sum: f64 = found.table.iter().map(|l| l.ss_mm2).sum();
        let relative = (sum / joint.sum_of_squares_mm2 - 1.0).abs();
        assert!(relative < 2e-4, "{removes:?}: {sum} and {}", joint.sum_of_squares_mm2);
    }
}

#[test]
fn parts_are_orthogonal_and_variances_add_up() {
    let planted = planted(20, 1, 2.0, 1.5, 0.0, Removes::Rigid);
    let found = find(&planted, &QUICK);
    let n = 20.0;
    let (symmetric, own) = (&found.symmetric, &found.asymmetric);
    assert!((symmetric.share + own.share - 1.0).abs() < 1e-12);
    assert!(
        (found.table[0].ss_mm2 - 2.0 * (n - 1.0) * symmetric.total_variance_mm2).abs()
            < 1e-6 * found.table[0].ss_mm2
    );
    assert!(
        (found.table[2].ss_mm2 - 2.0 * (n - 1.0) * own.total_variance_mm2).abs()
            < 1e-6 * found.table[2].ss_mm2
    );
    assert!(
        (found.table[1].ss_mm2 - 2.0 * n * found.directional.rms_mm.powi(2)).abs()
            < 1e-6 * found.table[1].ss_mm2
    );
    // 54 pairs, 20 on the plane; rigid: 3 * 54 + 2 * 20 - 3 and 3 * 54 + 20 - 3
    let (k, l) = (found.pairs, found.middle);
    assert_eq!(found.table[1].df, 3 * k + l - 3);
    assert_eq!(found.table[0].df, 19 * (3 * k + 2 * l - 3));
    assert_eq!(found.table[2].df, 19 * (3 * k + l - 3));
    for (a, mode) in symmetric.modes.iter().enumerate() {
        for other in &own.modes {
            assert!(product(&found.weights, mode, other).abs() < 1e-9);
        }
        assert!((product(&found.weights, mode, mode) - 1.0).abs() < 1e-6, "mode {a}");
    }
    let scores = found.scores.iter().map(|s| s.own_mm.powi(2)).sum::<f64>() / (n - 1.0);
    assert!((scores / own.total_variance_mm2 - 1.0).abs() < 1e-9);
    for (k, v) in own.variances_mm2.iter().take(5).enumerate() {
        let found = own.coefficients_mm.iter().map(|c| c[k] * c[k]).sum::<f64>() / (n - 1.0);
        assert!((found / v - 1.0).abs() < 1e-9);
    }
}

#[test]
fn threads_change_nothing_and_wrong_pairs_are_told() {
    let mut planted = planted(10, 2, 1.0, 1.0, 0.5, Removes::Rigid);
    let whole = find(&planted, &QUICK);
    let one =
        rayon::ThreadPoolBuilder::new().num_threads(1).build().unwrap().install(|| find(&planted, &QUICK));
    assert_eq!(whole, one);
    let (source, people) = (&planted.source, &planted.people);
    let same: Vec<u32> = (0..planted.mirror.len() as u32).collect();
    let e = QUICK.find(source, &planted.topology, &planted.alignment, &same, people, &quiet).unwrap_err();
    assert!(matches!(e, ShapeError::NotMirrored { .. } | ShapeError::Count { .. }), "{e}");
    let e = QUICK.find(
        source,
        &planted.topology,
        &planted.alignment,
        &planted.mirror,
        &vec![0; people.len()],
        &quiet,
    );
    assert!(matches!(e.unwrap_err(), ShapeError::SmallGroup { .. }));
    planted.mirror[1] = 2;
    let e = QUICK.find(source, &planted.topology, &planted.alignment, &planted.mirror, people, &quiet);
    assert!(matches!(e.unwrap_err(), ShapeError::MirrorPair { .. }));
}
