use super::*;

/// A table whose headers need quotation marks.
const HOSTILE: &str = "who,\"chest, relaxed_mm\",\"\"\"waist\"\"_mm\",\"crew, watch\"\nA,900,800,\"north, day\"\nB,950,820,south\nC,1000,\"870\",\"north, day\"\nD,990,860,south\nE,910,810,south\nF,2900,815,south\n";

fn delivered() -> Vec<(String, Vec<u8>)> {
    let table = Table::parse_csv(HOSTILE, "people.csv", None).unwrap();
    let settings =
        PercentilesSettings { by: Some("crew, watch".to_owned()), resamples: 20, ..Default::default() };
    let made = Percentiles::run(&settings, &table, &|_, _| ()).unwrap();
    let delivery = Percentiles::deliver(&settings, &table, &made).unwrap();
    delivery.files.iter().map(|f| (f.name.clone(), f.to_bytes(&f.name).unwrap().into_owned())).collect()
}

#[test]
fn names_with_commas_and_quotation_marks_stay_one_cell_in_every_table() {
    let files = delivered();
    assert_eq!(files.len(), 4);
    for (name, bytes) in &files {
        // a line of another length is an error of the reader
        let text = String::from_utf8(bytes.clone()).unwrap();
        let table = Table::parse_csv_rows(&text, name).unwrap_or_else(|e| panic!("{name}: {e}\n{text}"));
        assert!(table.rows() > 0, "{name}");
        let dimensions = table.text("dimension").unwrap();
        let known = ["chest, relaxed", "\"waist\""];
        assert!(dimensions.iter().all(|d| known.contains(&d.as_str())), "{name}: {dimensions:?}");
    }
    let correlations = String::from_utf8(files[1].1.clone()).unwrap();
    assert!(correlations.starts_with("dimension,\"chest, relaxed\",\"\"\"waist\"\"\"\n"), "{correlations}");
    let groups = Table::parse_csv_rows(&String::from_utf8(files[0].1.clone()).unwrap(), "t").unwrap();
    assert!(groups.text("group").unwrap().contains(&"north, day".to_owned()));
}

#[test]
fn the_sections_name_every_dimension_and_keep_the_caution() {
    let table = Table::parse_csv(HOSTILE, "people.csv", None).unwrap();
    let settings = PercentilesSettings { resamples: 0, ..Default::default() };
    let made = Percentiles::run(&settings, &table, &|_, _| ()).unwrap();
    let sections =
        Percentiles::section(&settings, &table, &made, &Store::new(std::path::PathBuf::new())).unwrap();
    let said = sections[0].answer.join("\n");
    assert!(said.contains("chest, relaxed") && said.contains("6 people in the table"), "{said}");
    assert!(said.contains("do not add up"), "{said}");
    assert_eq!(Percentiles::cautions(&table, &made).len(), 1);
}

#[test]
fn a_table_of_words_is_refused_with_its_name() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("words.csv");
    std::fs::write(&path, "participant,station\nP1,north\nP2,south\n").unwrap();
    let sources = PercentilesSources { table: path };
    let said = Percentiles::open(&sources, &PercentilesSettings::default()).unwrap_err().to_string();
    assert!(said.contains("words.csv") && said.contains("numbers"), "{said}");
}
