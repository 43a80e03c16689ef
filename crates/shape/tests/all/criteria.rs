//! How many modes, stability, quality, covariance, against known models.

#![allow(clippy::unwrap_used)] // helpers of tests are tests

use std::collections::BTreeMap;

use formkin_geometry::{Point, ShapeArray, Topology};
use formkin_shape::criteria::{StabilityParams, held_out_errors, stability};
use formkin_shape::{CriteriaParams, QualityParams, Space, SpaceParams, ledoit_wolf};
use formkin_stats::random::stream;
use ndarray::Array2;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};

fn normal(rng: &mut ChaCha8Rng) -> f64 {
    StandardNormal.sample(rng)
}

/// A closed surface of two rings and two poles, `n` vertices in all, and people with `strong` patterns of variation over white noise of 1 mm a coordinate.
fn people(n: usize, count: usize, strong: &[f64], seed: u64) -> (ShapeArray, Topology) {
    let ring = (n - 2) / 2;
    let n = 2 * ring + 2;
    let mut mean: Vec<Point> = Vec::new();
    for (radius, z) in [(200.0, 300.0), (260.0, 1100.0)] {
        for i in 0..ring {
            let a = i as f64 / ring as f64 * std::f64::consts::TAU;
            mean.push([radius * a.cos(), 0.6 * radius * a.sin(), z]);
        }
    }
    mean.extend([[0.0, 0.0, 0.0], [10.0, 0.0, 1700.0]]);
    let r = ring as u32;
    let mut triangles = Vec::new();
    for i in 0..r {
        let j = (i + 1) % r;
        triangles.extend([[i, j, r + i], [j, r + j, r + i], [j, i, 2 * r], [r + i, r + j, 2 * r + 1]]);
    }
    let mut rng = stream(seed, "patterns");
    let patterns: Vec<Vec<Point>> =
        strong.iter().map(|_| (0..n).map(|_| [(); 3].map(|()| normal(&mut rng))).collect()).collect();
    let mut store = ShapeArray::new(n);
    for _ in 0..count {
        let c: Vec<f64> = strong.iter().map(|s| s * normal(&mut rng)).collect();
        let shape: Vec<Point> = (0..n)
            .map(|v| {
                std::array::from_fn(|a| {
                    mean[v][a]
                        + c.iter().zip(&patterns).map(|(c, p)| c * p[v][a]).sum::<f64>()
                        + normal(&mut rng)
                })
            })
            .collect();
        store.push(&shape).unwrap();
    }
    (store, Topology::new(n, triangles).unwrap())
}

#[test]
fn planted_modes_are_counted() {
    let (source, topology) = people(300, 60, &[12.0, 7.0, 4.0], 1);
    let who: Vec<usize> = (0..60).collect();
    let params = SpaceParams { align: plain(), ..SpaceParams::default() };
    let mut fitted = params.fit(&source, &topology, &who, None, &|_, _| ()).unwrap();
    let regions = BTreeMap::from([("ring".to_owned(), (0..149).collect())]);
    let criteria = CriteriaParams { regions, ..CriteriaParams::default() };
    let found = criteria.find(&source, &fitted, &who, &params, &|_, _| ()).unwrap();
    for name in ["cross_validation", "parallel_analysis", "marchenko_pastur", "gavish_donoho", "broken_stick"]
    {
        assert_eq!(found.modes(name), Some(3), "{name}: {:?}", found.criteria);
    }
    assert_eq!(found.criteria[0].name, found.primary);
    let errors = found.vertex_errors.as_ref().unwrap();
    let validated = fitted.space.cross_validation.as_ref().unwrap().errors[3].rms_mm;
    assert!((errors.rms_mm / validated - 1.0).abs() < 1e-6, "{} {validated}", errors.rms_mm);
    assert!(errors.rms_mm < errors.p95_mm && errors.p95_mm < errors.max_mm);
    // white noise of three coordinates: the 95th percentile of its length is 2.795 SD
    assert!((errors.p95_mm / 2.795 - 1.0).abs() < 0.1, "{}", errors.p95_mm);
    assert_eq!(errors.regions.len(), 1);
    assert!(found.stability[..3].iter().all(|s| s.stable), "{:?}", &found.stability[..4]);
    assert!(!found.stability[5].stable);
    assert!(found.stability[0].group == (1, 1) && found.stability[5].group.1 > 6);
    assert_eq!(found.variances.len(), found.stability.len());
    // of modes that were not looked at nothing is known, and files keep how many were
    fitted.space.criteria = Some(found.clone());
    assert!(fitted.space.modes.len() > 20 && fitted.space.stability_asked_modes() == 20);
    assert_eq!((found.stable(19).is_some(), found.stable(20)), (true, None));
    assert_eq!(fitted.space.criteria_caution(), None);
    let repeated = Space { people: 20, ..fitted.space.clone() };
    assert!(repeated.criteria_caution().unwrap().contains("60 shapes of 20 people"));
    let alone = Space { people: 1, ..fitted.space.clone() };
    assert!(alone.criteria_caution().unwrap().contains("60 shapes of 1 person"));
    assert_eq!(Space { criteria: None, ..alone }.criteria_caution(), None);
    for v in &found.variances[..3] {
        let (low, high) = v.interval_95_mm2.unwrap();
        let own = v.corrected_mm2.unwrap();
        assert!(low < own && own < high && (own / v.sample_mm2 - 1.0).abs() < 0.1, "{v:?}");
    }
    assert!(found.variances[5].interval_95_mm2.is_none() && found.variances[5].no_interval.is_some());
    // kept in the file
    fitted.space.criteria = Some(found);
    let back = Space::from_safetensors(&fitted.space.to_safetensors()).unwrap();
    assert_eq!(back, strip(fitted.space));
}

