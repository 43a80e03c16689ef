//! Intervals in simulation: how often they hold the truth.

use formkin_sizing::{Count, Method};

use super::{counted, crew, plan};

/// 500 draws of 100 people. The truth of a draw is the coverage of its own sizes among 4,000 others.
#[test]
fn intervals_at_95_percent_hold_the_coverage_of_others_in_93_to_97_percent() {
    let fresh = crew(4000, 77_000);
    let mut plan = plan(&[("chest_girth", 50.0), ("stature", 50.0)], 4);
    plan.method = Method::KMeans;
    plan.starts = 2;
    plan.folds = 10;
    plan.repeats = 2;
    plan.bootstrap = 100;
    plan.sizes.count = Count::Each(4);
    let draws = 500;
    let (mut wilson, mut resampled) = (0, 0);
    for draw in 0..draws {
        let system = plan.derive(&crew(100, 500 + draw)).unwrap();
        let centres: Vec<(f64, f64)> =
            system.groups[0].sizes.iter().map(|s| (s.centre["chest_girth"], s.centre["stature"])).collect();
        let truth = counted(&fresh, &centres, 50.0);
        let holds = |i: (f64, f64)| usize::from(i.0 <= truth && truth <= i.1);
        wilson += holds(system.held_out_interval);
        resampled += holds(system.resampled.unwrap().coverage_interval);
    }
    let share = |hits: usize| hits as f64 / draws as f64;
    println!("Wilson {:.3}, resampled {:.3}", share(wilson), share(resampled));
    assert!((0.93..=0.97).contains(&share(wilson)), "{}", share(wilson));
    assert!((0.93..=0.97).contains(&share(resampled)), "{}", share(resampled));
}
