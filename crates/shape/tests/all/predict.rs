//! Predictions against known normal models.

#![allow(clippy::unwrap_used)] // helpers of tests are tests

use std::collections::BTreeMap;

use formkin_align::{AlignParams, Weighting};
use formkin_geometry::{Point, ShapeArray, ShapeSource, Subset, Topology};
use formkin_shape::predict::{
    DimensionMoments, Given, People, PlsParams, PredictionParams, Variable, VariableKind,
    validate_prediction, vertex_sd_mm,
};
use formkin_shape::{ShapeError, SpaceParams};
use formkin_stats::random::stream;
use ndarray::{Array2, array};
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};

fn normal(rng: &mut ChaCha8Rng) -> f64 {
    StandardNormal.sample(rng)
}

fn variable(name: &str) -> Variable {
    Variable { name: name.into(), unit: Some("mm".into()), kind: VariableKind::Dimension }
}

/// A person of a known model: two coefficients and three variables that go with them.
fn person(rng: &mut ChaCha8Rng) -> (Vec<f64>, Vec<f64>) {
    let b = vec![40.0 * normal(rng), 15.0 * normal(rng)];
    let m = vec![
        1700.0 + 1.5 * b[0] + 10.0 * normal(rng),
        950.0 + 0.5 * b[0] + 2.0 * b[1] + 8.0 * normal(rng),
        80.0 + 0.1 * b[0] + 0.4 * b[1] + 3.0 * normal(rng),
    ];
    (b, m)
}

fn moments(people: usize, rng: &mut ChaCha8Rng) -> DimensionMoments {
    let (b, m): (Vec<_>, Vec<_>) = (0..people).map(|_| person(rng)).unzip();
    let m: Vec<Vec<Option<f64>>> = m.into_iter().map(|r| r.into_iter().map(Some).collect()).collect();
    let names = vec![variable("stature"), variable("girth"), variable("mass")];
    DimensionMoments::of(&b, names, &m, [0.0, 0.0, 1.0]).unwrap()
}

#[test]
fn the_conditional_mean_and_covariance_are_those_of_the_model() {
    let mut rng = stream(5, "model");
    let found =
        moments(100_000, &mut rng).condition(&[Given { variable: 0, value: 1760.0, error: 0.0 }]).unwrap();
    // by hand: S_bm = 1.5 * 1600 = 2400, S_mm = 2.25 * 1600 + 100 = 3700
    assert!((found.coefficients_mm[0] - 2400.0 / 3700.0 * 60.0).abs() < 0.3);
    assert!(found.coefficients_mm[1].abs() < 0.3);
    let variance = 1600.0 - 2400.0 * 2400.0 / 3700.0;
    assert!((found.covariance_mm2[0][0] / variance - 1.0).abs() < 0.03);
    assert!((found.covariance_mm2[1][1] / 225.0 - 1.0).abs() < 0.03);
    assert!((found.variables[1].value - 950.0 - 0.5 * 2400.0 / 3700.0 * 60.0).abs() < 0.3);
    assert_eq!(found.variables[0].value, 1760.0);
    assert_eq!(found.variables[0].sd, 0.0);
    assert!((found.mahalanobis - 60.0 / 3700f64.sqrt()).abs() < 0.01);
    assert!(!found.outside);
    // an error of measurement draws the prediction to the mean: 2400 / (3700 + 900)
    let mut rng = stream(5, "model");
    let found =
        moments(100_000, &mut rng).condition(&[Given { variable: 0, value: 1760.0, error: 30.0 }]).unwrap();
    assert!((found.coefficients_mm[0] - 2400.0 / 4600.0 * 60.0).abs() < 0.3);
}

#[test]
fn nominal_95_percent_intervals_cover_95_percent_of_new_people() {
    // 40 people and two given values: a normal interval without its degrees of freedom would cover less
    let mut rng = stream(7, "coverage");
    let (mut within_b, mut within_m, mut within_v, mut tries) = (0, 0, 0, 0);
    let modes = vec![vec![[0.3, 0.5, 0.2], [1.0, 0.0, 0.1]], vec![[0.0, 0.4, 0.9], [0.2, 0.2, 0.2]]];
    for _ in 0..600 {
        let known = moments(40, &mut rng);
        for _ in 0..2 {
            let (b, m) = person(&mut rng);
            let given = [0, 2].map(|v| Given { variable: v, value: m[v], error: 0.0 });
            let found = known.condition(&given).unwrap();
            let half = found.t_95 * found.covariance_mm2[1][1].sqrt();
            within_b += i32::from((b[1] - found.coefficients_mm[1]).abs() <= half);
            within_m +=
                i32::from((m[1] - found.variables[1].value).abs() <= found.t_95 * found.variables[1].sd);
            let one = [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]];
            let sd = vertex_sd_mm(&modes, &found.covariance_mm2, 0.0, &one).unwrap();
            let off: f64 = (0..2).map(|k| (b[k] - found.coefficients_mm[k]) * modes[k][0][1]).sum();
            within_v += i32::from(off.abs() <= found.t_95 * sd[0][1]);
            tries += 1;
        }
    }
    for within in [within_b, within_m, within_v] {
        let share = f64::from(within) / f64::from(tries);
        assert!((0.93..=0.97).contains(&share), "{share}");
    }
}

