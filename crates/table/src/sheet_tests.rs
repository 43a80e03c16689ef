use proptest::prelude::*;

use super::*;
use crate::Table;

/// Words that break tables which are put together by hand.
fn hostile() -> Vec<String> {
    [
        "chest, relaxed",
        "crew \"A\", north",
        "\"",
        "\"\"",
        "two\nlines",
        "two\r\nlines",
        "carriage\rreturn",
        "=1+1",
        "<b>x</b>",
        "Größe",
        "גובה",
        "מידה, \"א\"",
        ";",
        "tab\there",
        "'",
        "#",
        "  blanks before",
        "blanks after  ",
        "-",
        "1",
    ]
    .map(str::to_owned)
    .into_iter()
    .chain(["x".repeat(300), ",".repeat(300), String::new()])
    .collect()
}

/// Every record of a CSV file, all of one number of fields.
fn records(bytes: &[u8]) -> Vec<Vec<String>> {
    let mut reader = csv::ReaderBuilder::new().has_headers(false).flexible(false).from_reader(bytes);
    reader.records().map(|r| r.unwrap().iter().map(str::to_owned).collect()).collect()
}

fn full(words: &[String]) -> Sheet {
    let n = words.len();
    Sheet::new()
        .text("who", "Whose", words.iter())
        .number(
            "x",
            Some("mm"),
            "A length",
            NumberFormat::Shortest,
            (0..n).map(|i| if i == 1 { f64::INFINITY } else { i as f64 / 7.0 }),
        )
        .optional_number(
            "y",
            None,
            "A ratio",
            NumberFormat::Fixed(2),
            (0..n).map(|i| (i > 0).then_some(-0.125)),
        )
        .number("p", None, "A probability", NumberFormat::Scientific(1), (0..n).map(|_| 1.25e-7))
        .whole("n", None, "A count", 0..n)
        .optional_whole("age", Some("years"), "An age", (0..n).map(|i| (i != 2).then_some(i)))
        .flag("in", "Whether", (0..n).map(|i| i % 2 == 0))
}

#[test]
fn hostile_cells_come_back_from_csv() {
    let words = hostile();
    let found = records(&full(&words).to_csv().unwrap());
    assert_eq!(found.len(), words.len() + 1);
    assert_eq!(found[0], ["who", "x_mm", "y", "p", "n", "age_years", "in"]);
    for (row, word) in found[1..].iter().zip(&words) {
        assert_eq!(&row[0], word);
    }
    assert_eq!(found[1][1..], ["0", "", "1.2e-7", "0", "0", "true"]);
    assert_eq!(found[2][1..], ["", "-0.12", "1.2e-7", "1", "1", "false"]);
    assert_eq!(found[3][5], "");
    assert_eq!(found[4][1].parse::<f64>().unwrap(), 3.0 / 7.0);
}

#[test]
fn hostile_headers_come_back_from_csv() {
    let mut sheet = Sheet::new();
    let headers: Vec<String> = hostile().into_iter().filter(|h| !h.is_empty()).collect();
    for header in &headers {
        sheet = sheet.text(header, "", ["a", "b"]);
    }
    let found = records(&sheet.to_csv().unwrap());
    assert_eq!(
        found,
        [headers.clone(), vec!["a".to_owned(); headers.len()], vec!["b".to_owned(); headers.len()]]
    );
}

#[test]
fn hostile_words_come_back_from_parquet_with_units_and_meanings() {
    let words = hostile();
    let mut sheet = full(&words);
    for header in words.iter().filter(|h| !h.is_empty()) {
        sheet = sheet.text(header, header, words.iter());
    }
    let bytes = sheet.to_parquet(&[("people".to_owned(), "23".to_owned())]).unwrap();
    let (found, metadata) = Sheet::from_parquet(bytes).unwrap();
    assert_eq!(metadata[0], ("people".to_owned(), "23".to_owned()));
    assert_eq!(found.columns().len(), sheet.columns().len());
    for (a, b) in found.columns().iter().zip(sheet.columns()) {
        assert_eq!((a.header(), a.unit(), a.meaning()), (b.header(), b.unit(), b.meaning()));
        match (a.values(), b.values()) {
            (Values::Number { values: a, .. }, Values::Number { values: b, .. }) => {
                assert!(a.iter().zip(b).all(|(a, b)| *a == b.filter(|b| b.is_finite())));
            }
            (a, b) => assert_eq!(a, b),
        }
    }
}

