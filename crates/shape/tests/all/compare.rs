//! Comparisons with known answers.

#![allow(clippy::unwrap_used)] // helpers of tests are tests

use crate::common::{body, quiet, shapes};
use formkin_shape::compare::{
    CompareParams, anova, design, hotelling_one, hotelling_two, pairs, place, regress,
};
use formkin_shape::{ShapeError, Space, SpaceParams};
use formkin_stats::random::stream;
use ndarray::{Array2, array, s};
use rand::Rng;
use rand_distr::StandardNormal;

fn noise(n: usize, k: usize, label: &str) -> Array2<f64> {
    let mut rng = stream(17, label);
    Array2::from_shape_fn((n, k), |(_, j)| rng.sample::<f64, _>(StandardNormal) * (k - j) as f64)
}

fn a_space() -> Space {
    let (topology, base) = body(8, 12);
    let source = shapes(30, &base, 20.0, 0.0, 3);
    let people: Vec<usize> = (0..30).collect();
    let params = SpaceParams { cross_validate: false, max_modes: Some(6), ..SpaceParams::default() };
    params.fit(&source, &topology, &people, None, &quiet).unwrap().space
}

/// Johnson and Wichern, Applied Multivariate Statistical Analysis, example 5.1, from memory: T2 = 7/9.
#[test]
fn a_textbook_t2() {
    let rows = array![[6.0, 9.0], [10.0, 6.0], [8.0, 3.0]];
    let found = hotelling_one(rows.view(), &[9.0, 5.0]).unwrap();
    assert!((found.t2 - 7.0 / 9.0).abs() < 1e-12, "{}", found.t2);
    assert_eq!((found.df1, found.df2), (2, 1));
}

/// With one column T2 is the square of Student's t.
#[test]
fn one_column_is_students_t() {
    let (a, b) = (array![[1.0], [2.0], [4.0]], array![[3.0], [5.0], [7.0], [6.0]]);
    let found = hotelling_two(a.view(), b.view()).unwrap();
    let (ma, mb) = (7.0 / 3.0, 21.0 / 4.0);
    let ss: f64 = a.iter().map(|x| (x - ma) * (x - ma)).sum::<f64>()
        + b.iter().map(|x| (x - mb) * (x - mb)).sum::<f64>();
    let t = (ma - mb) / (ss / 5.0 * (1.0 / 3.0 + 1.0 / 4.0)).sqrt();
    assert!((found.t2 - t * t).abs() < 1e-12 && (found.f - found.t2).abs() < 1e-12);
    assert!(matches!(hotelling_two(a.slice(s![..1, ..]), b.view()), Err(ShapeError::SmallGroup { .. })));
}

/// Where there is no difference, a test at 5 % rejects 5 %: 0.036 to 0.064 of 1,000 holds with chance 0.96 or so for an exact test (binomial).
#[test]
fn tests_reject_what_they_say_where_nothing_is() {
    let (n, k) = (24, 3);
    let groups: Vec<usize> = (0..n).map(|i| i % 2).collect();
    let added = design::indicators(&groups, 2);
    let reduced = design::with_intercept(n, None);
    let covariate = noise(n, 1, "covariate");
    let with = design::with_intercept(n, Some(covariate.view()));
    let (mut t2, mut plain, mut given) = (0, 0, 0);
    for round in 0..1000 {
        let mut y = noise(n, k, &format!("null {round}"));
        let halves = |g: usize| {
            let of: Vec<usize> = (0..n).filter(|i| groups[*i] == g).collect();
            y.select(ndarray::Axis(0), &of)
        };
        t2 += usize::from(hotelling_two(halves(0).view(), halves(1).view()).unwrap().p <= 0.05);
        plain += usize::from(anova(y.view(), reduced.view(), added.view(), 199, round).unwrap().p <= 0.05);
        // a strong covariate that is in the model
        for i in 0..n {
            y[[i, 0]] += 5.0 * covariate[[i, 0]];
        }
        given += usize::from(anova(y.view(), with.view(), added.view(), 199, round).unwrap().p <= 0.05);
    }
    for (name, rejected) in [("T2", t2), ("permutation", plain), ("with a covariate", given)] {
        assert!((36..=64).contains(&rejected), "{name}: {rejected} of 1000");
    }
}

