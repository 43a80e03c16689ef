//! What a reader is shown: body dimensions of the people, in all and by group.

use std::collections::BTreeMap;

use formkin_geometry::Template;
use formkin_measure::summary::{PEOPLE_FOR_P1, PEOPLE_FOR_P5};
use formkin_measure::{
    Definition, DimensionSummary, Dimensions, HandbookKind, HandbookRow, Kind, Taker, how,
};
use formkin_report::charts::Figure;
use formkin_report::document::table::{Cell, Column, Flag, RowKind, Table, cell, number, text};
use formkin_report::document::{Body, Section};
use formkin_report::format::{self, about, capital, count, counted, list, title_words, words};

use super::answer::{answer, explained};
use super::drawing::draw;
use super::run::{MeasureInputs, MeasureOutcome, Remark};
use super::settings::MeasureSettings;
use crate::sentence::sentence;

/// Most rows of the table of remarks.
const REMARKS: usize = 100;
/// Longer tables are shown for the dimensions that matter most, and folded for all.
const ROWS: usize = 36;
/// Most dimensions drawn.
const DRAWN: usize = 8;

/// The section. `first` names the dimensions that sizes and movements use.
pub(super) fn section(
    settings: &MeasureSettings,
    inputs: &MeasureInputs,
    made: &MeasureOutcome,
    first: &[String],
) -> Section {
    let section = Section::new("dimensions", "Body dimensions");
    if let Some(one) = &made.explained {
        return Section { answer: explained(one), ..section };
    }
    let Some(dimensions) = &inputs.dimensions else {
        let items = counted(made.table.rows(), "item", "items");
        return Section { answer: vec![format!("{items}: area, volume and centroid size")], ..section };
    };
    let drawn = pictures(dimensions, inputs.cohort.template(), first);
    let body = body(settings, dimensions, made, first, drawn);
    Section { answer: answer(made), ..section.with(body) }
}

fn body(
    settings: &MeasureSettings,
    dimensions: &Dimensions,
    made: &MeasureOutcome,
    first: &[String],
    pictures: Vec<Figure>,
) -> Body {
    let mut body = Body::default();
    if made.summaries.is_empty() {
        return body;
    }
    let mut names: Vec<&str> = Vec::new();
    for s in &made.summaries {
        if !names.contains(&s.name.as_str()) {
            names.push(&s.name);
        }
    }
    let given: Vec<&str> = names.iter().copied().filter(|n| dimensions.position(n).is_none()).collect();
    let taken = names.len() - given.len();
    body.paragraph(&lead(settings, made, taken, &given));
    summary(&mut body, made, &names, given.len(), first);
    let suppressed = made.summaries.iter().any(|s| s.p5.is_none() || s.p95.is_none());
    let mut note = format!(
        "P5 and P95 are given from {PEOPLE_FOR_P5} people on, P1 and P99 from {PEOPLE_FOR_P1}: with fewer, too few people lie beyond them. ± \
         is half the 95 % interval of the mean, from 20 people on."
    );
    if suppressed {
        note.push_str(" Where a group is too small for a percentile, the table says so in its place.");
    }
    note.push_str(" Percentiles of different dimensions do not add up to one body.");
    body.note(&note);
    if !made.handbook.is_empty() {
        body.heading("Beside handbooks");
        body.table(handbook_table(&made.handbook));
        body.note(
            "The formula of the skin is 0.007184 W⁰·⁴²⁵ H⁰·⁷²⁵ (m²), W in kg from volumes and densities, H in cm. Joints are means of rings on the skin, not joints of bone, and the handbooks speak of other people: differences of some percent \
             are expected, and are shown so that nobody takes the figures for those of the handbooks.",
        );
    }
    if !pictures.is_empty() {
        let mut inside = Body::default();
        for picture in pictures {
            inside.figure(picture);
        }
        body.folded("How they are taken, drawn on the template", inside);
    }
    if !made.remarks.is_empty() {
        let missing = made.remarks.iter().filter(|r| r.missing).count();
        let mut inside = Body::default();
        inside.table(remark_table(&made.remarks));
        body.folded(&about_remarks(missing, made.remarks.len() - missing), inside);
    }
    body
}