#[test]
fn what_is_written_as_a_table_is_read_as_one() {
    let words: Vec<String> = hostile().into_iter().filter(|w| !w.is_empty() && w.trim() == w).collect();
    let n = words.len();
    let table = Table {
        id: "who, \"exactly\"".into(),
        ids: words.clone(),
        numbers: vec![crate::NumberColumn {
            name: "chest, relaxed".into(),
            unit: Some("mm".into()),
            values: (0..n).map(|i| (i != 3).then_some(i as f64 / 3.0)).collect(),
        }],
        texts: vec![crate::TextColumn {
            name: "crew\n=a".into(),
            values: words.iter().map(|w| format!("{w}x")).collect(),
        }],
    };
    let text = table.to_csv().unwrap();
    assert_eq!(text.as_bytes(), Sheet::from(&table).to_csv().unwrap());
    assert_eq!(Table::parse_csv(&text, "t", None).unwrap(), table);
    // blanks at the ends of a cell are not part of it when it is read
    let blank = Sheet::new().text("who", "", [" A "]).text("crew", "", ["\tb"]).to_csv().unwrap();
    let read = Table::read_csv(blank.as_slice(), "t", None).unwrap();
    assert_eq!((read.ids[0].as_str(), read.texts[0].values[0].as_str()), ("A", "b"));
}

#[test]
fn columns_that_do_not_fit_together_are_refused() {
    let uneven = Sheet::new().text("a", "", ["1", "2"]).whole("b", None, "", [1]);
    let said = TableError::Rows { column: "b".into(), found: 1, expected: 2 };
    assert_eq!(uneven.to_csv(), Err(said.clone()));
    assert_eq!(uneven.to_parquet(&[]), Err(said));
    let twice =
        Sheet::new().text("a_mm", "", ["1"]).number("a", Some("mm"), "", NumberFormat::Shortest, [1.0]);
    assert_eq!(twice.to_csv(), Err(TableError::Twice { column: "a_mm".into() }));
    assert!(matches!(Sheet::from_parquet(b"PAR1 no".to_vec()), Err(TableError::Parquet { .. })));
    assert_eq!(Sheet::new().to_csv().unwrap(), b"");
}

#[test]
fn a_column_of_its_own_keeps_its_blank_rows() {
    let found = records(&Sheet::new().text("a", "", ["", "x", ""]).to_csv().unwrap());
    assert_eq!(found, [["a"], [""], ["x"], [""]]);
}

#[test]
fn rounded_numbers_have_no_zeros_at_the_end() {
    let written = |v: f64| NumberFormat::Rounded(4).written(v);
    assert_eq!(
        [0.476_190_4, 1.0, -1e-9, 1000.05, -0.25].map(written),
        ["0.4762", "1", "0", "1000.05", "-0.25"]
    );
    assert_eq!(written(f64::MAX), f64::MAX.to_string());
    assert_eq!(NumberFormat::Rounded(400).written(0.5), "0.5");
    assert_eq!(NumberFormat::Rounded(1).written(f64::NAN), "");
}

proptest! {
    #[test]
    fn any_words_come_back(words in prop::collection::vec(any::<String>(), 1..6), header in any::<String>()) {
        let sheet = Sheet::new().text(&format!("h{header}"), "", words.iter()).whole("n", None, "", 0..words.len());
        let found = records(&sheet.to_csv().unwrap());
        prop_assert_eq!(&found[0][0], &format!("h{header}"));
        for (row, word) in found[1..].iter().zip(&words) {
            prop_assert_eq!(&row[0], word);
        }
        let (read, _) = Sheet::from_parquet(sheet.to_parquet(&[]).unwrap()).unwrap();
        prop_assert_eq!(read.columns()[0].values(), &Values::Text(words));
    }

    #[test]
    fn any_number_comes_back(x in any::<f64>()) {
        let sheet = Sheet::new().text("k", "", ["k"]).number("x", None, "", NumberFormat::Shortest, [x]);
        let cell = records(&sheet.to_csv().unwrap())[1][1].clone();
        if x.is_finite() {
            prop_assert_eq!(cell.parse::<f64>().unwrap().to_bits(), x.to_bits());
        } else {
            prop_assert_eq!(cell, "");
        }
    }
}
