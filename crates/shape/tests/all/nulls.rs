//! Where nothing is planted, tests at 5 % reject 3.6 to 6.4 % of cohorts (4,000: an exact test strays from 5 % by 0.35 % or so).

#![allow(clippy::unwrap_used, clippy::print_stdout)] // helpers of tests are tests

use crate::common::{body, quiet, shapes};
use formkin_shape::compare::{CompareParams, hotelling_one, regress};
use formkin_shape::{Space, SpaceParams};
use formkin_stats::random::stream;
use ndarray::Array2;
use rand::Rng;
use rand_distr::StandardNormal;
use rayon::prelude::*;

const ROUNDS: u64 = 4000;
const PEOPLE: usize = 30;
const MODES: usize = 3;

/// People x columns; later columns vary less.
fn noise(columns: usize, round: u64, label: &str) -> Array2<f64> {
    let mut rng = stream(round, label);
    let mut normal = || rng.sample::<f64, _>(StandardNormal);
    Array2::from_shape_fn((PEOPLE, columns), |(_, j)| normal() * (columns - j) as f64)
}

fn a_space() -> Space {
    let (topology, base) = body(4, 6);
    let source = shapes(20, &base, 20.0, 0.0, 3);
    let people: Vec<usize> = (0..20).collect();
    let params = SpaceParams { cross_validate: false, max_modes: Some(MODES), ..SpaceParams::default() };
    params.fit(&source, &topology, &people, None, &quiet).unwrap().space
}

fn rejected(name: &str, count: usize) {
    println!("{name}: {count} of {ROUNDS}");
    let share = count as f64 / ROUNDS as f64;
    assert!((0.036..=0.064).contains(&share), "{name}: {share}");
}

fn params(seed: u64) -> CompareParams {
    CompareParams { permutations: 199, modes: 2, seed, ..CompareParams::default() }
}

#[test]
fn comparisons_of_three_groups() {
    let space = a_space();
    let groups: Vec<usize> = (0..PEOPLE).map(|i| i % 3).collect();
    let names: Vec<String> = ["a", "b", "c"].map(String::from).to_vec();
    let age = ["age".to_owned()];
    let found: Vec<[bool; 5]> = (0..ROUNDS)
        .into_par_iter()
        .map(|round| {
            let mut y = noise(MODES, round, "no groups");
            let one = hotelling_one(y.view(), &[0.0; MODES]).unwrap();
            let plain = params(round).compare(&space, y.view(), &groups, &names, None).unwrap();
            // a strong covariate that the groups share unevenly
            let mut covariate = noise(1, round, "age");
            for i in 0..PEOPLE {
                covariate[[i, 0]] += groups[i] as f64;
                y[[i, 0]] += 4.0 * covariate[[i, 0]];
            }
            let given = Some((covariate.view(), age.as_slice()));
            let given = params(round).compare(&space, y.view(), &groups, &names, given).unwrap();
            [
                one.p <= 0.05,
                plain.anova.p <= 0.05,
                plain.pairs[1].hotelling.p <= 0.05,
                given.anova.p <= 0.05,
                // all vertices are null: a false finding anywhere is as likely as the level, or less where vertices go together
                plain.place.q.iter().any(|q| *q <= 0.05),
            ]
        })
        .collect();
    let of = |k: usize| found.iter().filter(|f| f[k]).count();
    rejected("T2 of one sample", of(0));
    rejected("three groups", of(1));
    rejected("two of three groups", of(2));
    rejected("three groups, a covariate", of(3));
    assert!(of(4) as f64 <= 0.064 * ROUNDS as f64, "a map of nothing shows something: {} of {ROUNDS}", of(4));
}

#[test]
fn regressions_and_equal_slopes() {
    let space = a_space();
    let groups: Vec<usize> = (0..PEOPLE).map(|i| i % 2).collect();
    let names: Vec<String> = ["a", "b"].map(String::from).to_vec();
    let age = ["age".to_owned()];
    let found: Vec<[bool; 4]> = (0..ROUNDS)
        .into_par_iter()
        .map(|round| {
            let mut y = noise(MODES, round, "no slope");
            let mut x: Vec<f64> = noise(1, round, "mass").iter().map(|z| 75.0 + 10.0 * z).collect();
            let alone = regress(&params(round), &space, y.view(), ("mass", &x), None, None).unwrap();
            // groups that differ in shape and in mass, and a strong covariate that goes with mass
            let covariate = noise(1, round, "age");
            for i in 0..PEOPLE {
                x[i] += 12.0 * groups[i] as f64 + 6.0 * covariate[[i, 0]];
                y[[i, 0]] += 8.0 * groups[i] as f64 + 4.0 * covariate[[i, 0]];
            }
            let of = (groups.as_slice(), names.as_slice());
            let held = Some((covariate.view(), age.as_slice()));
            let given = regress(&params(round), &space, y.view(), ("mass", &x), Some(of), held).unwrap();
            // one slope for all: equal slopes hold
            for i in 0..PEOPLE {
                y[[i, 1]] += 0.5 * x[i];
            }
            let common = regress(&params(round), &space, y.view(), ("mass", &x), Some(of), None).unwrap();
            [
                alone.anova.p <= 0.05,
                given.anova.p <= 0.05,
                given.equal_slopes.unwrap().p <= 0.05,
                common.equal_slopes.unwrap().p <= 0.05,
            ]
        })
        .collect();
    let of = |k: usize| found.iter().filter(|f| f[k]).count();
    rejected("a number", of(0));
    rejected("a number, groups and a covariate", of(1));
    rejected("equal slopes of nothing, a covariate", of(2));
    rejected("equal slopes of one common slope", of(3));
}
