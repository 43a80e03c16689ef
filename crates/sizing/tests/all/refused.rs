//! Plans and tables that cannot be sized: the error says where, what, and what to do.

use formkin_sizing::{Count, Missing, Plan, SizingError};
use formkin_table::Table;

use super::{column, crew, plan, table, words};

fn two() -> Plan {
    plan(&[("chest_girth", 40.0), ("stature", 35.0)], 3)
}

fn refused(plan: &Plan, table: &Table) -> (SizingError, String) {
    let error = plan.derive(table).unwrap_err();
    let text = error.to_string();
    (error, text)
}

#[test]
fn plans() {
    let good =
        "[sizes]\ncount = 3\n[[control]]\ndimension = 'stature'\ntolerance = { below = 40, above = 40 }\n";
    assert!(Plan::from_toml(good).is_ok());
    let text = |from: &str, to: &str| Plan::from_toml(&good.replace(from, to)).unwrap_err().to_string();
    assert!(text("[sizes]", "colour = 3\n[sizes]").contains("colour"));
    assert!(text("count = 3", "count = 3\nmany = 2").contains("many"));
    assert!(text("above = 40", "above = 40, over = 3").contains("over"));
    assert!(text("below = 40, ", "").contains("below"));
    assert!(text("below = 40", "below = 0").contains("tolerance `below` is 0"));
    assert!(text("above = 40", "above = -3").contains("-3"));
    assert!(text("count = 3", "count = 0").contains("sizes.count"));
    assert!(text("count = 3", "count = -1").contains("not a size plan"));
    assert!(text("[sizes]", "folds = 1\n[sizes]").contains("folds is 1"));
    assert!(text("[sizes]", "level = 1.0\n[sizes]").contains("level"));
    assert!(text("[sizes]", "curve = [5, 3]\n[sizes]").contains("curve"));
    assert!(text("[sizes]", "method = 'guess'\n[sizes]").contains("k-medoids"));
    assert!(text("[sizes]", "missing = 'ignore'\n[sizes]").contains("refuse"));
    let double =
        format!("{good}[[control]]\ndimension = 'stature'\ntolerance = {{ below = 4, above = 4 }}\n");
    assert!(matches!(Plan::from_toml(&double), Err(SizingError::RepeatedControl { .. })));
    assert!(matches!(Plan::from_toml("control = []\n[sizes]\ncount = 3"), Err(SizingError::NoControl)));
    assert!(matches!(Plan::from_toml("[[control]\n"), Err(SizingError::Toml { .. })));
}

#[test]
fn a_plan_that_is_none_says_where_and_what_is_allowed() {
    let good =
        "[sizes]\ncount = 3\n[[control]]\ndimension = 'stature'\ntolerance = { below = 40, above = 40 }\n";
    for (from, to, words) in [
        ("count = 3", "count = -1", "line 2"),
        ("count = 3", "count = 'many'", "whole number, 1 or more"),
        ("count = 3", "count = 99999999999999999999", "line 2"),
        ("below = 40", "below = 'wide'", "a number"),
        ("[sizes]", "folds = 2.5\n[sizes]", "a whole number"),
        ("[sizes]", "protective = 'yes'\n[sizes]", "true or false"),
    ] {
        let said = Plan::from_toml(&good.replace(from, to)).unwrap_err().to_string();
        assert!(said.contains(words), "{to}: {said}");
        for inner in ["i128", "usize", "untagged", "variant", "u64"] {
            assert!(!said.contains(inner), "{to}: {said}");
        }
    }
}

#[test]
fn what_no_body_measures_and_sizes_that_fit_nobody_are_cautioned_of() {
    let mut people = crew(60, 4);
    assert!(!two().derive(&people).unwrap().cautions.iter().any(|c| c.contains("no body")));
    people.numbers[0].values[7] = Some(-900.0);
    let system = two().derive(&people).unwrap();
    let said = system.cautions.join("\n");
    assert!(said.contains("`chest_girth` holds what no body measures: -900 mm in 1 of 60 people"), "{said}");
    people.numbers[0].values[7] = Some(9000.0);
    assert!(two().derive(&people).unwrap().cautions.join("").contains("9000 mm in 1 of 60"));
    // a chart in other units fits nobody
    let chart =
        Table::parse_csv("size,chest_girth_low_mm,chest_girth_high_mm\ns,8,9\nm,9,10\n", "chart", None)
            .unwrap();
    let tried = formkin_sizing::Chart::of(&chart).unwrap().evaluate(&crew(60, 4), None).unwrap();
    assert!(tried.cautions.join("").contains("fit none of these people (0 %)"), "{:?}", tried.cautions);
    // shares of nobody are 0, not -0
    assert!(tried.groups[0].sizes.iter().all(|s| s.share.is_sign_positive()));
    assert!(!format!("{tried:?}").contains("-0.0,"));
}

