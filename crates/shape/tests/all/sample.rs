//! Bodies drawn from known people.

#![allow(clippy::unwrap_used)] // helpers of tests are tests

use formkin_shape::ShapeError;
use formkin_shape::sample::{
    Density, Margin, SampleParams, Wanted, compare_dimensions, judge, pick, sample, weigh,
};
use formkin_stats::random::stream;
use ndarray::{Array2, Axis};
use rand::Rng;
use rand_distr::StandardNormal;

/// 400 people of four coefficients, two of which go together.
fn people() -> Array2<f64> {
    let mut rng = stream(2, "people");
    let mut y = Array2::from_shape_fn((400, 4), |(_, j)| {
        rng.sample::<f64, _>(StandardNormal) * [40.0, 20.0, 10.0, 5.0][j]
    });
    for mut row in y.outer_iter_mut() {
        row[1] += 0.4 * row[0];
        row[2] += 7.0;
    }
    y
}

/// Two kinds of people, far apart in the first coefficient; every third is of the second kind.
fn two_kinds() -> (Array2<f64>, Vec<usize>) {
    let mut y = people();
    let kind: Vec<usize> = (0..400).map(|i| usize::from(i % 3 == 0)).collect();
    for (mut row, k) in y.outer_iter_mut().zip(&kind) {
        row[0] += if *k == 1 { 250.0 } else { 0.0 };
    }
    (y, kind)
}

#[test]
fn bodies_are_like_the_people_and_nobody_is_copied() {
    let y = people();
    let density = Density::normal(y.view()).unwrap();
    assert!(density.normality.looks_normal, "{:?}", density.normality);
    let params = SampleParams { count: 3000, ..SampleParams::default() };
    let made = sample(&density, &params, &|_| Ok(Vec::new())).unwrap();
    assert_eq!(made.coefficients.len(), 3000);
    // 1 % of draws lie outside the region
    let outside = made.refused.values().sum::<usize>() as f64 / made.tries as f64;
    assert!((0.005..0.016).contains(&outside), "{outside}");
    assert_eq!(made, sample(&density, &params, &|_| Ok(Vec::new())).unwrap());
    let report = judge(&made.coefficients, y.view(), &[]).unwrap();
    assert!(report.sd_ratios.iter().all(|r| (0.92..1.05).contains(r)), "{:?}", report.sd_ratios);
    assert!(report.largest_correlation_difference < 0.07, "{report:?}");
    let chance = report.largest_correlation_by_chance;
    assert!(chance > 0.3 * report.largest_correlation_difference && chance < 0.2, "{report:?}");
    let told = &report.privacy;
    assert!(told.closer_than_people < 0.03 && told.closer_than_people_95.0 < 0.02, "{told:?}");
    assert!((told.nearest_mm[3] / told.nearest_between_people_mm[3] - 1.0).abs() < 0.15, "{told:?}");
    assert!(told.repeat_mm.is_none() && told.like_a_repeat.is_none());
    // copies are found out
    let copies: Vec<Vec<f64>> = y.outer_iter().map(|r| r.iter().map(|x| x + 0.01).collect()).collect();
    let told = judge(&copies, y.view(), &[0.5, 0.4, 0.6]).unwrap().privacy;
    assert!(told.closer_than_people > 0.9 && told.like_a_repeat == Some(400), "{told:?}");
    assert!(told.closest.iter().all(|(body, person, mm)| body == person && *mm < 0.03));
}

#[test]
fn no_draw_leaves_the_joint_region_and_spreads_shrink_as_they_must() {
    let y = people();
    let density = Density::normal(y.view()).unwrap();
    let params = SampleParams { count: 20_000, confidence: 0.9, ..SampleParams::default() };
    let made = sample(&density, &params, &|_| Ok(Vec::new())).unwrap();
    let mean = y.mean_axis(Axis(0)).unwrap();
    let d = &y - &mean;
    let covariance: Array2<f64> = d.t().dot(&d) / 399.0;
    let factor = formkin_stats::cholesky::Cholesky::new(&covariance).unwrap().unwrap();
    let limit = formkin_stats::distribution::chi_square_quantile(0.9, 4.0);
    let squares: Vec<f64> = made
        .coefficients
        .iter()
        .map(|c| {
            let off: Vec<f64> = c.iter().zip(&mean).map(|(c, m)| c - m).collect();
            factor.half_solve(&off).unwrap().iter().map(|z| z * z).sum()
        })
        .collect();
    assert!(squares.iter().all(|s| *s <= limit + 1e-9));
    // E[z^2 | |z|^2 <= q] = P(chi2_{k+2} <= q) / P(chi2_k <= q) a coordinate: with 4 coordinates and 90 %,
    // 1 - q/2 exp(-q/2) (q/2) / (2 * 0.9) from the recurrence of the chi-square law
    let h = limit / 2.0;
    let expected = 1.0 - h * h * (-h).exp() / (2.0 * 0.9);
    let found = squares.iter().sum::<f64>() / (4.0 * squares.len() as f64);
    assert!((found - expected).abs() < 0.01, "{found} {expected}");
}