/// What a file does not hold.
fn strip(mut space: Space) -> Space {
    if let Some(errors) = space.criteria.as_mut().and_then(|c| c.vertex_errors.as_mut()) {
        errors.vertex_rms_mm.clear();
    }
    space
}

fn plain() -> formkin_align::AlignParams {
    formkin_align::AlignParams { weighting: formkin_align::Weighting::Plain, ..Default::default() }
}

#[test]
fn pure_noise_has_no_modes() {
    let (source, topology) = people(200, 40, &[], 2);
    let who: Vec<usize> = (0..40).collect();
    let params = SpaceParams { align: plain(), ..SpaceParams::default() };
    let fitted = params.fit(&source, &topology, &who, None, &|_, _| ()).unwrap();
    let criteria = CriteriaParams { vertex_errors: false, draws: 0, ..CriteriaParams::default() };
    let found = criteria.find(&source, &fitted, &who, &params, &|_, _| ()).unwrap();
    for name in ["parallel_analysis", "gavish_donoho", "broken_stick"] {
        assert_eq!(found.modes(name), Some(0), "{name}");
    }
    // an edge in the limit of large matrices: the largest variance of noise falls now on this side of it, now on that
    assert!(found.modes("marchenko_pastur") <= Some(1));
    assert!(
        CriteriaParams { nulls: 10, ..criteria }.find(&source, &fitted, &who, &params, &|_, _| ()).is_err()
    );
}

#[test]
fn errors_of_vertices_are_those_of_a_plain_refit() {
    let (source, topology) = people(62, 12, &[10.0, 5.0], 3);
    let who: Vec<usize> = (0..12).collect();
    let params = SpaceParams { align: plain(), folds: 12, ..SpaceParams::default() };
    let weights = vec![1.0 / 62.0; 62];
    let found = held_out_errors(&source, &weights, &who, 2, &BTreeMap::new(), &params, &|_, _| ()).unwrap();
    let mut square = 0.0;
    for left in 0..12 {
        let mut rest = ShapeArray::new(62);
        (0..12).filter(|i| *i != left).for_each(|i| rest.push(source.shape(i)).unwrap());
        let refit = SpaceParams { cross_validate: false, max_modes: Some(2), ..params.clone() };
        let space = refit.fit(&rest, &topology, &who[..11], None, &|_, _| ()).unwrap().space;
        square += space.project(source.shape(left)).unwrap().residual_rms_mm.powi(2);
    }
    assert!(
        (found.rms_mm - (square / 12.0).sqrt()).abs() < 1e-3,
        "{} {}",
        found.rms_mm,
        (square / 12.0).sqrt()
    );
    let mean: f64 = found.vertex_rms_mm.iter().map(|x| x * x).sum::<f64>() / 62.0;
    assert!((mean.sqrt() - found.rms_mm).abs() < 1e-9);
}

#[test]
fn near_equal_variances_are_a_group_that_is_stable_as_a_whole() {
    let mut rng = stream(11, "group");
    let sds = [30.0, 10.0, 10.0, 2.0, 1.0];
    let b = Array2::from_shape_fn((200, 5), |(_, k)| sds[k] * normal(&mut rng));
    // the variances of the sample are those asked for
    let mut b = b;
    for (mut column, sd) in b.columns_mut().into_iter().zip(sds) {
        let mean = column.sum() / 200.0;
        column.mapv_inplace(|x| x - mean);
        let found = (column.iter().map(|x| x * x).sum::<f64>() / 199.0).sqrt();
        column.mapv_inplace(|x| x * sd / found);
    }
    let who: Vec<usize> = (0..200).collect();
    let found = stability(&b, &who, &StabilityParams { modes: 5, draws: 100, seed: 1 }).unwrap();
    assert!(found[0].stable && found[0].group == (1, 1));
    assert_eq!(found[1].group, (2, 3));
    assert!(found[1].group_cos > 0.95 && found[1].cos < found[1].group_cos);
    assert!(stability(&b, &who[..10], &StabilityParams { modes: 5, draws: 100, seed: 1 }).is_err());
    assert!(stability(&b, &who, &StabilityParams { modes: 5, draws: 1, seed: 1 }).is_err());
}

