//! The data sheet of a data set for machine learning as a page.

use super::data_sheet::{DataSheet, MODES_KEPT, SheetFile, SheetMode, SheetPart, SheetSpread};
use formkin_report::charts::{Axis, Figure, Key, Layer, Plot};
use formkin_report::document::table::{Table, cell, number, text};
use formkin_report::document::{Body, Document, Front};
use formkin_report::format::{about, bytes, capital, count, counted, fixed, percent, signed, unit};

/// Charts of this many modes.
const DRAWN: usize = 4;

/// The data sheet as a document.
pub(super) fn document(sheet: &DataSheet) -> Document {
    let mut page = Document::new("Data sheet");
    let body = page.begin("use", "Intended use");
    body.cautions(&sheet.intended);
    let body = page.begin("limits", "Limits");
    body.cautions(&sheet.limits);
    body.heading("The people in it");
    body.cautions(&sheet.privacy);
    if !sheet.notes.is_empty() {
        body.heading("Of this set");
        body.cautions(&sheet.notes);
    }
    let body = page.begin("parts", "Parts");
    body.paragraph(&sheet.split);
    body.table(parts(&sheet.parts));
    body.note(
        "Error: the distance of a point of the skin from where the modes place it, root mean square over the skin and the rows. Intervals are of people drawn with replacement (percentile bootstrap), from 10 people on. Training \
         people made the modes, so that their error is no measure of anybody else.",
    );
    if !sheet.modes_kept.is_empty() {
        let mut columns = vec![number("Modes kept", "")];
        columns.extend(sheet.split_names.iter().map(|n| number(capital(n), "mm")));
        let mut table = Table::new("The error by modes kept", columns);
        for k in &sheet.modes_kept {
            let mut cells = vec![cell(count(k.modes))];
            cells.extend(k.rms_mm.iter().map(|x| cell(error(*x))));
            table.row(cells);
        }
        body.table(table);
        body.note(MODES_KEPT);
    }
    if let Some(strata) = &sheet.strata {
        let mut columns = vec![text(capital(&formkin_report::format::words(&strata.column, None)))];
        columns.extend(sheet.split_names.iter().map(|n| number(capital(n), "people")));
        let mut table = Table::new("People by stratum", columns);
        for (name, people) in &strata.rows {
            let name = if name.is_empty() { "not given" } else { name };
            let mut cells = vec![cell(name).keep()];
            cells.extend(people.iter().map(|n| cell(count(*n))));
            table.row(cells);
        }
        body.table(table);
    }
    body.heading("The leak check");
    body.paragraph(&sheet.leak_check);
    spread(&mut page, &sheet.modes);
    let body = page.begin("decoding", "Decoding");
    body.code(&sheet.formula);
    body.paragraph(&sheet.round_trip);
    files(&mut page, &sheet.files);
    let body = page.begin("made", "Scalers, settings and hashes");
    if !sheet.scalers.is_empty() {
        let mut table = Table::unnamed(
            "Scalers",
            vec![text("Column"), number("Mean", ""), number("SD", ""), number("Training rows", "")],
        );
        for s in &sheet.scalers {
            table.row(vec![cell(&s.column), cell(about(s.mean, 4)), cell(about(s.sd, 4)), cell(count(s.n))]);
        }
        let mut inside = Body::default();
        inside.table(table);
        inside.note("In the unit at the end of each name. A column with _unit is (value - mean) / SD. All digits are in scalers.json, with those of the coefficients.");
        body.folded(&format!("Scalers of {}", counted(sheet.scalers.len(), "column", "columns")), inside);
    }
    let mut table = Table::unnamed("Settings and hashes", vec![text("What"), text("Value")]);
    for f in &sheet.facts {
        table.row(vec![cell(&f.name), cell(&f.value).value()]);
    }
    body.table(table);
    let (answer, qualify) = answer(sheet);
    page.description = sheet.what.clone();
    page.front = Some(Front {
        question: "How well do these coefficients describe people they were not made from?".to_owned(),
        sentence: answer,
        qualify,
        ..Front::default()
    });
    page
}

fn answer(sheet: &DataSheet) -> (String, String) {
    let held = |name: &str| sheet.parts.iter().find(|p| p.name == name && p.rms_mm.is_some());
    let whose = "Mean, modes, vertex weights and scalers are of the training people alone.";
    match held("test").or_else(|| held("validation")) {
        Some(p) => {
            let interval = p.interval_mm.map_or_else(String::new, |(low, high)| {
                format!(" (95 % interval {} to {} mm)", fixed(low, 2), fixed(high, 2))
            });
            (
                format!(
                    "{} held out for {} come back within {} mm, root mean square{interval}.",
                    counted(p.people, "person", "people"),
                    p.name,
                    p.rms_mm.map_or_else(String::new, |x| fixed(x, 2))
                )
                .replace("1 person held out for test come", "1 person held out for test comes"),
                whose.to_owned(),
            )
        }
        None => ("Nobody was held out: this set cannot say.".to_owned(), whose.to_owned()),
    }
}

