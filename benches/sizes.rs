//! A committee's whole question at once: 5,000 people of 30 dimensions, 12 sizes on two control dimensions, every method that suits them with coverage held out, and 1,000 resamples of the derivation. Once,
//! timed with a clock: it is minutes of work to repeat. (Dynamic programming has one control dimension only: it is timed alone, on the first.)

#![allow(missing_docs, clippy::unwrap_used, clippy::print_stdout, reason = "a bench says its time")]

use std::time::Instant;

use formkin_sizing::{Control, Count, Method, Plan, Types};
use formkin_stats::random::stream;
use formkin_table::{NumberColumn, Table};
use rand::Rng;

/// Dimensions of equal correlation .7 about 1,000 mm with an SD of 80 mm; the sum of twelve evenly spread numbers stands for a normal one.
fn people(n: usize, dimensions: usize) -> Table {
    let mut random = stream(1, "people of the benches");
    let mut normal = || (0..12).map(|_| random.r#gen::<f64>()).sum::<f64>() - 6.0;
    let mut columns = vec![Vec::with_capacity(n); dimensions];
    for _ in 0..n {
        let common = normal();
        for column in &mut columns {
            column.push(Some(1000.0 + 80.0 * (0.7_f64.sqrt() * common + 0.3_f64.sqrt() * normal())));
        }
    }
    let named = |(i, values)| NumberColumn { name: format!("d{i}"), unit: Some("mm".to_owned()), values };
    Table {
        id: "participant".to_owned(),
        ids: (0..n).map(|i| format!("p{i:05}")).collect(),
        numbers: columns.into_iter().enumerate().map(named).collect(),
        texts: Vec::new(),
    }
}

fn main() {
    let table = people(5000, 30);
    let mut controls = vec![Control::new("d0", 40.0, 40.0), Control::new("d1", 40.0, 40.0)];
    controls[1].types = Some(Types { count: 3, drop: false });
    let mut plan = Plan::new(controls, Count::Each(12));
    plan.method = Method::KMedoids;
    plan.secondary = (2..30).map(|i| format!("d{i}")).collect();
    plan.compare = vec![
        Method::KMeans,
        Method::KMedoids,
        Method::GaussianMixture,
        Method::GreatestCoverage,
        Method::LeastLoss,
        Method::Intervals,
        Method::Nested,
        Method::ShapeClusters,
    ];
    plan.shape = (2..8).map(|i| format!("d{i}")).collect();
    plan.repeats = 1;
    plan.starts = 5;
    plan.bootstrap = 1000;
    for method in plan.compare.clone() {
        let began = Instant::now();
        let alone = Plan { method, compare: Vec::new(), bootstrap: 0, secondary: Vec::new(), ..plan.clone() };
        let system = alone.derive(&table).unwrap();
        println!(
            "{:<20} held out {:.3}  ceiling {:.3}  {:.1} s",
            method.name(),
            system.coverage_held_out,
            system.ceiling.unwrap(),
            began.elapsed().as_secs_f64()
        );
    }
    let began = Instant::now();
    let mut one = Plan::new(vec![Control::new("d0", 20.0, 20.0)], Count::Each(12));
    (one.method, one.repeats, one.bootstrap) = (Method::DynamicProgramming, 1, 1000);
    let system = one.derive(&table).unwrap();
    println!(
        "dynamic-programming  held out {:.3}, with 1,000 resamples {:.1} s",
        system.coverage_held_out,
        began.elapsed().as_secs_f64()
    );
    let began = Instant::now();
    let system = plan.derive(&table).unwrap();
    println!(
        "all methods, 1,000 resamples: held out {:.3}, {:.1} s",
        system.coverage_held_out,
        began.elapsed().as_secs_f64()
    );
}