#[test]
fn quality_in_millimetres_with_errors() {
    let (source, topology) = people(62, 30, &[10.0, 5.0], 5);
    let who: Vec<usize> = (0..30).collect();
    let params = SpaceParams { align: plain(), ..SpaceParams::default() };
    let fitted = params.fit(&source, &topology, &who, None, &|_, _| ()).unwrap();
    let quality = QualityParams { modes: 5, ..QualityParams::default() };
    let found = quality.find(&source, &fitted, &who, &params, &|_, _| ()).unwrap();
    assert!((found.compactness_mm2.last().unwrap() / fitted.space.total_variance_mm2 - 1.0).abs() < 1e-9);
    assert!(found.compactness_se_mm2[0] > 0.0);
    assert!(found.generalisation[2].rms_mm < found.generalisation[0].rms_mm);
    assert_eq!((found.specificity.len(), found.samples, found.flaws.len()), (5, 1000, 4));
    assert!(found.specificity.iter().all(|s| s.mean_mm > 0.0 && s.se_mm < s.mean_mm));
    // between surfaces a little less than between vertices: a slide is no distance
    for s in &found.surface {
        let (by_vertex, drawn) =
            (found.generalisation[s.modes].rms_mm, found.specificity[s.modes - 1].mean_mm);
        assert!(s.generalisation_mm > 0.0 && s.generalisation_mm < 1.1 * by_vertex, "{s:?} {by_vertex}");
        assert!(s.specificity_mm > 0.0 && s.specificity_mm < 1.001 * drawn, "{s:?} {drawn}");
        assert!(s.generalisation_se_mm > 0.0 && s.specificity_se_mm > 0.0 && s.points == 62);
    }
    assert!(found.surface.len() >= 2 && found.surface.last().unwrap().modes == 5);
    assert_eq!(found, quality.find(&source, &fitted, &who, &params, &|_, _| ()).unwrap());
    // the file of the space keeps it
    let kept = Space { quality: Some(found), ..fitted.space.clone() };
    assert_eq!(Space::from_safetensors(&kept.to_safetensors()).unwrap(), kept);
    assert_eq!(Space::from_safetensors(&fitted.space.to_safetensors()).unwrap().quality, None);
    assert!(
        QualityParams { samples: 10, ..quality }.find(&source, &fitted, &who, &params, &|_, _| ()).is_err()
    );
}

#[test]
fn probabilistic_noise_is_that_of_the_model() {
    let (source, topology) = people(300, 60, &[12.0, 7.0], 7);
    let who: Vec<usize> = (0..60).collect();
    let params = SpaceParams { align: plain(), ..SpaceParams::default() };
    let space = params.fit(&source, &topology, &who, None, &|_, _| ()).unwrap().space;
    let model = space.probabilistic(Some(2)).unwrap();
    // with 54 people the modes themselves carry noise: held-out error is a little more than that of the model
    assert!(model.held_out && model.noise_mm2 > 1.0 && model.noise_mm2 < 1.1, "{}", model.noise_mm2);
    assert!(model.freedom.unwrap() > 40.0);
    assert!(space.probabilistic(Some(9999)).is_err());
}

#[test]
fn shrinkage_takes_more_where_there_is_less_to_keep() {
    let mut rng = stream(13, "shrinkage");
    let mut gram_of = |n: usize, p: usize, strong: f64| {
        let mut x =
            Array2::from_shape_fn((n, p), |(_, j)| normal(&mut rng) * if j == 0 { strong } else { 1.0 });
        for mut column in x.columns_mut() {
            let mean = column.sum() / n as f64;
            column.mapv_inplace(|v| v - mean);
        }
        x.dot(&x.t())
    };
    let noise = ledoit_wolf(&gram_of(40, 100, 1.0), 100).unwrap();
    assert!(noise.shrinkage > 0.8, "{}", noise.shrinkage);
    let strong = ledoit_wolf(&gram_of(40, 100, 30.0), 100).unwrap();
    assert!(strong.shrinkage < 0.2, "{}", strong.shrinkage);
    assert_eq!(strong.variances.len(), 39);
    assert!(ledoit_wolf(&Array2::zeros((1, 1)), 3).is_err());
}
