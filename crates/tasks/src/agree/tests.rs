use std::path::{Path, PathBuf};

use formkin_table::Table;

use super::*;
use crate::problem::Given;

fn write(folder: &Path, name: &str, text: &str) -> PathBuf {
    let path = folder.join(name);
    std::fs::write(&path, text).unwrap();
    path
}

/// Every file, by the name it is delivered under.
fn delivered(sources: &AgreeSources, settings: &AgreeSettings) -> (AgreeOutcome, Vec<(String, Vec<u8>)>) {
    let inputs = Agree::open(sources, settings).unwrap();
    let made = Agree::run(settings, &inputs, &|_, _| ()).unwrap();
    let delivery = Agree::deliver(settings, &inputs, &made).unwrap();
    let bytes =
        |f: &crate::delivery::Deliverable<'_>| (f.name.clone(), f.to_bytes(&f.name).unwrap().into_owned());
    let files = delivery.files.iter().map(bytes).collect();
    drop(delivery);
    (made, files)
}

#[test]
fn repeats_of_a_dimension_with_a_comma_keep_its_name_and_unit() {
    let folder = tempfile::tempdir().unwrap();
    let rows: String =
        (0..24).map(|i| format!("P{i},1,{}\nP{i},2,{}\n", 900 + 7 * i, 903 + 7 * i - 2 * (i % 3))).collect();
    let repeats =
        write(folder.path(), "repeats.csv", &format!("participant,session,\"chest, relaxed_mm\"\n{rows}"));
    let sources = AgreeSources { repeats: Some(repeats), ..Default::default() };
    let (made, files) = delivered(&sources, &AgreeSettings::default());
    let AgreeOutcome::Repeated(found) = &made else { panic!("{made:?}") };
    assert_eq!((found[0].dimension.as_str(), found[0].unit.as_deref()), ("chest, relaxed", Some("mm")));
    assert_eq!(files.len(), 1);
    let text = String::from_utf8(files[0].1.clone()).unwrap();
    let table = Table::parse_csv(&text, "repeatability.csv", None).unwrap();
    assert_eq!((table.ids[0].as_str(), table.text("unit").unwrap()[0].as_str()), ("chest, relaxed", "mm"));
    assert_eq!(table.number("tem").unwrap().values[0], Some(found[0].tem));
}

#[test]
fn names_with_commas_and_slashes_stay_one_cell_and_one_file() {
    let folder = tempfile::tempdir().unwrap();
    let table = |off: f64| {
        let line = |i: i32| {
            let x = 900.0 + 9.0 * f64::from(i) + off * f64::from(i % 5);
            format!("p{i},{x},{x},{x}\n")
        };
        format!("participant,\"chest, relaxed_mm\",a/b_mm,a b_mm\n{}", (0..45).map(line).collect::<String>())
    };
    let scan = write(folder.path(), "scan.csv", &table(2.0));
    let hand = write(folder.path(), "hand.csv", &table(0.0));
    let sources = AgreeSources { tables: vec![scan, hand], ..Default::default() };
    let (made, files) = delivered(&sources, &AgreeSettings::default());
    let names: Vec<&str> = files.iter().map(|f| f.0.as_str()).collect();
    assert_eq!(names, ["agreement.csv", "agreement.html", "chest__relaxed.svg", "a_b.svg", "a_b-2.svg"]);
    let text = String::from_utf8(files[0].1.clone()).unwrap();
    let read = Table::parse_csv(&text, "agreement.csv", None).unwrap();
    assert_eq!(read.ids, ["chest, relaxed", "a/b", "a b"]);
    let AgreeOutcome::Compared(found) = &made else { panic!("{made:?}") };
    assert_eq!(read.number("mean_error_mm").unwrap().values[0], Some(found.dimensions[0].mean_error_mm));
}

#[test]
fn the_page_holds_every_dimension_and_no_markup_of_others() {
    let folder = tempfile::tempdir().unwrap();
    let rows = |off: f64| {
        let line = |i: i32| format!("p{i},{},{}\n", 1700.0 + 9.0 * f64::from(i) + off, 800 + i);
        format!("participant,stature_mm,<b>_mm\n{}", (0..45).map(line).collect::<String>())
    };
    let scan = write(folder.path(), "scan.csv", &rows(2.0));
    let hand = write(folder.path(), "hand.csv", &rows(0.0));
    let sources = AgreeSources { tables: vec![scan, hand], ..Default::default() };
    let (_, files) = delivered(&sources, &AgreeSettings::default());
    let page = String::from_utf8(files[1].1.clone()).unwrap();
    assert!(page.contains("Scan against hand") && page.contains(">within<"), "{page}");
    assert!(!page.contains("<b>_mm") && !page.to_lowercase().contains("<b></th>"));
    // for wide and for narrow pages
    assert_eq!(page.matches("<svg class=\"chart").count(), 4);
    assert!(page.contains("<main ") && !page.contains("<img"));
}

#[test]
fn the_chart_is_a_file_of_its_own() {
    let folder = tempfile::tempdir().unwrap();
    let table = |shift: f64| {
        let line = |i: i32| format!("P{i},{}\n", 900.0 + f64::from(i) + shift * f64::from(i % 5));
        format!("id,chest_girth_mm\n{}", (0..50).map(line).collect::<String>())
    };
    let scan = write(folder.path(), "scan.csv", &table(2.0));
    let hand = write(folder.path(), "hand.csv", &table(0.0));
    let sources = AgreeSources { tables: vec![scan, hand], ..Default::default() };
    let (_, files) = delivered(&sources, &AgreeSettings::default());
    let svg = String::from_utf8(files[2].1.clone()).unwrap();
    assert!(svg.starts_with("<svg xmlns=") && svg.trim_end().ends_with("</svg>") && svg.contains("<style>"));
    assert_eq!(svg.matches("<svg").count(), 1);
    assert!(!svg.contains("NaN") && svg.contains("limit of the mean: ±9 mm"));
}

#[test]
fn options_that_do_not_go_together_are_named() {
    let said = |sources: &AgreeSources, settings: &AgreeSettings| {
        let mut problems = Problems::new(Given::Command);
        Agree::check(sources, settings, &Facts::default(), &mut problems);
        problems.found.iter().map(ToString::to_string).collect::<Vec<_>>().join("\n")
    };
    let plain = AgreeSettings::default();
    let tables = |n: usize| AgreeSources { tables: vec![PathBuf::from("t.csv"); n], ..Default::default() };
    assert_eq!(said(&tables(2), &plain), "");
    assert!(said(&tables(1), &plain).contains("one table, and two are needed"));
    assert!(said(&tables(0), &plain).contains("two are needed"));
    let both = AgreeSources { repeats: Some(PathBuf::from("r.csv")), ..tables(2) };
    assert!(said(&both, &plain).contains("--repeats"));
    let types = AgreeSettings {
        types: [("neck_girth".to_owned(), "small_girth".to_owned())].into_iter().collect(),
        ..Default::default()
    };
    let words = said(&tables(2), &types);
    assert!(words.contains("--type") && words.contains("did you mean `small-girth`"), "{words}");
}
