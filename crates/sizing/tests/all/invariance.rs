//! What must not change a size system.

use formkin_sizing::{Method, Plan, SizeSystem};
use formkin_stats::random::stream;
use formkin_table::Table;
use rand::seq::SliceRandom;

use super::{crew, plan, words};

const METHODS: [Method; 3] = [Method::KMeans, Method::KMedoids, Method::GreatestCoverage];

fn mixed() -> Table {
    let mut people = crew(200, 1);
    let team: Vec<&str> = (0..200).map(|i| if i % 3 == 0 { "north" } else { "south" }).collect();
    people.texts.push(words("team", &team));
    people
}

fn asked(method: Method) -> Plan {
    let mut plan = plan(&[("chest_girth", 40.0), ("stature", 40.0)], 5);
    plan.by = Some("team".to_owned());
    plan.method = method;
    plan.repeats = 2;
    plan.curve = Some([4, 6]);
    plan
}

fn reordered(table: &Table, order: &[usize]) -> Table {
    let mut new = table.clone();
    new.ids = order.iter().map(|&i| table.ids[i].clone()).collect();
    for (c, old) in new.numbers.iter_mut().zip(&table.numbers) {
        c.values = order.iter().map(|&i| old.values[i]).collect();
    }
    for (c, old) in new.texts.iter_mut().zip(&table.texts) {
        c.values = order.iter().map(|&i| old.values[i].clone()).collect();
    }
    new
}

fn by_id(mut system: SizeSystem) -> SizeSystem {
    system.groups.iter_mut().for_each(|g| g.assignments.sort_by(|a, b| a.id.cmp(&b.id)));
    system
}

#[test]
fn the_order_of_the_table() {
    let people = mixed();
    let mut order: Vec<usize> = (0..200).collect();
    order.shuffle(&mut stream(2, "order"));
    let other = reordered(&people, &order);
    for method in METHODS {
        let (a, b) = (asked(method).derive(&people).unwrap(), asked(method).derive(&other).unwrap());
        assert_eq!(by_id(a), by_id(b));
    }
    // Assignments come in the table's order.
    let system = asked(Method::KMeans).derive(&other).unwrap();
    let north: Vec<&String> = other
        .ids
        .iter()
        .zip(&other.texts[0].values)
        .filter(|(_, t)| *t == "north")
        .map(|(id, _)| id)
        .collect();
    assert_eq!(system.groups[0].assignments.iter().map(|a| &a.id).collect::<Vec<_>>(), north);
}

#[test]
fn the_number_of_threads_and_a_second_run() {
    let people = mixed();
    for method in METHODS {
        let first = asked(method).derive(&people).unwrap();
        let one = rayon::ThreadPoolBuilder::new().num_threads(1).build().unwrap();
        assert_eq!(one.install(|| asked(method).derive(&people).unwrap()), first);
    }
}

#[test]
fn another_seed_deals_other_folds() {
    let people = mixed();
    let mut plan = asked(Method::KMedoids);
    let first = plan.derive(&people).unwrap();
    plan.seed = 99;
    let other = plan.derive(&people).unwrap();
    // k-medoids draw nothing; the folds do.
    assert_eq!(first.groups[0].sizes, other.groups[0].sizes);
    assert_ne!(first.coverage_held_out, other.coverage_held_out);
    assert!((first.coverage_held_out - other.coverage_held_out).abs() < 0.06);
}

#[test]
fn the_unit_of_the_table() {
    let people = mixed();
    let mut in_cm = people.clone();
    for c in &mut in_cm.numbers {
        c.unit = Some("cm".to_owned());
        c.values.iter_mut().flatten().for_each(|v| *v /= 10.0);
    }
    let mut plan = asked(Method::KMeans);
    plan.control.iter_mut().for_each(|c| c.unit = Some("mm".to_owned()));
    let (a, b) = (plan.derive(&people).unwrap(), plan.derive(&in_cm).unwrap());
    assert!((a.coverage_held_out - b.coverage_held_out).abs() < 1e-9);
    let chest = |s: &SizeSystem| s.groups[0].sizes[0].centre["chest_girth"];
    assert!((chest(&a) - 10.0 * chest(&b)).abs() < 1e-6);
}