fn error(mm: Option<f64>) -> String {
    mm.map_or_else(|| "\u{2013}".to_owned(), |x| fixed(x, if x < 10.0 { 3 } else { 1 }))
}

fn parts(parts: &[SheetPart]) -> Table {
    let mut table = Table::unnamed(
        "The parts",
        vec![
            text("Part"),
            number("People", ""),
            number("Rows", ""),
            number("Error", "mm"),
            number("95 % interval", "mm"),
        ],
    );
    for p in parts {
        let interval = match p.interval_mm {
            Some((low, high)) => cell(format!("{} to {}", fixed(low, 3), fixed(high, 3))),
            None if p.people == 0 => cell("\u{2013}"),
            None => cell("too few people").suppressed(),
        };
        table.row(vec![
            cell(capital(&p.name)).keep(),
            cell(count(p.people)),
            cell(count(p.rows)),
            cell(error(p.rms_mm)),
            interval,
        ]);
    }
    table
}

/// The part that is laid beside the training part: the test part, or else the validation part.
fn beside(mode: &SheetMode) -> Option<&SheetSpread> {
    let named = |name: &str| mode.spreads.iter().find(|s| s.part == name);
    named("test").or_else(|| named("validation"))
}

/// How far the mean of a part lies from that of another by chance alone, in SDs.
fn by_chance(a: &SheetSpread, b: &SheetSpread) -> f64 {
    1.96 * (1.0 / a.people.max(1) as f64 + 1.0 / b.people.max(1) as f64).sqrt()
}

fn spread(page: &mut Document, modes: &[SheetMode]) {
    if modes.is_empty() {
        return;
    }
    let body = page.begin("coefficients", "Coefficients in the parts");
    let figures: Vec<Figure> = modes.iter().take(DRAWN).filter_map(histogram).collect();
    if figures.is_empty() {
        body.paragraph("Too few people are held out to show how their coefficients are spread.");
    }
    body.figures(figures);
    let mut table = Table::new(
        "Means and SDs, in SDs of the training rows",
        vec![
            number("Mode", ""),
            number("Share of variance", ""),
            number("SD, training", "mm"),
            number("Mean, validation", ""),
            number("SD, validation", ""),
            number("Mean, test", ""),
            number("SD, test", ""),
            number("Chance moves a test mean by", ""),
        ],
    );
    for m in modes {
        let named = |name: &str| m.spreads.iter().find(|s| s.part == name);
        let dash = || cell("\u{2013}");
        let mut cells = vec![cell(count(m.mode)), cell(percent(m.share)), cell(about(m.sd_mm, 2))];
        for name in ["validation", "test"] {
            cells.push(named(name).map_or_else(dash, |s| cell(signed(s.mean, 2))));
            cells.push(named(name).map_or_else(dash, |s| cell(fixed(s.sd, 2))));
        }
        cells.push(match (named("train"), named("test")) {
            (Some(train), Some(test)) => cell(format!("±{}", fixed(by_chance(train, test), 2))),
            _ => dash(),
        });
        table.row(cells);
    }
    body.table(table);
    body.note(
        "Over the training rows every mean is 0 and every SD 1. Chance: 95 of 100 means of as many people lie so near; of ten modes one beyond is no surprise. Parts of fewer than 5 people are not shown, so that nobody \
         can be told from them.",
    );
}

fn histogram(mode: &SheetMode) -> Option<Figure> {
    let train = mode.spreads.iter().find(|s| s.part == "train")?;
    let held = beside(mode)?;
    let mut plot = Plot::new(
        format!("mode-{}", mode.mode),
        format!("Coefficients of mode {}: share of the rows in steps of half an SD", mode.mode),
        Axis { range: Some((-3.0, 3.0)), ..Axis::new("SDs of the training rows; outermost: all beyond") },
        Axis { percent: true, from_zero: true, ..Axis::new("share of the rows") },
    );
    plot.half = true;
    plot.layers.push(Layer::Columns { class: "s6", points: bins(train), width: 0.44 });
    plot.layers.push(Layer::Line { class: "s2", points: bins(held), dots: true });
    plot.reading = format!(
        "Mode {}: the mean of the {} part is {} SD off; chance alone moves it by ±{}.",
        mode.mode,
        held.part,
        signed(held.mean, 2),
        fixed(by_chance(train, held), 2)
    );
    plot.keys = vec![
        Key::new("s6", "column", format!("train, {}", counted(train.people, "person", "people"))),
        Key::new("s2", "line", format!("{}, {}", held.part, counted(held.people, "person", "people"))),
    ];
    Some(plot.figure())
}