#[test]
fn groups_get_exact_counts_and_their_own_means() {
    let (y, kind) = two_kinds();
    let names = ["long".to_owned(), "short".to_owned()];
    let density = Density::groups(y.view(), &kind, &names).unwrap();
    let made = sample(&density, &SampleParams { count: 100, ..SampleParams::default() }, &|_| Ok(Vec::new()))
        .unwrap();
    // 266 and 134 of 400
    let second = made.components.iter().filter(|c| **c == 1).count();
    assert_eq!((made.components.len(), second), (100, 33));
    let mean = |c: usize| {
        let own: Vec<f64> = made
            .coefficients
            .iter()
            .zip(&made.components)
            .filter(|(_, k)| **k == c)
            .map(|(b, _)| b[0])
            .collect();
        own.iter().sum::<f64>() / own.len() as f64
    };
    assert!(mean(0).abs() < 25.0 && (mean(1) - 250.0).abs() < 30.0);
    assert!(!density.normality.looks_normal);
}

#[test]
fn a_mixture_finds_the_kinds() {
    let (y, _) = two_kinds();
    let density = Density::mixture(y.view(), None, 4, 1).unwrap();
    assert_eq!(density.components.len(), 2, "{:?}", density.scores);
    let mut shares: Vec<f64> = density.components.iter().map(|c| c.share).collect();
    shares.sort_by(f64::total_cmp);
    assert!((shares[0] - 0.335).abs() < 0.01, "{shares:?}");
    let one = Density::mixture(people().view(), None, 4, 1).unwrap();
    assert_eq!(one.components.len(), 1, "{:?}", one.scores);
    assert!(Density::mixture(y.view(), Some(0), 4, 1).is_err());
    assert!(matches!(Density::mixture(y.view(), Some(90), 4, 1), Err(ShapeError::SmallGroup { .. })));
}

#[test]
fn unwanted_bodies_are_refused_and_counted() {
    let y = people();
    let density = Density::normal(y.view()).unwrap();
    let params = SampleParams { count: 200, ..SampleParams::default() };
    let tall = |c: &[f64]| if c[0] < 0.0 { Err("it is too short".to_owned()) } else { Ok(vec![Some(c[0])]) };
    let made = sample(&density, &params, &tall).unwrap();
    assert!(made.coefficients.iter().zip(&made.taken).all(|(c, t)| c[0] >= 0.0 && t[0] == Some(c[0])));
    assert!(made.refused["it is too short"] > 100 && made.coefficients.len() == 200);
    let nothing = sample(&density, &params, &|_| Err("nothing will do".into()));
    assert!(matches!(nothing, Err(ShapeError::Refused { accepted: 0, .. })));
    let few = Density::normal(y.slice(ndarray::s![..4, ..]));
    assert!(matches!(few, Err(ShapeError::SmallGroup { .. })));
    assert!(sample(&density, &SampleParams { count: 0, ..params }, &|_| Ok(Vec::new())).is_err());
}

