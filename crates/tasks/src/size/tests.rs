use std::path::{Path, PathBuf};

use serde_json::Value;

use super::*;
use crate::facts::Column;
use crate::problem::Given;

const PLAN: &str = "by = 'sex'\nfolds = 5\nrepeats = 1\nstarts = 2\n[sizes]\ncount = 2\n[[control]]\ndimension = 'chest, relaxed'\ntolerance = { below = 60, above = 60 }\n";

/// Forty people with a dimension whose name has a comma.
fn people() -> String {
    let line =
        |i: usize| format!("P{i:02},{},{}\n", if i.is_multiple_of(2) { "f" } else { "m, tall" }, 820 + 9 * i);
    let rows: String = (0..40).map(line).collect::<String>().replace("m, tall", "\"m, tall\"");
    format!("participant,sex,\"chest, relaxed_mm\"\n{rows}")
}

fn write(folder: &Path, name: &str, text: &str) -> PathBuf {
    let path = folder.join(name);
    std::fs::write(&path, text).unwrap();
    path
}

fn sources(folder: &Path) -> SizeSources {
    SizeSources {
        table: Some(write(folder, "people.csv", &people())),
        plan: Some(write(folder, "plan.toml", PLAN)),
        ..SizeSources::default()
    }
}

type Files = Vec<(String, Vec<u8>)>;

fn ran(sources: &SizeSources) -> (Value, Files, Vec<Section>) {
    let settings = SizeSettings::default();
    let inputs = Size::open(sources, &settings).unwrap();
    let made = Size::run(&settings, &inputs, &|_, _| ()).unwrap();
    let delivery = Size::deliver(&settings, &inputs, &made).unwrap();
    let files =
        delivery.files.iter().map(|f| (f.name.clone(), f.to_bytes(&f.name).unwrap().into_owned())).collect();
    let sections = Size::section(&settings, &inputs, &made, &Store::new(PathBuf::new())).unwrap();
    (Size::object(&settings, &inputs, &made).unwrap(), files, sections)
}

fn said(sources: &SizeSources, settings: &SizeSettings, facts: &Facts, given: Given) -> String {
    let mut problems = Problems::new(given);
    Size::check(sources, settings, facts, &mut problems);
    problems.found.iter().map(ToString::to_string).collect::<Vec<_>>().join("\n")
}

#[test]
fn names_with_commas_stay_one_cell_in_every_table() {
    let folder = tempfile::tempdir().unwrap();
    let (object, files, sections) = ran(&sources(folder.path()));
    assert_eq!((object["people"].as_u64(), object["existing_chart"].is_null()), (Some(40), true));
    assert_eq!(object["sizes"].as_array().unwrap().len(), 4);
    let names: Vec<&str> = files.iter().map(|f| f.0.as_str()).collect();
    assert_eq!(names[..4], ["size-chart.csv", "coverage.csv", "assignments.csv", "left-out.csv"]);
    for (name, bytes) in &files {
        let text = String::from_utf8(bytes.clone()).unwrap();
        formkin_table::Table::parse_csv_rows(&text, name).unwrap_or_else(|e| panic!("{e}\n{text}"));
    }
    let chart = String::from_utf8(files[0].1.clone()).unwrap();
    assert!(chart.contains("\"chest, relaxed_low_mm\"") && chart.contains("\"m, tall\""), "{chart}");
    assert_eq!(sections.iter().map(|s| s.id.as_str()).collect::<Vec<_>>(), ["sizes", "left-out"]);
    assert!(sections[0].answer[0].contains("4 sizes for 40 people"), "{:?}", sections[0].answer);
}

#[test]
fn a_chart_is_tried_beside_a_plan_and_in_its_place_and_new_people_have_sizes() {
    let folder = tempfile::tempdir().unwrap();
    let mut of = sources(folder.path());
    let (derived, files, _) = ran(&of);
    std::fs::write(folder.path().join("chart.csv"), &files[0].1).unwrap();
    of.chart = Some(folder.path().join("chart.csv"));
    of.assign = of.table.clone();
    let (both, files, sections) = ran(&of);
    assert_eq!(both["coverage_held_out"], derived["coverage_held_out"]);
    assert_eq!(both["existing_chart"]["coverage_in_sample"], derived["coverage_in_sample"]);
    assert!(files.iter().any(|f| f.0 == "existing/size-chart.csv"));
    assert_eq!(both["new_people"].as_array().unwrap().len(), 40);
    assert_eq!(sections.last().unwrap().id, "new-people");
    of.plan = None;
    let (alone, ..) = ran(&of);
    assert_eq!((alone["given"].as_bool(), alone["existing_chart"].is_null()), (Some(true), true));
    of.table = None;
    let (new, files, sections) = ran(&of);
    // the chart is read back from text, so that losses differ in the last digits
    let sizes = |of: &Value| -> Vec<(Value, Value, f64)> {
        let all = of["new_people"].as_array().unwrap();
        let loss = |p: &Value| (1e9 * p["nearest"]["loss"].as_f64().unwrap()).round();
        all.iter().map(|p| (p["id"].clone(), p["size"].clone(), loss(p))).collect()
    };
    assert_eq!(sizes(&new), sizes(&both));
    assert_eq!((new.as_object().unwrap().len(), files.len(), sections.len()), (1, 1, 1));
}