#[test]
fn one_in_a_hundred_is_outside() {
    let mut rng = stream(9, "outside");
    let known = moments(5000, &mut rng);
    let outside = (0..4000)
        .filter(|_| {
            let (_, m) = person(&mut rng);
            known
                .condition(&[0, 1, 2].map(|v| Given { variable: v, value: m[v], error: 0.0 }))
                .unwrap()
                .outside
        })
        .count();
    assert!((20..=62).contains(&outside), "{outside}");
}

#[test]
fn what_cannot_be_given_is_refused() {
    let mut rng = stream(1, "refused");
    let (b, mut m): (Vec<_>, Vec<_>) = (0..30).map(|_| person(&mut rng)).unzip();
    for row in &mut m {
        row.push(row[0] - row[1]);
        row.push(7.0);
    }
    let mut m: Vec<Vec<Option<f64>>> = m.into_iter().map(|r| r.into_iter().map(Some).collect()).collect();
    m[3][2] = None;
    let names = ["stature", "girth", "mass", "difference", "constant"].map(variable).to_vec();
    let known = DimensionMoments::of(&b, names, &m, [0.0, 0.0, 1.0]).unwrap();
    assert_eq!((known.people, known.incomplete), (29, 1));
    let given = |list: &[usize]| -> Vec<Given> {
        list.iter().map(|&v| Given { variable: v, value: 1.0, error: 0.0 }).collect()
    };
    for (list, word) in
        [(vec![0, 0], "twice"), (vec![9], "only 5"), (vec![0, 1, 3], "follows"), (vec![4], "same for all")]
    {
        match known.condition(&given(&list)) {
            Err(ShapeError::Given { reason, .. }) => assert!(reason.contains(word), "{reason}"),
            other => panic!("{list:?}: {other:?}"),
        }
    }
    assert!(known.condition(&[Given { variable: 0, value: f64::NAN, error: 0.0 }]).is_err());
    // with errors, values that follow from each other may be given
    assert!(known.condition(&[0, 1, 3].map(|v| Given { variable: v, value: 1000.0, error: 5.0 })).is_ok());
}

#[test]
fn partial_least_squares_with_all_components_is_least_squares() {
    let mut rng = stream(2, "pls");
    let known = moments(50, &mut rng);
    let given = [0, 1].map(|v| Given { variable: v, value: known.means[v] + 20.0, error: 0.0 });
    let exact = known.condition(&given).unwrap();
    let (b, m) =
        known.partial_least_squares(&given, &PlsParams { components: 2, scale_responses: false }).unwrap();
    for (x, y) in b.iter().zip(&exact.coefficients_mm) {
        assert!((x - y).abs() < 1e-9);
    }
    assert!((m[2] - exact.variables[2].value).abs() < 1e-9);
    assert!(
        known.partial_least_squares(&given, &PlsParams { components: 3, scale_responses: false }).is_err()
    );
}

#[test]
fn partial_least_squares_of_a_small_table() {
    // scikit-learn 1.7 PLSRegression(n_components=1): the documentation's X = (0,0,1) (1,0,0) (2,2,2) (2,5,4), Y = (.1,-.2) (.9,1.1) (6.2,5.9) (11.9,12.3),
    // by hand: w is the first left singular vector of X^T Y, the prediction runs along it
    let x = array![[0.0, 0.0, 1.0], [1.0, 0.0, 0.0], [2.0, 2.0, 2.0], [2.0, 5.0, 4.0]];
    let y = array![[0.1, -0.2], [0.9, 1.1], [6.2, 5.9], [11.9, 12.3]];
    let centre = |a: &Array2<f64>| {
        let mut c = a.clone();
        for mut column in c.columns_mut() {
            let mean = column.sum() / 4.0;
            column.mapv_inplace(|v| v - mean);
        }
        c
    };
    let (x, y) = (centre(&x), centre(&y));
    let (xx, xy, yy) = (x.t().dot(&x) / 3.0, x.t().dot(&y) / 3.0, y.t().dot(&y) / 3.0);
    let yy = [yy[[0, 0]], yy[[1, 1]]];
    let all = PlsParams { components: 3, scale_responses: true }.fit(&xx, &xy, &yy).unwrap();
    // three components of three columns and four rows: exact
    for i in 0..4 {
        for j in 0..2 {
            let found: f64 = (0..3).map(|k| x[[i, k]] * all.coefficients[k][j]).sum();
            assert!((found - y[[i, j]]).abs() < 0.6);
        }
    }
}