#[test]
fn a_pool_is_weighed_to_margins_and_picked_by_weight() {
    let y = people();
    let density = Density::normal(y.view()).unwrap();
    let params = SampleParams { count: 4000, ..SampleParams::default() };
    let made = sample(&density, &params, &|_| Ok(Vec::new())).unwrap();
    let values: Vec<Vec<f64>> = made.coefficients.iter().map(|c| vec![1700.0 + c[0], 900.0 + c[1]]).collect();
    let margins = [
        Margin { dimension: "stature".into(), wanted: Wanted::MeanSd(1720.0, 30.0) },
        Margin { dimension: "chest".into(), wanted: Wanted::Percentiles(vec![(10.0, 880.0), (50.0, 910.0)]) },
    ];
    let mut fit = weigh(&values, &margins).unwrap();
    for m in &fit.margins {
        assert!((m.weighted - m.target).abs() < 0.3, "{m:?}");
    }
    assert!(fit.n_eff > 500.0 && fit.n_eff < 4000.0, "{}", fit.n_eff);
    let picked = pick(&fit.weights, 300, 5, "picked").unwrap();
    let mut sorted = picked.clone();
    sorted.sort_unstable();
    sorted.dedup();
    assert_eq!(sorted.len(), 300);
    fit.tell_picked(&values, &margins, &picked).unwrap();
    for m in &fit.margins {
        assert!((m.picked.unwrap() - m.target).abs() < 6.0, "{m:?}");
    }
    // far away: named, with what there is
    let far = [Margin { dimension: "stature".into(), wanted: Wanted::Mean(2500.0) }];
    let values: Vec<Vec<f64>> = values.into_iter().map(|v| vec![v[0]]).collect();
    match weigh(&values, &far) {
        Err(ShapeError::Target { dimension, reason }) => {
            assert!(dimension == "stature" && reason.contains("cannot be met"))
        }
        other => panic!("{other:?}"),
    }
    for wanted in [
        Wanted::MeanSd(1700.0, -1.0),
        Wanted::Mean(f64::NAN),
        Wanted::Percentiles(vec![(50.0, 1700.0), (10.0, 1600.0)]),
        Wanted::Percentiles(vec![(0.0, 1600.0)]),
        Wanted::Percentiles(vec![]),
    ] {
        let bad = [Margin { dimension: "stature".into(), wanted }];
        assert!(matches!(weigh(&values, &bad), Err(ShapeError::Target { .. })));
    }
}

#[test]
fn places_are_picked_in_proportion_to_their_weight() {
    let weights = [1.0, 2.0, 3.0, 4.0, 0.0, 2.0];
    let mut counts = [0usize; 6];
    for seed in 0..12_000 {
        let picked = pick(&weights, 3, seed, "p").unwrap();
        assert_eq!(picked.len(), 3);
        for i in picked {
            counts[i] += 1;
        }
    }
    for (c, w) in counts.iter().zip(weights) {
        let share = *c as f64 / 12_000.0;
        assert!((share - 3.0 * w / 12.0).abs() < 0.02, "{counts:?}");
    }
    // one place would have to come twice
    assert!(pick(&[1.0, 9.0], 2, 1, "p").is_none());
    assert!(pick(&[1.0, 1.0], 0, 1, "p").unwrap().is_empty());
}

#[test]
fn dimensions_are_compared() {
    let mut rng = stream(7, "dimensions");
    let mut rows = |n: usize, shift: f64, r: f64| -> Vec<Vec<Option<f64>>> {
        (0..n)
            .map(|_| {
                let (a, b): (f64, f64) = (rng.sample(StandardNormal), rng.sample(StandardNormal));
                vec![Some(a + shift), Some(r * a + (1.0 - r * r).sqrt() * b), None]
            })
            .collect()
    };
    let names = ["a", "b", "c"].map(|n| (n.to_owned(), Some("mm".to_owned())));
    let (people, alike, other) = (rows(500, 0.0, 0.6), rows(800, 0.0, 0.6), rows(800, 1.0, 0.0));
    let (marginals, r) = compare_dimensions(&names, &people, &alike).unwrap();
    assert_eq!(marginals.len(), 2);
    assert!(marginals.iter().all(|m| m.ks < m.ks_limit && (m.mean[0] - m.mean[1]).abs() < 0.15));
    assert!(r.largest_difference < 3.0 * r.se && r.dimensions == 2);
    let (marginals, r) = compare_dimensions(&names, &people, &other).unwrap();
    // two normals one SD apart: 2 Phi(1/2) - 1
    assert!((marginals[0].ks - 0.3829).abs() < 0.06 && marginals[0].ks > marginals[0].ks_limit);
    assert!((r.largest_difference - 0.6).abs() < 0.1 && r.pair == Some(("a".into(), "b".into())));
}
