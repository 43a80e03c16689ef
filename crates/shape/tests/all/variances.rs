//! Intervals of the variances of modes over many cohorts of known models.

#![allow(clippy::unwrap_used, clippy::print_stdout)] // helpers of tests are tests

use crate::common::{body, quiet};
use formkin_align::{AlignParams, Weighting};
use formkin_geometry::{Point, ShapeArray, vector::cross};
use formkin_shape::criteria::{ModeVariance, mode_variances};
use formkin_shape::{QualityParams, SpaceParams};
use formkin_stats::random::stream;
use formkin_stats::symmetric::symmetric_eigen;
use ndarray::Array2;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal, StudentT};
use rayon::prelude::*;

/// Variances of the planted modes, in mm2: apart by much more than their sampling errors.
const PLANTED: [f64; 3] = [100.0, 40.0, 15.0];

fn normal(rng: &mut ChaCha8Rng) -> f64 {
    StandardNormal.sample(rng)
}

/// Shares of smooth noise: each direction has e^(-1/30) of the one before.
fn smooth(p: usize) -> Vec<f64> {
    shares((0..p).map(|j| (-(j as f64) / 30.0).exp()).collect())
}

fn shares(values: Vec<f64>) -> Vec<f64> {
    let sum: f64 = values.iter().sum();
    values.into_iter().map(|v| v / sum).collect()
}

/// Coefficients and variances of rows that are centred here.
fn components(mut x: Array2<f64>) -> (Array2<f64>, Vec<f64>) {
    let n = x.nrows();
    for mut column in x.columns_mut() {
        let mean = column.sum() / n as f64;
        column.mapv_inplace(|v| v - mean);
    }
    let eigen = symmetric_eigen(&x.dot(&x.t())).unwrap();
    let rank = (n - 1).min(x.ncols());
    let coefficients =
        Array2::from_shape_fn((n, rank.min(60)), |(i, k)| eigen.vectors[[i, k]] * eigen.values[k].sqrt());
    (coefficients, eigen.values[..rank].iter().map(|v| v / (n - 1) as f64).collect())
}

struct Cohorts {
    people: usize,
    scans: usize,
    coordinates: usize,
    /// Shares of the variance of the noise.
    noise: Vec<f64>,
    noise_mm2: f64,
    /// Share of all variance that is within a person.
    within: f64,
    /// Freedom of Student's t of the people's coefficients; normal where none.
    tails: Option<f64>,
}

impl Cohorts {
    fn draw(&self, which: u64) -> Vec<ModeVariance> {
        let mut rng = stream(which, "cohort");
        let spectrum: Vec<f64> =
            PLANTED.into_iter().chain(self.noise.iter().map(|s| s * self.noise_mm2)).collect();
        let mut x = Array2::zeros((self.people * self.scans, self.coordinates));
        for p in 0..self.people {
            let own: Vec<f64> = (0..self.coordinates)
                .map(|k| match self.tails {
                    Some(freedom) if k < 3 => {
                        StudentT::new(freedom).unwrap().sample(&mut rng) / (freedom / (freedom - 2.0)).sqrt()
                    }
                    _ => normal(&mut rng),
                })
                .collect();
            for s in 0..self.scans {
                for k in 0..self.coordinates {
                    let z = if self.scans == 1 {
                        own[k]
                    } else {
                        (1.0 - self.within).sqrt() * own[k] + self.within.sqrt() * normal(&mut rng)
                    };
                    x[[p * self.scans + s, k]] = z * spectrum[k].sqrt();
                }
            }
        }
        let who: Vec<usize> = (0..self.people * self.scans).map(|i| i / self.scans).collect();
        let (coefficients, variances) = components(x);
        mode_variances(&coefficients, &variances, &who, 3, which).unwrap()
    }
}

/// Of many cohorts: how often a mode has an interval, how often that holds the truth, and the mean over cohorts of the sample variance and of the corrected one over the truth.
fn told(name: &str, all: &[Vec<ModeVariance>]) -> Vec<[f64; 4]> {
    (0..3)
        .map(|k| {
            let apart: Vec<&ModeVariance> =
                all.iter().map(|c| &c[k]).filter(|v| v.interval_95_mm2.is_some()).collect();
            let n = apart.len() as f64;
            let held = apart.iter().filter(|v| {
                v.interval_95_mm2.is_some_and(|(low, high)| low <= PLANTED[k] && PLANTED[k] <= high)
            });
            let mean =
                |of: &dyn Fn(&ModeVariance) -> f64| apart.iter().map(|v| of(v) / PLANTED[k]).sum::<f64>() / n;
            let line = [
                n / all.len() as f64,
                held.count() as f64 / n,
                mean(&|v| v.sample_mm2),
                mean(&|v| v.corrected_mm2.unwrap()),
            ];
            println!("{name}, mode {}: {line:.3?}", k + 1);
            line
        })
        .collect()
}