/// How many dimensions were taken on how many people, and which numbers were given.
fn lead(settings: &MeasureSettings, made: &MeasureOutcome, taken: usize, given: &[&str]) -> String {
    let mut lead = format!(
        "{} taken on {}, each counted once, standing as they were captured.",
        counted(taken, "dimension was", "dimensions were"),
        counted(made.people.rows(), "person", "people")
    );
    if !given.is_empty() {
        let words: Vec<String> = given.iter().map(|n| words(n, None)).collect();
        lead.push_str(&format!(
            " {} of the table of people ({}) {} listed with them: given, not taken.",
            capital(&counted(given.len(), "number", "numbers")),
            list(&words),
            if given.len() == 1 { "is" } else { "are" }
        ));
    }
    if let Some(by) = &settings.by {
        lead.push_str(&format!(" Groups are those of the column {}.", words(by, None)));
    }
    lead
}

/// The table of the dimensions; where it is long, of the `first` ones, and of all in a fold. So many of the names were `given`.
fn summary(body: &mut Body, made: &MeasureOutcome, names: &[&str], given: usize, first: &[String]) {
    if made.summaries.len() <= ROWS {
        body.table(summary_table(&made.summaries, names));
    } else {
        let groups = made.summaries.len().div_ceil(names.len()).max(1);
        let mut chosen: Vec<&str> = names
            .iter()
            .copied()
            .filter(|n| first.iter().any(|f| words(f, Some("mm")) == words(n, Some("mm"))))
            .take(ROWS / groups)
            .collect();
        let why = if chosen.is_empty() {
            chosen = names.iter().copied().take((ROWS / groups).max(1)).collect();
            "the first"
        } else {
            "those that the sizes and movements of this study use"
        };
        body.table(summary_table(&made.summaries, &chosen));
        body.note(&format!("Shown are {why}; all are below."));
        let mut inside = Body::default();
        inside.table(summary_table(&made.summaries, names));
        let all = counted(names.len() - given, "dimension", "dimensions");
        body.folded(
            &match given {
                0 => format!("All {all}"),
                n => format!("All {all}, and {} of the table of people", counted(n, "number", "numbers")),
            },
            inside,
        );
    }
}

/// How dimensions are taken, drawn on the template: those named, then one of each kind that is not among them.
fn pictures(dimensions: &Dimensions, template: &Template, named: &[String]) -> Vec<Figure> {
    let definitions = &dimensions.definitions;
    let mut chosen: Vec<&Definition> = Vec::new();
    for name in named {
        let of = |d: &&Definition| d.name == *name || d.header() == *name;
        chosen.extend(definitions.iter().find(of).filter(|d| !chosen.iter().any(|c| c.name == d.name)));
    }
    chosen.truncate(DRAWN / 2);
    for d in definitions {
        let alike = chosen.iter().any(|c| std::mem::discriminant(&c.kind) == std::mem::discriminant(&d.kind));
        if !alike && !matches!(d.kind, Kind::Derived { .. }) {
            chosen.push(d);
        }
    }
    chosen.truncate(DRAWN);
    let taken = Taker::new(dimensions, template).take(template.mesh.positions());
    chosen
        .into_iter()
        .filter_map(|d| {
            let measured = taken.get(dimensions.position(&d.name)?)?;
            let words = format!("{} How it is taken: {}.", d.definition, how(&d.kind));
            let svg = draw(d, measured, template, "", &[]);
            Some(Figure::drawn(words, title_words(&d.name, None), svg))
        })
        .collect()
}

/// Proportions beside handbooks.
fn handbook_table(rows: &[HandbookRow]) -> Table {
    let mut table = Table::unnamed(
        "Proportions beside handbooks",
        vec![
            text("Proportion"),
            number("n", ""),
            number("Mean", ""),
            number("SD", ""),
            number("Handbook", ""),
            number("Difference", "%"),
        ],
    );
    let mut source = "";
    for r in rows {
        if r.source != source {
            source = &r.source;
            table.group(match r.kind {
                HandbookKind::HeightOverStature | HandbookKind::LengthOverStature => {
                    format!("Over stature; {source}")
                }
                HandbookKind::ShareOfMass => format!("Share of the body's mass; {source}"),
                HandbookKind::AreaOverFormula => "Area of the skin; DuBois & DuBois 1916".to_owned(),
            });
        }
        let what = match r.kind {
            HandbookKind::HeightOverStature => format!("{}_height", r.name),
            HandbookKind::LengthOverStature => format!("{}_length", r.name),
            HandbookKind::ShareOfMass => r.name.clone(),
            HandbookKind::AreaOverFormula => "skin_over_formula".to_owned(),
        };
        table.row(vec![
            cell(title_words(&what, None)),
            cell(count(r.n)),
            cell(about(r.mean, 4)),
            cell(r.sd.map_or_else(|| "–".to_owned(), |s| about(s, 4))),
            cell(about(r.handbook, 4)),
            cell(format!("{:+.1}", r.difference_percent).replace('-', "−")),
        ]);
    }
    table
}