#[test]
fn what_comes_out_is_kept_as_it_is() {
    let folder = tempfile::tempdir().unwrap();
    let (of, settings) = (sources(folder.path()), SizeSettings::default());
    let inputs = Size::open(&of, &settings).unwrap();
    let made = Size::run(&settings, &inputs, &|_, _| ()).unwrap();
    let kept: SizeOutcome = serde_json::from_value(serde_json::to_value(&made).unwrap()).unwrap();
    assert_eq!(kept.system.unwrap().groups.len(), made.system.unwrap().groups.len());
}

#[test]
fn options_that_need_each_other_say_so() {
    let path = || Some(PathBuf::from("x.csv"));
    let with = |change: fn(&mut SizeSources, Option<PathBuf>)| {
        let mut of = SizeSources { table: path(), plan: path(), ..SizeSources::default() };
        change(&mut of, path());
        said(&of, &SizeSettings::default(), &Facts::default(), Given::Command)
    };
    assert_eq!(with(|_, _| ()), "");
    for (found, words) in [
        (with(|s, _| s.plan = None), "neither --plan nor --chart"),
        (with(|s, _| s.table = None), "no table of people"),
        (with(|s, p| (s.table, s.assign) = (None, p)), "--assign: it needs sizes"),
        (
            with(|s, p| (s.plan, s.chart, s.allowances) = (None, p.clone(), p)),
            "--allowances: they belong to a plan",
        ),
        (with(|s, p| s.coefficients = p), "--coefficients: they belong to a space"),
        (with(|s, p| (s.table, s.assign, s.chart, s.space) = (None, p.clone(), p.clone(), p)), "--space"),
        (with(|s, _| s.allowances = Some(MOVEMENTS.into())), "only a study has movements"),
    ] {
        assert!(found.contains(words), "{words}: {found}");
    }
    let by = SizeSettings { by: Some("sex".into()) };
    let of = SizeSources { table: path(), plan: path(), ..SizeSources::default() };
    assert!(said(&of, &by, &Facts::default(), Given::Command).contains("--by"));
}

#[test]
fn columns_and_groups_that_a_plan_names_are_looked_up() {
    let folder = tempfile::tempdir().unwrap();
    let plan = "by = 'sex'\nsecondary = ['waist']\n[sizes.count]\nfemal = 2\n[[control]]\ndimension = 'statur'\ntolerance = { below = 50, above = 50 }\n";
    let number = |name: &str| Column { name: name.to_owned(), numbers: true };
    let facts = Facts {
        columns: Some(vec![
            Column { name: "sex".into(), numbers: false },
            number("stature"),
            number("stature_mm"),
            number("age_years"),
        ]),
        groups: [("sex".to_owned(), ["female", "male"].map(str::to_owned).into_iter().collect())].into(),
        dimensions: Some(
            formkin_measure::Dimensions::from_toml(
                "[[dimension]]\nname = 'stature'\nkind = 'height'\nat = { furthest = 'up' }\n",
            )
            .unwrap(),
        ),
        ..Facts::default()
    };
    let of = SizeSources {
        plan: Some(write(folder.path(), "plan.toml", plan)),
        chart: Some(folder.path().join("none.csv")),
        assign: Some(write(folder.path(), "new.csv", "participant,sex,age_years\nA,female,30\n")),
        allowances: Some(MOVEMENTS.into()),
        ..SizeSources::default()
    };
    let found = said(&of, &SizeSettings::default(), &facts, Given::Section("size".into()));
    for words in [
        "size.plan: there is no control dimension `statur`; did you mean `stature`",
        "size.plan: there is no secondary dimension `waist`",
        "did you mean `female`",
        "sizes.count has no number for the group `male`",
        "size.chart: the file",
        "size.assign: there is no column `statur`",
        "size.allowances: no control dimension of the plan is followed",
    ] {
        assert!(found.contains(words), "{words}: {found}");
    }
    let chart = "size,group,age_low_years,age_high_years\ns,f,20,40\nm,m,30,60\n";
    let tried = |text: &str| {
        let of = SizeSources {
            table: Some(write(
                folder.path(),
                "people.csv",
                "participant,sex,age_years\nA,female,30\nB,male,40\n",
            )),
            chart: Some(write(folder.path(), "chart.csv", text)),
            ..SizeSources::default()
        };
        said(&of, &SizeSettings::default(), &Facts::default(), Given::Section("size".into()))
    };
    assert!(tried(chart).contains("f, m"), "{}", tried(chart));
    assert_eq!(tried(&chart.replace(",f,", ",female,").replace(",m,", ",male,")), "");
    let bare = said(
        &SizeSources::default(),
        &SizeSettings::default(),
        &Facts::default(),
        Given::Section("size".into()),
    );
    assert!(bare.contains("`plan`") && bare.contains("[measure]"), "{bare}");
}