/// 95 % intervals hold the variance of the model in 93 to 97 % of cohorts: noise that is smooth and noise that is white, people scanned again, tails that are not normal.
#[test]
fn intervals_of_variances_cover_95_percent() {
    const RUNS: u64 = 700;
    let plain = |people: usize, coordinates: usize, noise: Vec<f64>, noise_mm2: f64| Cohorts {
        people,
        scans: 1,
        coordinates: coordinates + 3,
        noise,
        noise_mm2,
        within: 0.0,
        tails: None,
    };
    let white = shares(vec![1.0; 3000]);
    let cases = [
        ("60 people, 300 coordinates", plain(60, 300, smooth(300), 40.0)),
        ("100 people, 1,000 coordinates", plain(100, 1000, smooth(1000), 40.0)),
        ("200 people, 300 coordinates", plain(200, 300, smooth(300), 40.0)),
        ("60 people, 3,000 coordinates, white noise", plain(60, 3000, white, 200.0)),
        (
            "60 people scanned three times",
            Cohorts { scans: 3, within: 0.3, ..plain(60, 300, smooth(300), 40.0) },
        ),
        ("100 people, tails", Cohorts { tails: Some(8.0), ..plain(100, 300, smooth(300), 40.0) }),
    ];
    for (name, cohorts) in cases {
        let all: Vec<Vec<ModeVariance>> = (0..RUNS).into_par_iter().map(|c| cohorts.draw(c)).collect();
        let found = told(name, &all);
        for (k, [apart, held, sample, corrected]) in found.iter().enumerate() {
            assert!(*apart > 0.97, "{name}, mode {k}: {apart}");
            assert!((0.93..=0.97).contains(held), "{name}, mode {k}: {held}");
            assert!((corrected - 1.0).abs() < 0.03, "{name}, mode {k}: {corrected}");
            // what the others lend: Lawley 1956
            if cohorts.scans == 1 {
                let others = PLANTED.iter().enumerate().filter(|(j, _)| *j != k).map(|(_, v)| *v);
                let noise = cohorts.noise.iter().map(|s| s * cohorts.noise_mm2);
                let lent: f64 = others.chain(noise).map(|v| v / (PLANTED[k] - v)).sum::<f64>()
                    / (cohorts.people - 1) as f64;
                assert!((sample - 1.0 - lent).abs() < 0.025, "{name}, mode {k}: {sample} {lent}");
            }
        }
    }
}

/// The planted modes, orthonormal and free of movement, and smooth fields for the noise, of a body of 102 vertices.
fn fields(base: &[Point], count: usize) -> Vec<Vec<Point>> {
    let v = base.len() as f64;
    let axes = [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]];
    let mut all: Vec<Vec<Point>> = axes.iter().map(|a| vec![*a; base.len()]).collect();
    all.extend(axes.iter().map(|a| base.iter().map(|p| cross(*a, *p)).collect::<Vec<Point>>()));
    let mut rng = stream(3, "fields");
    for j in 0..count {
        let f: [f64; 12] = std::array::from_fn(|_| normal(&mut rng) * (1.0 + j as f64 / 8.0));
        all.push(
            base.iter()
                .map(|p| {
                    std::array::from_fn(|k| {
                        let f = &f[4 * k..];
                        (f[0] * p[0] / 250.0 + f[1] * p[1] / 150.0 + f[2] * p[2] / 850.0 + f[3]).sin()
                    })
                })
                .collect(),
        );
    }
    let mut kept: Vec<Vec<Point>> = Vec::new();
    for mut field in all {
        for _ in 0..2 {
            for other in &kept {
                let along: f64 =
                    field.iter().flatten().zip(other.iter().flatten()).map(|(a, b)| a * b).sum::<f64>() / v;
                field.iter_mut().flatten().zip(other.iter().flatten()).for_each(|(a, b)| *a -= along * b);
            }
        }
        let length = (field.iter().flatten().map(|x| x * x).sum::<f64>() / v).sqrt();
        field.iter_mut().flatten().for_each(|x| *x /= length);
        kept.push(field);
    }
    kept.split_off(6)
}

