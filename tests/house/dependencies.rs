//! Which package may depend on which: left is lower, nothing points back.

use std::collections::{BTreeMap, BTreeSet};
use std::process::Command;

use serde_json::Value;

/// A package and those of the workspace that it may use.
const MAY_USE: &[(&str, &[&str])] = &[
    ("formkin-geometry", &[]),
    ("formkin-stats", &[]),
    ("formkin-table", &[]),
    ("formkin-cohort", &["geometry", "stats", "table"]),
    ("formkin-align", &["geometry", "stats"]),
    ("formkin-measure", &["geometry", "stats", "table"]),
    ("formkin-shape", &["geometry", "stats", "align"]),
    ("formkin-motion", &["geometry", "stats", "table", "align", "shape", "measure"]),
    ("formkin-sizing", &["stats", "table", "measure"]),
    ("formkin-datasets-demo", &["geometry", "stats", "table", "cohort"]),
    ("formkin-report", &["geometry"]),
    (
        "formkin-tasks",
        &["geometry", "stats", "table", "cohort", "align", "measure", "shape", "motion", "sizing", "report"],
    ),
    ("formkin-study", &["cohort", "report", "table", "tasks"]),
    (
        "formkin",
        &[
            "geometry",
            "stats",
            "table",
            "cohort",
            "align",
            "measure",
            "shape",
            "motion",
            "sizing",
            "report",
            "tasks",
            "study",
            "datasets-demo",
        ],
    ),
];

/// Packages that only test or time the others: they may use all of them, and none of those may use them.
const ONLOOKERS: &[&str] = &["formkin-tests", "formkin-benches"];

/// Libraries that one package alone may name, by the start of the library's name.
const KEEPERS: &[(&str, &str)] = &[
    ("faer", "formkin-stats"),
    ("ndarray-linalg", "formkin-stats"),
    ("openblas-src", "formkin-stats"),
    ("linfa", "formkin-stats"),
    ("csv", "formkin-table"),
    ("parquet", "formkin-table"),
    ("clap", "formkin"),
    ("anyhow", "formkin"),
    ("indicatif", "formkin"),
];

/// The workspace's packages, each with the names of what it depends on outside its tests.
fn packages() -> BTreeMap<String, BTreeSet<String>> {
    let cargo = std::env::var_os("CARGO").unwrap_or_else(|| "cargo".into());
    let told = Command::new(cargo)
        .args(["metadata", "--format-version", "1", "--no-deps", "--offline"])
        .current_dir(formkin_tests::checkout())
        .output()
        .expect("cargo runs");
    assert!(told.status.success(), "{}", String::from_utf8_lossy(&told.stderr));
    let told: Value = serde_json::from_slice(&told.stdout).expect("cargo metadata is JSON");
    let mut found = BTreeMap::new();
    for package in told["packages"].as_array().expect("packages") {
        let uses = package["dependencies"].as_array().expect("dependencies").iter();
        let uses = uses
            .filter(|d| d["kind"] != "dev")
            .map(|d| d["name"].as_str().expect("a name").to_owned())
            .collect();
        found.insert(package["name"].as_str().expect("a name").to_owned(), uses);
    }
    found
}

/// Every edge between packages of the workspace that the table does not allow.
fn wrong_edges(packages: &BTreeMap<String, BTreeSet<String>>) -> Vec<String> {
    let mut wrong = Vec::new();
    for (package, uses) in packages {
        let inner = uses.iter().filter(|u| packages.contains_key(*u));
        if ONLOOKERS.contains(&package.as_str()) {
            continue;
        }
        let Some((_, may)) = MAY_USE.iter().find(|(name, _)| name == package) else {
            wrong.push(format!("{package} is not in the table"));
            continue;
        };
        let allowed = |u: &&String| !may.iter().any(|m| format!("formkin-{m}") == **u);
        wrong.extend(inner.filter(allowed).map(|u| format!("{package} -> {u}")));
    }
    wrong
}

/// Every use of a library by a package that is not its keeper.
fn wrong_libraries(packages: &BTreeMap<String, BTreeSet<String>>) -> Vec<String> {
    let mut wrong = Vec::new();
    for (package, uses) in packages.iter().filter(|(p, _)| !ONLOOKERS.contains(&p.as_str())) {
        for (library, keeper) in KEEPERS.iter().filter(|(_, keeper)| keeper != package) {
            let named = |u: &&String| {
                *u == library
                    || u.starts_with(&format!("{library}-"))
                    || u.starts_with(&format!("{library}_"))
            };
            wrong.extend(
                uses.iter().filter(named).map(|u| format!("{package} names {u}, which is {keeper}'s")),
            );
        }
    }
    wrong
}

#[test]
fn dependencies_point_one_way() {
    let packages = packages();
    for (name, _) in MAY_USE {
        assert!(packages.contains_key(*name), "{name} is in the table but not in the workspace");
    }
    assert_eq!(wrong_edges(&packages), [""; 0]);
}

#[test]
fn a_library_is_named_by_its_keeper_alone() {
    assert_eq!(wrong_libraries(&packages()), [""; 0]);
}

#[test]
fn the_checks_find_what_is_wrong() {
    let uses = |list: &[&str]| list.iter().map(|s| (*s).to_owned()).collect::<BTreeSet<_>>();
    let mut p = packages();
    p.insert("formkin-align".into(), uses(&["formkin-cohort", "formkin-geometry", "faer", "clap_complete"]));
    p.insert("formkin-new".into(), uses(&[]));
    assert_eq!(wrong_edges(&p), ["formkin-align -> formkin-cohort", "formkin-new is not in the table"]);
    assert_eq!(
        wrong_libraries(&p),
        [
            "formkin-align names faer, which is formkin-stats's",
            "formkin-align names clap_complete, which is formkin's"
        ]
    );
}