#[test]
fn a_permutation_test_has_the_sums_of_squares_of_the_definition() {
    let y = array![[1.0, 0.0], [3.0, 2.0], [6.0, 1.0], [8.0, 5.0]];
    let added = design::indicators(&[0, 0, 1, 1], 2);
    let found = anova(y.view(), design::with_intercept(4, None).view(), added.view(), 999, 1).unwrap();
    // means (2, 1) and (7, 3): between 4 * (2.5^2 + 1^2) = 29, within 2 + 2 + 2 + 8 = 14
    assert!((found.ss_effect_mm2 - 29.0).abs() < 1e-9 && (found.ss_residual_mm2 - 14.0).abs() < 1e-9);
    assert!((found.r2 - 29.0 / 43.0).abs() < 1e-12 && (found.f - 29.0 / 7.0).abs() < 1e-9);
    // of the three ways to make pairs this one is the best: p is a third
    assert!((found.p - 1.0 / 3.0).abs() < 0.06, "{}", found.p);
}

/// A bump planted on one region is found there and nowhere else, up to the share of false findings.
#[test]
fn a_planted_difference_is_found_where_it_was_planted() {
    let mut space = a_space();
    let v = space.mean.len();
    // modes of single vertices: the map must be as local as they are
    let chosen: Vec<usize> = (0..60).map(|i| i * (v / 60)).collect();
    let topology = formkin_geometry::Topology::new(v, space.triangles.clone()).unwrap();
    let normals = formkin_geometry::areas::vertex_normals(&topology, &space.mean);
    space.modes = chosen
        .iter()
        .map(|&at| {
            let mut mode = vec![[0.0; 3]; v];
            mode[at] = normals[at].map(|x| x / space.weights[at].sqrt());
            mode
        })
        .collect();
    let n = 80;
    let mut y = noise(n, 60, "planted").mapv(|x| x.signum() * x.abs().min(3.0));
    let groups: Vec<usize> = (0..n).map(|i| i % 2).collect();
    for i in (1..n).step_by(2) {
        for k in 0..10 {
            y[[i, k]] += 4.0;
        }
    }
    let (reduced, added) = (design::with_intercept(n, None), design::indicators(&groups, 2));
    let map = place(&space, y.view(), reduced.view(), added.view(), 0.05).unwrap();
    let found: Vec<usize> = (0..60).filter(|k| map.q[chosen[*k]] <= 0.05).collect();
    assert!(found.iter().filter(|k| **k < 10).count() == 10, "{found:?}");
    assert!(found.iter().filter(|k| **k >= 10).count() <= 3, "{found:?}");
    for k in 0..10 {
        let want = 4.0 / space.weights[chosen[k]].sqrt();
        assert!((map.effect_mm[chosen[k]] / want - 1.0).abs() < 0.5);
    }
}