#[test]
fn columns() {
    let people = crew(40, 1);
    let (error, text) = refused(&plan(&[("chest_grith", 40.0)], 3), &people);
    assert!(matches!(error, SizingError::Column { role: "control dimension", .. }));
    assert!(text.contains("chest_grith") && text.contains("`chest_girth`"), "{text}");
    let (_, text) = refused(&plan(&[("stature", 40.0), ("stature_mm", 40.0)], 3), &people);
    assert!(text.contains("twice"), "{text}");
    let mut other = two();
    other.secondary = vec!["hip_girth".to_owned()];
    assert!(refused(&other, &people).1.contains("secondary dimension"));
    let mut other = two();
    other.by = Some("sex".to_owned());
    assert!(refused(&other, &people).1.contains("group column"));
    let mut with_words = people.clone();
    with_words.texts.push(words("hip_girth", &["wide"; 40]));
    let mut other = two();
    other.control[0].dimension = "hip_girth".to_owned();
    assert!(refused(&other, &with_words).1.contains("words"));
    let mut other = two();
    other.control[0].unit = Some("kg".to_owned());
    assert!(matches!(refused(&other, &people).0, SizingError::Unit { .. }));
    let mut short = people.clone();
    short.numbers[0].values.pop();
    assert!(matches!(refused(&two(), &short).0, SizingError::Rows { rows: 40, found: 39, .. }));
}

#[test]
fn people() {
    let people = crew(40, 1);
    let mut gaps = people.clone();
    gaps.numbers[0].values[7] = None;
    gaps.numbers[0].values[9] = None;
    let mut strict = two();
    strict.missing = Missing::Refuse;
    let (error, text) = refused(&strict, &gaps);
    assert!(matches!(error, SizingError::MissingValues { people: 2, .. }), "{text}");
    assert!(text.contains("p00007") && text.contains("chest_girth_mm"), "{text}");
    let system = two().derive(&gaps).unwrap();
    assert_eq!((system.people, system.dropped.len(), system.dropped[1].id.as_str()), (38, 2, "p00009"));
    assert!(system.notes.iter().any(|n| n.contains("2 of 40 people were left out")));
    let mut nobody = people.clone();
    nobody.numbers[1].values = vec![None; 40];
    assert!(matches!(refused(&two(), &nobody).0, SizingError::NobodyLeft { people: 40, .. }));

    let mut twice = people.clone();
    twice.ids[3] = "p00009".to_owned();
    let (error, _) = refused(&two(), &twice);
    assert_eq!(error, SizingError::RepeatedParticipant { participant: "p00009".to_owned(), rows: 2 });
    // Several items of a person under different identifiers.
    let mut items = people.clone();
    items.id = "item".to_owned();
    items
        .texts
        .push(words("participant", &(0..40).map(|i| if i < 2 { "a7" } else { "" }).collect::<Vec<_>>()));
    assert!(refused(&two(), &items).1.contains("a7 has 2 rows"));

    let mut wild = people.clone();
    wild.numbers[1].values[2] = Some(f64::INFINITY);
    assert!(matches!(refused(&two(), &wild).0, SizingError::NotFinite { .. }));
    let constant = table(vec![
        column("chest_girth", "mm", &[950.0; 30]),
        column("stature", "mm", &(0..30).map(f64::from).collect::<Vec<_>>()),
    ]);
    assert!(refused(&two(), &constant).1.contains("`chest_girth` is 950 for everyone in the table"));
    assert_eq!(refused(&two(), &Table::default()).0, SizingError::NoPeople);
}

#[test]
fn numbers_of_sizes_and_people() {
    let few = crew(8, 1);
    assert!(matches!(refused(&two(), &few).0, SizingError::TooFewForFolds { people: 8, folds: 10, .. }));
    let mut plan = two();
    plan.folds = 4;
    plan.sizes.count = Count::Each(7);
    let (error, text) = refused(&plan, &few);
    assert!(matches!(error, SizingError::TooManySizes { sizes: 7, people: 8, fitted: 6, .. }), "{text}");
    let same = table(vec![
        column(
            "chest_girth",
            "mm",
            &(0..40).map(|i| if i < 30 { 900.0 } else { 1000.0 }).collect::<Vec<_>>(),
        ),
        column("stature", "mm", &(0..40).map(|i| if i < 30 { 1700.0 } else { 1800.0 }).collect::<Vec<_>>()),
    ]);
    assert!(matches!(refused(&two(), &same).0, SizingError::TooManySizes { distinct: 2, .. }));

    let mut teams = crew(40, 1);
    teams
        .texts
        .push(words("team", &(0..40).map(|i| if i < 35 { "north" } else { "south" }).collect::<Vec<_>>()));
    let mut plan = two();
    plan.by = Some("team".to_owned());
    let (_, text) = refused(&plan, &teams);
    assert!(text.contains("group `south` of `team` has 5 people"), "{text}");
    plan.sizes.count = Count::PerGroup([("north".to_owned(), 3)].into());
    assert!(refused(&plan, &teams).1.contains("no number for group `south`"));
    plan.sizes.count = Count::PerGroup([("north".to_owned(), 3), ("west".to_owned(), 3)].into());
    assert!(refused(&plan, &teams).1.contains("`west`"));
    plan.by = None;
    assert_eq!(refused(&plan, &teams).0, SizingError::NoGroupColumn);
}
