//! Coverage of size systems against what theory and simulation say of normal people.

use formkin_sizing::{Plan, SizeSystem};
use formkin_stats::random::stream;
use formkin_table::{NumberColumn, Table};

use crate::theory::normal;

/// So many people with `dimensions` normal dimensions of mean 1000 mm and SD 100 mm, each pair correlated by `r`.
fn people(n: usize, dimensions: usize, r: f64, seed: u64) -> Table {
    let mut random = stream(seed, "people of the size systems");
    let mut columns = vec![Vec::new(); dimensions];
    for _ in 0..n {
        let common = normal(&mut random);
        for column in &mut columns {
            let own = normal(&mut random);
            column.push(Some(1000.0 + 100.0 * (r.sqrt() * common + (1.0 - r).sqrt() * own)));
        }
    }
    let numbers = columns.into_iter().enumerate();
    Table {
        id: "participant".into(),
        ids: (0..n).map(|i| format!("p{i}")).collect(),
        numbers: numbers
            .map(|(i, values)| NumberColumn { name: format!("d{i}"), unit: Some("mm".into()), values })
            .collect(),
        texts: Vec::new(),
    }
}

fn derive(table: &Table, method: &str, sizes: usize, tolerance: f64) -> SizeSystem {
    let mut plan = format!("method = \"{method}\"\nfolds = 5\nrepeats = 2\n[sizes]\ncount = {sizes}\n");
    for c in &table.numbers {
        plan += &format!(
            "[[control]]\ndimension = \"{}\"\ntolerance = {{ below = {tolerance}, above = {tolerance} }}\n",
            c.name
        );
    }
    Plan::from_toml(&plan).unwrap().derive(table).unwrap()
}

#[test]
fn independent_limits_on_twelve_dimensions_hold_few_people() {
    // 5-95 % limits on each of 12 equicorrelated normal dimensions hold .28 (r = 0), .47 (.5), .60 (.7) of people (C by simulation;
    // .28 is 0.9^12). One size at the mean with a tolerance of 1.645 SD is just that.
    for (r, share) in [(0.0, 0.28), (0.5, 0.47), (0.7, 0.60)] {
        let system = derive(&people(4000, 12, r, 3), "k-means", 1, 164.485_36);
        assert!((system.coverage_in_sample - share).abs() < 0.025, "r = {r}: {}", system.coverage_in_sample);
        // One size at the mean is not fitted to anybody: held out it covers the same.
        assert!((system.coverage_held_out - system.coverage_in_sample).abs() < 0.01);
    }
}

#[test]
fn greedy_choices_promise_more_than_they_hold() {
    // Two normal dimensions, 8 sizes: chosen on few people they cover them far better than others, and less so on many
    // (derived: in sample against fresh people, .90/.70 at n = 50, .81/.78 at n = 1000 for SD 8 and 9 cm, r .85, +-4 cm). Here both
    // SDs are 10 cm, so +-4.7 cm.
    let gap = |n| {
        let found = derive(&people(n, 2, 0.85, 5), "greatest-coverage", 8, 47.0);
        (found.coverage_in_sample, found.coverage_held_out)
    };
    let (few_in, few_out) = gap(50);
    let (many_in, many_out) = gap(1000);
    assert!(few_in - few_out > 0.08, "{few_in} against {few_out}");
    assert!(many_in - many_out < 0.06 && many_in >= many_out, "{many_in} against {many_out}");
}

#[test]
fn the_interval_held_out_holds_the_coverage_of_fresh_people() {
    // The sizes of 300 people, tried on 20,000 fresh ones.
    let system = derive(&people(300, 2, 0.5, 8), "k-means", 10, 50.0);
    let fresh = people(20_000, 2, 0.5, 9);
    let sizes = &system.groups[0].sizes;
    let value = |i: usize, d: usize| fresh.numbers[d].values[i].unwrap();
    let covered = (0..fresh.ids.len())
        .filter(|&i| {
            sizes.iter().any(|z| (0..2).all(|d| (z.ranges[d].low..=z.ranges[d].high).contains(&value(i, d))))
        })
        .count();
    let share = covered as f64 / fresh.ids.len() as f64;
    let (low, high) = system.held_out_interval;
    assert!(low < share && share < high, "{share} is outside {low} to {high}");
    assert!((system.coverage_held_out - share).abs() < 0.05);
}
