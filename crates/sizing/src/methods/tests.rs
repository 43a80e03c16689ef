use super::*;
use crate::axes::axes_of;
use crate::{Control, Count, Plan};

fn on(values: &[f64], tolerance: (f64, f64), method: Method, k: usize) -> Vec<f64> {
    let rows: Vec<[f64; 1]> = values.iter().map(|v| [*v]).collect();
    let points: Vec<&[f64]> = rows.iter().map(|r| &r[..]).collect();
    let axes = axes_of(&[tolerance]);
    let plan = Plan { method, ..Plan::new(vec![Control::new("d0", 10.0, 10.0)], Count::Each(2)) };
    let effort = Effort { starts: 20, nodes: 200 };
    let found = Problem::new(&points, &[], &axes, &plan, method)
        .find(&vec![1.0; values.len()], k, None, effort)
        .unwrap();
    found.places.iter().map(|p| (p.centre[0] * 1e9).round() / 1e9).collect()
}

#[test]
fn two_heaps_by_every_method() {
    let x = [100.0, 101.0, 102.0, 200.0, 204.0, 208.0];
    assert_eq!(on(&x, (10.0, 10.0), Method::KMeans, 2), [101.0, 204.0]);
    assert_eq!(on(&x, (10.0, 10.0), Method::KMedoids, 2), [101.0, 204.0]);
    assert_eq!(on(&x, (10.0, 10.0), Method::DynamicProgramming, 2), [101.0, 204.0]);
    for (found, best) in on(&x, (10.0, 10.0), Method::GaussianMixture, 2).iter().zip([101.0, 204.0]) {
        assert!((found - best).abs() < 0.1);
    }
    for (found, best) in on(&x, (10.0, 10.0), Method::LeastLoss, 2).iter().zip([101.0, 204.0]) {
        assert!((found - best).abs() < 0.2, "{found}");
    }
    let covering = on(&x, (10.0, 10.0), Method::GreatestCoverage, 2);
    assert!(
        covering.len() == 2
            && (100.0..=102.0).contains(&covering[0])
            && (198.0..=210.0).contains(&covering[1])
    );
    // A third size covers nobody new, so there is none.
    assert_eq!(on(&x, (10.0, 10.0), Method::GreatestCoverage, 3).len(), 2);
}

#[test]
fn uneven_tolerances_put_the_value_off_the_middle() {
    // The wearers' range 100 +- 15 is the value 95 with 10 below and 20 above.
    assert_eq!(on(&[90.0, 100.0, 110.0], (10.0, 20.0), Method::KMeans, 1), [95.0]);
    // Larger wearers cost half of what smaller ones do, so that the lowest of three is as good as it gets.
    assert_eq!(on(&[90.0, 100.0, 110.0], (1.0, 20.0), Method::KMedoids, 1), [90.0]);
}

#[test]
fn no_more_sizes_than_people_who_differ() {
    assert_eq!(on(&[5.0, 5.0, 5.0, 90.0], (10.0, 10.0), Method::KMeans, 3), [5.0, 90.0]);
    assert_eq!(on(&[5.0, 5.0, 5.0, 90.0], (10.0, 10.0), Method::KMedoids, 3), [5.0, 90.0]);
}

/// Many people in three dimensions, of which a fine grid would have tens of thousands of candidates a person.
#[test]
fn a_grid_of_candidates_in_three_dimensions_stays_small() {
    let value = |i: usize, k: usize| 1000.0 + ((i * k) % 500) as f64;
    let rows: Vec<[f64; 3]> = (0..5000).map(|i| [value(i, 7), value(i, 11), value(i, 13)]).collect();
    let points: Vec<&[f64]> = rows.iter().map(|r| &r[..]).collect();
    let axes = axes_of(&[(40.0, 40.0), (40.0, 40.0), (40.0, 40.0)]);
    let began = std::time::Instant::now();
    let reach = Reach::on_grid(&points, &axes);
    assert!(began.elapsed().as_secs() < 10, "it was minutes, and gigabytes");
    assert!(points.iter().all(|p| reach.places.iter().any(|c| crate::axes::Misfit::of(p, c).covers())));
}

#[test]
fn intervals_about_the_mean_cost_nothing_however_narrow() {
    let x: Vec<f64> = (0..40).map(|i| 1.0 + f64::from(i) * 49.0).collect();
    // half a milliard of them lie between the least and the greatest
    let found = on(&x, (2e-6, 2e-6), Method::Intervals, 3);
    assert_eq!(found.len(), 3);
    assert!(found.iter().all(|c| x.iter().any(|v| (v - c).abs() <= 2e-6 + 1e-9)), "{found:?}");
    // of equal ones the smaller; bounds belong to the upper interval: 85-95, 95-105, 105-115
    assert_eq!(on(&[90.0, 95.0, 100.0, 105.0, 110.0], (5.0, 5.0), Method::Intervals, 2), [100.0, 110.0]);
}
