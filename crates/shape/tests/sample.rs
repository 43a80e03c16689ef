//! Bodies drawn from known people.

#![allow(clippy::unwrap_used)] // helpers of tests are tests

use formkin_shape::ShapeError;
use formkin_shape::sample::{SampleParams, judge, sample};
use formkin_stats::random::stream;
use ndarray::Array2;
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

#[test]
fn bodies_are_like_the_people_and_nobody_is_copied() {
    let y = people();
    let params = SampleParams { count: 3000, ..SampleParams::default() };
    let made = sample(y.view(), &params, &mut |_| None).unwrap();
    assert_eq!(made.coefficients.len(), 3000);
    // 1 % of draws lie outside the region
    let outside = made.refused.values().sum::<usize>() as f64 / made.tries as f64;
    assert!((0.005..0.016).contains(&outside), "{outside}");
    assert_eq!(made, sample(y.view(), &params, &mut |_| None).unwrap());
    let report = judge(&made, y.view()).unwrap();
    assert!(report.sd_ratios.iter().all(|r| (0.92..1.05).contains(r)), "{:?}", report.sd_ratios);
    assert!(report.largest_correlation_difference < 0.07, "{report:?}");
    assert!(report.closer_than_people < 0.03, "{report:?}");
    assert!((report.nearest_mm[2] / report.nearest_between_people_mm[2] - 1.0).abs() < 0.15, "{report:?}");
    // copies are found out
    let mut copies = made.clone();
    copies.coefficients = y.outer_iter().map(|r| r.iter().map(|x| x + 0.01).collect()).collect();
    assert!(judge(&copies, y.view()).unwrap().closer_than_people > 0.9);
}

#[test]
fn unwanted_bodies_are_refused_and_counted() {
    let y = people();
    let params = SampleParams { count: 200, ..SampleParams::default() };
    let tall = |c: &[f64]| (c[0] < 0.0).then(|| "it is too short".to_owned());
    let made = sample(y.view(), &params, &mut { tall }).unwrap();
    assert!(made.coefficients.iter().all(|c| c[0] >= 0.0));
    assert!(made.refused["it is too short"] > 100);
    let nothing = sample(y.view(), &params, &mut |_| Some("nothing will do".into()));
    assert!(matches!(nothing, Err(ShapeError::Refused { accepted: 0, .. })));
    let few = sample(y.slice(ndarray::s![..4, ..]), &params, &mut |_| None);
    assert!(matches!(few, Err(ShapeError::SmallGroup { .. })));
}