fn about_remarks(missing: usize, look: usize) -> String {
    let mut said = Vec::new();
    if missing > 0 {
        said.push(counted(missing, "missing value", "missing values"));
    }
    if look > 0 {
        said.push(counted(look, "value to look at", "values to look at"));
    }
    said.join(", ")
}

/// Remarks by dimension: those that say the same of several items stand together.
fn remark_table(remarks: &[Remark]) -> Table {
    let mut alike: BTreeMap<(bool, &str, &str), Vec<&str>> = BTreeMap::new();
    for r in remarks {
        alike.entry((!r.missing, &r.dimension, &r.remark)).or_default().push(&r.item);
    }
    let mut table = Table::unnamed(
        "Remarks on dimensions",
        vec![text("Dimension"), text(""), number("Items", ""), text("Such as"), text("Why")],
    );
    for ((present, dimension, why), items) in alike.into_iter().take(REMARKS) {
        let first: Vec<&str> = items.iter().take(3).copied().collect();
        let more = if items.len() > 3 { ", …" } else { "" };
        let kind = if present { cell("look").flag(Flag::Note) } else { cell("missing").flag(Flag::Warning) };
        table.row(vec![
            cell(title_words(dimension, None)),
            kind,
            cell(count(items.len())),
            cell(format!("{}{more}", first.join(", "))).prose(),
            cell(sentence(why)).prose(),
        ]);
    }
    table
}

/// How a unit is shown, and with how many decimals: lengths stay in millimetres, areas and volumes are made readable.
fn shown(unit: Option<&str>) -> (f64, String, usize) {
    match unit {
        Some("mm") => (1.0, "mm".to_owned(), 1),
        Some(u @ ("kg" | "litres" | "deg" | "s")) => (1.0, format::unit(u), 1),
        other => {
            let (factor, unit, _) = format::chart_unit(other);
            (factor, unit, 3)
        }
    }
}

fn summary_table(summaries: &[DimensionSummary], names: &[&str]) -> Table {
    let extremes = summaries.iter().any(|s| s.p1.is_some() || s.p99.is_some());
    let missing = summaries.iter().any(|s| s.missing > 0);
    let grouped = summaries.iter().any(|s| s.group.is_some());
    let mut columns: Vec<Column> = vec![text("Dimension"), number("n", "")];
    if missing {
        columns.push(number("Missing", ""));
    }
    columns.extend(["Mean", "SD", "Least"].map(|c| number(c, "")));
    if extremes {
        columns.push(number("P1", ""));
    }
    columns.extend(["P5", "Median", "P95"].map(|c| number(c, "")));
    if extremes {
        columns.push(number("P99", ""));
    }
    columns.push(number("Most", ""));
    let mut table = Table::unnamed("Body dimensions", columns);
    for name in names {
        for s in summaries.iter().filter(|s| s.name == *name) {
            let (factor, unit, decimals) = shown(s.unit.as_deref());
            let value =
                |v: Option<f64>| cell(v.map_or_else(|| "–".to_owned(), |v| about(v * factor, decimals)));
            let percentile = |v: Option<f64>, needed: usize| -> Cell {
                if v.is_some() {
                    return value(v);
                }
                cell(format!("n < {needed}"))
                    .suppressed()
                    .reason(format!("Not given: it needs {needed} people, and there are {}", s.n))
            };
            let first = match &s.group {
                Some(group) => cell(group.clone()),
                None => cell(title_words(name, s.unit.as_deref())).quiet(unit),
            };
            let mut row = vec![first, cell(count(s.n))];
            if missing {
                row.push(cell(if s.missing > 0 { count(s.missing) } else { String::new() }));
            }
            let mean = value(s.mean);
            row.push(match s.mean_half_width {
                Some(half) => mean.quiet(format!("± {}", about(half * factor, decimals))),
                None => mean,
            });
            row.extend([value(s.sd), value(s.min)]);
            if extremes {
                row.push(percentile(s.p1, PEOPLE_FOR_P1));
            }
            row.push(percentile(s.p5, PEOPLE_FOR_P5));
            row.push(value(s.p50));
            row.push(percentile(s.p95, PEOPLE_FOR_P5));
            if extremes {
                row.push(percentile(s.p99, PEOPLE_FOR_P1));
            }
            row.push(value(s.max));
            let kind = match (&s.group, grouped) {
                (Some(_), _) => RowKind::Sub,
                (None, true) => RowKind::Over,
                (None, false) => RowKind::Plain,
            };
            table.push(kind, row);
        }
    }
    table
}