/// The same from meshes: bodies turned and moved, aligned, and described by a space. The standard errors of compactness are those of cohorts, too.
#[test]
fn intervals_of_variances_of_aligned_bodies_cover_95_percent() {
    const RUNS: u64 = 2000;
    const PEOPLE: usize = 80;
    let (topology, base) = body(10, 10);
    let fields = fields(&base, 100);
    let noise: Vec<f64> = smooth(97).into_iter().map(|s| 40.0 * s).collect();
    let sds: Vec<f64> = PLANTED.iter().chain(&noise).map(|v| v.sqrt()).collect();
    let who: Vec<usize> = (0..PEOPLE).collect();
    let align = AlignParams { weighting: Weighting::Plain, ..AlignParams::default() };
    let params = SpaceParams { align, cross_validate: false, max_modes: Some(60), ..SpaceParams::default() };
    let all: Vec<(Vec<ModeVariance>, Vec<f64>)> = (0..RUNS)
        .into_par_iter()
        .map(|which| {
            let mut rng = stream(which, "bodies");
            let mut source = ShapeArray::new(base.len());
            for _ in 0..PEOPLE {
                let mut shape = base.clone();
                for (field, sd) in fields.iter().zip(&sds) {
                    let c = sd * normal(&mut rng);
                    shape.iter_mut().flatten().zip(field.iter().flatten()).for_each(|(x, f)| *x += c * f);
                }
                let mut pose =
                    crate::common::rotation(normal(&mut rng), 0.2 * normal(&mut rng), 0.2 * normal(&mut rng));
                pose.translation = [100.0 * normal(&mut rng), 50.0, 0.0];
                pose.apply_all(&mut shape);
                source.push(&shape).unwrap();
            }
            let fitted = params.fit(&source, &topology, &who, Some(&base), &quiet).unwrap();
            let coefficients = Array2::from_shape_fn((PEOPLE, 60), |(i, k)| fitted.coefficients[i][k]);
            let found = mode_variances(&coefficients, &fitted.space.variances_mm2, &who, 3, which).unwrap();
            (found, fitted.space.variances_mm2)
        })
        .collect();
    let intervals: Vec<Vec<ModeVariance>> = all.iter().map(|a| a.0.clone()).collect();
    for [apart, held, _, corrected] in told("80 aligned bodies", &intervals) {
        assert!(apart > 0.97 && (0.93..=0.97).contains(&held), "{apart} {held}");
        assert!((corrected - 1.0).abs() < 0.03, "{corrected}");
    }
    for modes in [1, 3, 10] {
        let sums: Vec<f64> = all.iter().map(|a| a.1[..modes].iter().sum()).collect();
        let mean = sums.iter().sum::<f64>() / sums.len() as f64;
        let sd = (sums.iter().map(|s| (s - mean).powi(2)).sum::<f64>() / (sums.len() - 1) as f64).sqrt();
        let told: f64 =
            all.iter().map(|a| QualityParams::compactness(&a.1, PEOPLE).1[modes - 1]).sum::<f64>()
                / all.len() as f64;
        println!("compactness of {modes}: standard error {told:.2}, over cohorts {sd:.2}");
        assert!((told / sd - 1.0).abs() < 0.1, "{modes} modes: {told} {sd}");
    }
}

#[test]
fn variances_that_do_not_stand_apart_have_no_interval_and_say_why() {
    let mut rng = stream(5, "crowd");
    let mut rows =
        |n: usize, sds: &[f64]| Array2::from_shape_fn((n, sds.len()), |(_, k)| sds[k] * normal(&mut rng));
    let each = |n: usize| (0..n).collect::<Vec<usize>>();
    // columns without correlation, of the variances asked for
    let v = [900.0, 100.0, 95.0, 4.0];
    let (mut c, from) = components(rows(100, &[4.0, 3.0, 2.0, 1.0]));
    for (k, mut column) in c.columns_mut().into_iter().enumerate() {
        column.mapv_inplace(|x| x * (v[k] / from[k]).sqrt());
    }
    let found = mode_variances(&c, &v, &each(100), 4, 1).unwrap();
    assert!(found[0].interval_95_mm2.is_some() && found[0].no_interval.is_none());
    for k in [1, 2] {
        assert!(found[k].interval_95_mm2.is_none() && found[k].corrected_mm2.is_none(), "{:?}", found[k]);
        assert!(found[k].no_interval.as_ref().unwrap().contains("modes 2 to 3"), "{:?}", found[k]);
    }
    // few people, and many scans of few
    let (c, v) = components(rows(12, &[30.0, 3.0]));
    let few = mode_variances(&c, &v, &each(12), 1, 1).unwrap();
    assert!(few[0].interval_95_mm2.is_none() && few[0].corrected_mm2.is_some());
    assert!(few[0].no_interval.as_ref().unwrap().contains("12 people"), "{few:?}");
    let (c, v) = components(rows(120, &[30.0, 3.0]));
    let scans: Vec<usize> = (0..120).map(|i| i / 10).collect();
    assert!(mode_variances(&c, &v, &scans, 1, 1).unwrap()[0].interval_95_mm2.is_none());
    assert!(mode_variances(&c, &v, &scans[1..], 1, 1).is_err());
    // white noise: its largest variance stands out of nothing
    let (c, v) = components(rows(40, &[1.0; 400]));
    assert!(mode_variances(&c, &v, &each(40), 3, 1).unwrap().iter().all(|m| m.interval_95_mm2.is_none()));
}
