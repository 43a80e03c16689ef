//! Size systems against answers known beforehand, theory, and plain counting.
#![allow(clippy::unwrap_used, reason = "a failed unwrap is a failed test")]

mod derived;
mod intervals;
mod invariance;
mod methods;
mod optimism;
mod refused;

use formkin_sizing::{Control, Count, Plan};
use formkin_stats::random::stream;
use formkin_table::{NumberColumn, Sheet, Table, TextColumn};
use rand::Rng;
use rand_distr::StandardNormal;

/// What a sheet is as a file.
fn csv(sheet: &Sheet) -> String {
    String::from_utf8(sheet.to_csv().unwrap()).unwrap()
}

/// A control dimension with even tolerances.
fn control(dimension: &str, tolerance: f64) -> Control {
    Control::new(dimension, tolerance, tolerance)
}

fn plan(controls: &[(&str, f64)], count: usize) -> Plan {
    Plan::new(controls.iter().map(|(d, t)| control(d, *t)).collect(), Count::Each(count))
}

fn column(name: &str, unit: &str, values: &[f64]) -> NumberColumn {
    NumberColumn {
        name: name.to_owned(),
        unit: Some(unit.to_owned()),
        values: values.iter().map(|v| Some(*v)).collect(),
    }
}

fn table(columns: Vec<NumberColumn>) -> Table {
    let ids = (0..columns[0].values.len()).map(|i| format!("p{i:05}")).collect();
    Table { id: "participant".to_owned(), ids, numbers: columns, texts: Vec::new() }
}

fn words(name: &str, values: &[&str]) -> TextColumn {
    TextColumn { name: name.to_owned(), values: values.iter().map(|v| (*v).to_owned()).collect() }
}

/// `n` people with chest girth and stature in mm: normal, SD 80 and 90, correlation 0.85.
fn crew(n: usize, seed: u64) -> Table {
    let mut rng = stream(seed, "crew");
    let mut normal = || rng.sample::<f64, _>(StandardNormal);
    let (mut chest, mut stature) = (Vec::new(), Vec::new());
    for _ in 0..n {
        let (a, b) = (normal(), normal());
        chest.push(1000.0 + 80.0 * a);
        stature.push(1740.0 + 90.0 * (0.85 * a + (1.0 - 0.85_f64 * 0.85).sqrt() * b));
    }
    table(vec![column("chest_girth", "mm", &chest), column("stature", "mm", &stature)])
}

/// Share of the people within `tolerance` of one of `centres` in both columns, counted one by one.
fn counted(table: &Table, centres: &[(f64, f64)], tolerance: f64) -> f64 {
    let value = |c: usize, i: usize| table.numbers[c].values[i].unwrap();
    let fits = |i: usize, c: &(f64, f64)| {
        (value(0, i) - c.0).abs() <= tolerance + 1e-7 && (value(1, i) - c.1).abs() <= tolerance + 1e-7
    };
    let n = table.ids.len();
    (0..n).filter(|&i| centres.iter().any(|c| fits(i, c))).count() as f64 / n as f64
}