/// 60 bent sheets of 30 vertices with two numbers that go with them; some noise that no number tells of.
fn sheets() -> (ShapeArray, Topology, Vec<Vec<Option<f64>>>) {
    let mut rng = stream(3, "validated");
    let mut source = ShapeArray::new(30);
    let mut values = Vec::new();
    for _ in 0..60 {
        let (a, b) = (normal(&mut rng), normal(&mut rng));
        let shape: Vec<Point> = (0..30)
            .map(|i| {
                let (u, v) = (f64::from(i % 5) / 4.0, f64::from(i / 5) / 5.0);
                let at = [300.0 * u, 60.0 * (3.0 * u).sin() * (1.0 + 0.2 * b), 900.0 * v * (1.0 + 0.05 * a)];
                at.map(|c| c + 2.0 * normal(&mut rng))
            })
            .collect();
        source.push(&shape).unwrap();
        values.push(vec![Some(900.0 + 45.0 * a + 5.0 * normal(&mut rng)), Some(b + 0.2 * normal(&mut rng))]);
    }
    let mut triangles = Vec::new();
    for row in 0..5u32 {
        for c in 0..4u32 {
            let i = 5 * row + c;
            triangles.extend([[i, i + 1, i + 5], [i + 1, i + 6, i + 5]]);
        }
    }
    (source, Topology::new(30, triangles).unwrap(), values)
}

#[test]
fn cross_validated_errors_are_those_of_plain_refits() {
    let (source, topology, values) = sheets();
    let align = AlignParams { weighting: Weighting::Plain, ..AlignParams::default() };
    let weights = vec![1.0 / 30.0; 30];
    let names = ["length", "bend"].map(variable);
    let regions = BTreeMap::from([
        ("all".to_owned(), (0..30).collect::<Vec<u32>>()),
        ("low".to_owned(), (0..15).collect()),
        ("high".to_owned(), (15..30).collect()),
    ]);
    let params = PredictionParams { given: vec![0], folds: 6, seed: 4, most_modes: 5 };
    let people = People { source: &source, weights: &weights, align: &align };
    let found = validate_prediction(&people, &names, &values, &regions, &params).unwrap();
    assert_eq!((found.people, found.folds), (60, 6));
    // the same, each fold fitted from its shapes alone
    let own: Vec<usize> = (0..60).collect();
    let (mut square, mut bend, mut low) = (0.0, 0.0, 0.0);
    for fold in formkin_stats::folds::grouped_folds(&own, 6, 4).unwrap() {
        let settings = SpaceParams {
            align: align.clone(),
            max_modes: Some(5),
            cross_validate: false,
            ..SpaceParams::default()
        };
        let part = Subset::new(&source, &fold.train);
        let fitted = settings.fit(&part, &topology, &fold.train, None, &|_, _| ()).unwrap();
        let m: Vec<Vec<Option<f64>>> = fold.train.iter().map(|i| values[*i].clone()).collect();
        let known = DimensionMoments::of(&fitted.coefficients, names.to_vec(), &m, [0.0, 0.0, 1.0]).unwrap();
        for i in fold.test {
            let given = [Given { variable: 0, value: values[i][0].unwrap(), error: 0.0 }];
            let told = known.condition(&given).unwrap();
            let shape = source.read_shape(i).unwrap();
            let pose = fitted.space.project(&shape).unwrap().transform;
            let expected = fitted.space.reconstruct(&told.coefficients_mm);
            for (v, (p, q)) in shape.iter().zip(&expected).enumerate() {
                let d: f64 = pose.apply(*p).iter().zip(q).map(|(a, b)| (a - b).powi(2)).sum();
                square += d / 30.0;
                low += if v < 15 { d / 15.0 } else { 0.0 };
            }
            bend += (told.variables[1].value - values[i][1].unwrap()).powi(2);
        }
    }
    let conditional = &found.methods[0];
    let near = |a: f64, b: f64| assert!((a / b - 1.0).abs() < 1e-3, "{a} {b}");
    near(conditional.rms_mm, (square / 60.0f64).sqrt());
    near(conditional.regions.iter().find(|r| r.region == "low").unwrap().rms_mm, (low / 60.0f64).sqrt());
    near(conditional.regions.iter().find(|r| r.region == "all").unwrap().rms_mm, conditional.rms_mm);
    near(conditional.dimensions[0].rms, (bend / 60.0f64).sqrt());
    assert_eq!(conditional.dimensions[0].variable, "bend");
    assert!(conditional.dimensions[0].coverage_95.unwrap() > 0.88);
    let pls = &found.methods[1];
    assert_eq!(pls.components, Some(1));
    near(pls.rms_mm, conditional.rms_mm);
    let mean = &found.methods[2];
    assert!(
        mean.method == "mean"
            && mean.rms_mm > 1.2 * conditional.rms_mm
            && mean.dimensions[0].coverage_95.is_none()
    );
    let told = found.intervals.unwrap();
    assert!((0.93..0.975).contains(&told.coverage_95) && (0.9..1.1).contains(&told.factor), "{told:?}");
    // rows with gaps are left out; too few are refused
    let mut gaps = values.clone();
    gaps[3][1] = None;
    assert_eq!(validate_prediction(&people, &names, &gaps, &regions, &params).unwrap().people, 59);
    let none: Vec<Vec<Option<f64>>> = vec![vec![None, None]; 60];
    assert!(validate_prediction(&people, &names, &none, &regions, &params).is_err());
}