/// The middle of every bin and the share in it.
fn bins(s: &SheetSpread) -> Vec<(f64, f64)> {
    s.shares.iter().enumerate().map(|(i, share)| (-2.75 + 0.5 * i as f64, *share)).collect()
}

fn files(page: &mut Document, files: &[SheetFile]) {
    let body = page.begin("files", "Files");
    let mut table = Table::unnamed("Files", vec![text("File"), text("What is in it"), number("Size", "")]);
    for f in files {
        table.row(vec![
            cell(&f.name),
            cell(&f.what).prose(),
            cell(f.bytes.map_or_else(|| "\u{2013}".to_owned(), bytes)),
        ]);
    }
    body.table(table);
    let mut table = Table::new(
        "Arrays and columns",
        vec![text("Name"), text("Shape"), text("Stored as"), text("Unit"), text("What")],
    );
    for f in files.iter().filter(|f| !f.arrays.is_empty()) {
        table.group(f.name.clone());
        for a in &f.arrays {
            table.row(vec![
                cell(&a.name),
                cell(a.shape.replace(" x ", " × ")).whole(),
                cell(&a.stored),
                cell(unit(&a.unit)).whole(),
                cell(&a.what).prose(),
            ]);
        }
    }
    body.table(table);
    let mut table = Table::unnamed("SHA-256 of the files", vec![text("File"), text("SHA-256")]);
    for f in files.iter().filter(|f| !f.sha256.is_empty()) {
        table.row(vec![cell(&f.name), cell(&f.sha256).value()]);
    }
    let mut inside = Body::default();
    inside.table(table);
    inside.note("Those of this sheet and of DATASHEET.md are in manifest.json, which has all.");
    body.folded("Hashes of the files", inside);
}

#[cfg(test)]
mod tests {
    use super::super::data_sheet::{SheetArray, SheetModesKept, SheetScaler, SheetStrata};
    use super::*;

    fn sheet() -> DataSheet {
        let spread = |part: &str, people| SheetSpread {
            part: part.into(),
            people,
            mean: 0.1,
            sd: 0.9,
            shares: vec![1.0 / 12.0; 12],
        };
        DataSheet {
            what: "<script>alert(1)</script>".into(),
            notes: vec!["<b>note</b>".into()],
            parts: vec![SheetPart {
                name: "test".into(),
                people: 12,
                rows: 14,
                rms_mm: Some(1.25),
                interval_mm: Some((1.0, 1.5)),
            }],
            strata: Some(SheetStrata { column: "<i>".into(), rows: vec![("<u>".into(), vec![1])] }),
            split_names: vec!["test".into()],
            modes_kept: vec![SheetModesKept { modes: 5, rms_mm: vec![Some(7.125)] }],
            modes: vec![SheetMode {
                mode: 1,
                share: 0.7,
                sd_mm: 25.0,
                spreads: vec![spread("train", 40), spread("test", 12)],
            }],
            formula: "x < y".into(),
            files: vec![SheetFile {
                name: "<img>".into(),
                arrays: vec![SheetArray { name: "<em>".into(), ..SheetArray::default() }],
                sha256: "ab".into(),
                ..SheetFile::default()
            }],
            scalers: vec![SheetScaler { column: "<sub>".into(), mean: 1.0, sd: 2.0, n: 3 }],
            facts: vec![formkin_report::document::Fact::new("<q>", "1")],
            ..DataSheet::default()
        }
    }

    #[test]
    fn the_sheet_tells_and_keeps_text_as_text() {
        let page = formkin_report::html::render(&document(&sheet())).unwrap();
        for tag in ["<script>alert", "<b>note", "<i>", "<u>", "<img>", "<em>", "<sub>", "<q>"] {
            assert!(!page.contains(tag), "{tag}");
        }
        assert!(page.contains("The error by modes kept") && page.contains("7.125"));
        assert!(page.contains("x &lt; y") && page.contains("1.000 to 1.500"));
        assert!(
            page.contains("12 people held out for test come back within 1.25\u{a0}mm")
                || page.contains("12 people held out for test come back within 1.25 mm")
        );
        // the program of the page knows the word
        let (shown, _) = page.split_once("<script").unwrap();
        assert!(!shown.contains("NaN") && shown.matches("<h1").count() == 1);
    }

    #[test]
    fn nobody_held_out_is_said() {
        let page = formkin_report::html::render(&document(&DataSheet::default())).unwrap();
        assert!(page.contains("Nobody was held out"));
    }
}