/// A difference that a covariate makes is none at equal covariates; with one column T2 is the F of the analysis of covariance.
#[test]
fn pairs_are_compared_at_equal_covariates() {
    let n = 60;
    let groups: Vec<usize> = (0..n).map(|i| i % 3).collect();
    let names: Vec<String> = ["a", "b", "c"].map(String::from).to_vec();
    // ages differ between groups, and age alone makes the bodies different
    let mut age = noise(n, 1, "ages");
    let mut y = noise(n, 4, "bodies of ages");
    for i in 0..n {
        age[[i, 0]] += 2.0 * groups[i] as f64;
        y[[i, 0]] += 20.0 * age[[i, 0]];
        y[[i, 3]] += 6.0 * f64::from(u8::from(groups[i] == 2));
    }
    let plain = pairs(y.view(), 3, &groups, &names, None).unwrap();
    assert!(plain.iter().all(|p| p.hotelling.p < 1e-4 && p.distance_mm > 20.0), "{plain:?}");
    let given = pairs(y.view(), 3, &groups, &names, Some(age.view())).unwrap();
    assert!(given.iter().all(|p| p.hotelling.p > 0.01 && p.distance_mm < 12.0), "{given:?}");
    assert!(given.iter().all(|p| p.p_holm >= p.hotelling.p && p.p_holm <= 1.0));
    assert_eq!(given[0].hotelling.df2, n - 4 - 3 + 1);
    // all coefficients are in the distance, the tested ones or not
    assert!(given[1].distance_mm > 4.0);

    let two: Vec<usize> = (0..n).filter(|i| groups[*i] < 2).collect();
    let (y, age) = (y.select(ndarray::Axis(0), &two), age.select(ndarray::Axis(0), &two));
    let groups: Vec<usize> = two.iter().map(|i| groups[*i]).collect();
    let (reduced, added) = (design::with_intercept(40, Some(age.view())), design::indicators(&groups, 2));
    let one = y.slice(s![.., 1..2]);
    let f = anova(one, reduced.view(), added.view(), 99, 1).unwrap().f;
    let found = pairs(one, 1, &groups, &names[..2], Some(age.view())).unwrap();
    assert!((found[0].hotelling.f - f).abs() < 1e-9 * f.max(1.0), "{} {f}", found[0].hotelling.f);
    // a covariate of no influence on the model's columns: the T2 of two samples
    let alike = pairs(y.view(), 3, &groups, &names[..2], Some(Array2::zeros((40, 0)).view())).unwrap();
    let samples = pairs(y.view(), 3, &groups, &names[..2], None).unwrap();
    assert!((alike[0].hotelling.t2 / samples[0].hotelling.t2 - 1.0).abs() < 1e-9);
    assert_eq!(alike[0].hotelling.df2, samples[0].hotelling.df2);
    assert!((alike[0].distance_mm - samples[0].distance_mm).abs() < 1e-9);
}

#[test]
fn groups_and_slopes_are_told_from_noise() {
    let space = a_space();
    let k = space.modes.len();
    let n = 90;
    let mut y = noise(n, k, "groups");
    let x: Vec<f64> = (0..n).map(|i| (i as f64 * 0.7).sin() * 10.0 + 170.0).collect();
    let groups: Vec<usize> = (0..n).map(|i| i % 3).collect();
    let names: Vec<String> = ["a", "b", "c"].map(String::from).to_vec();
    for i in 0..n {
        y[[i, 1]] += 0.5 * (x[i] - 170.0);
        if groups[i] == 2 {
            y[[i, 0]] += 25.0;
        }
    }
    let params = CompareParams { permutations: 499, modes: 4, ..CompareParams::default() };
    let made = params.compare(&space, y.view(), &groups, &names, None).unwrap();
    assert_eq!(made.people, [30, 30, 30]);
    assert!(made.anova.p <= 0.01 && made.anova.z.unwrap() > 2.0);
    assert_eq!(made.pairs.len(), 3);
    assert!(made.effect.contains("without a sign"));
    let p: Vec<f64> = made.pairs.iter().map(|p| p.hotelling.p).collect();
    assert!(p[1] < 1e-6 && p[2] < 1e-6 && p[0] > 1e-3, "{p:?}");
    // c is told apart, a and b are not: a third of all people are wrong, about
    assert!((0.2..0.5).contains(&made.classification.error), "{:?}", made.classification);
    let again = params.compare(&space, y.view(), &groups, &names, None).unwrap();
    assert_eq!(made, again);

    let found = regress(&params, &space, y.view(), ("height", &x), Some((&groups, &names)), None).unwrap();
    assert!((found.slope_mm[1] - 0.5).abs() < 0.15, "{:?}", found.slope_mm);
    assert!(found.anova.p <= 0.01 && found.equal_slopes.as_ref().unwrap().p > 0.01);
    let moved = found.displacement(&space, 1.0);
    assert_eq!(moved.len(), space.mean.len());
    for i in (2..n).step_by(3) {
        y[[i, 1]] -= 1.5 * (x[i] - 170.0);
    }
    let found = regress(&params, &space, y.view(), ("height", &x), Some((&groups, &names)), None).unwrap();
    assert!(found.equal_slopes.unwrap().p <= 0.01);
    assert!((found.slopes_by_group_mm[2][1] + 1.0).abs() < 0.3);
    assert!(regress(&params, &space, y.view(), ("height", &vec![1.0; n]), None, None).is_err());
}
