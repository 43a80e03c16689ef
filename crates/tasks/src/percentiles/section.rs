//! What a reader is shown: percentiles, and values to look at.

use formkin_measure::population::{Distribution, OutOfRange, Population};
use formkin_report::document::table::{Table, cell, number, text};
use formkin_report::document::{Body, Section};
use formkin_report::format::{about, count, counted, fixed, title_words, unit};

use crate::sentence::sentence;

/// Most values to look at that are listed.
const LISTED: usize = 100;

pub(super) fn sections(people: usize, made: &Population) -> Vec<Section> {
    vec![
        Section {
            answer: answer(people, made),
            body: percentiles(people, made),
            ..Section::new("percentiles", "The population in percentiles")
        },
        Section { body: to_look_at(made), ..Section::new("out-of-range", "Values to look at") },
    ]
}

/// Digits after the point: pure numbers, such as waist over stature, live in their decimals.
fn digits(d: &Distribution) -> usize {
    if d.unit.is_some() { 1 } else { 3 }
}

fn at(d: &Distribution, percent: f64) -> Option<f64> {
    d.percentiles.iter().find(|p| p.percent == percent).and_then(|p| p.value)
}

fn answer(people: usize, made: &Population) -> Vec<String> {
    let mut lines = vec![format!(
        "{:<28} {:<10} {:>5} {:>9} {:>9} {:>9} {:>9} {:>9}",
        "dimension", "group", "n", "P5", "P25", "P50", "P75", "P95"
    )];
    for d in &made.distributions {
        let digits = digits(d);
        let shown = |p| at(d, p).map_or_else(|| "-".to_owned(), |x| format!("{x:.digits$}"));
        lines.push(format!(
            "{:<28} {:<10} {:>5} {:>9} {:>9} {:>9} {:>9} {:>9}",
            d.dimension,
            d.group.as_deref().unwrap_or("all"),
            d.n,
            shown(5.0),
            shown(25.0),
            shown(50.0),
            shown(75.0),
            shown(95.0)
        ));
    }
    let all = |n: usize| counted(n, "person", "people");
    lines.push(format!(
        "{} in the table; {} values to look at; {}",
        all(people),
        made.out_of_range.len(),
        made.caution
    ));
    if let Some((least, most)) = made.correlation_n_range() {
        lines.push(format!(
            "correlations of two dimensions are of {} who have both (n of each pair in correlations-n.csv and `correlation_n`)",
            if least == most { all(most) } else { format!("{least} to {}", all(most)) }
        ));
    }
    lines
}

fn percentiles(people: usize, made: &Population) -> Body {
    let mut body = Body::default();
    body.paragraph(&format!(
        "{} {} {}",
        counted(people, "person", "people"),
        if people == 1 { "is in the table." } else { "are in the table." },
        sentence(&made.caution)
    ));
    let shown = [1.0, 5.0, 25.0, 50.0, 75.0, 95.0, 99.0];
    let mut columns = vec![text("Dimension"), number("People", ""), number("Mean", ""), number("SD", "")];
    columns.extend(shown.iter().map(|p| number(format!("P{p}"), "")));
    let mut table = Table::unnamed("Percentiles of every dimension", columns);
    let mut group = None;
    for d in &made.distributions {
        if group != Some(&d.group) {
            group = Some(&d.group);
            table.group(d.group.as_ref().map_or_else(|| "Everyone".to_owned(), |g| title_words(g, None)));
        }
        let digits = digits(d);
        let value = |x: Option<f64>| match x {
            Some(x) => cell(fixed(x, digits)),
            None => cell("–").suppressed(),
        };
        let name = title_words(&d.dimension, None);
        let unit = d.unit.as_deref().map(unit);
        let mut row = vec![
            cell(unit.map_or_else(|| name.clone(), |u| format!("{name}, {u}"))).keep(),
            cell(count(d.n)),
            value(d.mean),
            value(d.sd),
        ];
        row.extend(shown.iter().map(|p| value(at(d, *p))));
        table.row(row);
    }
    body.table(table);
    body.note("A percentile that the number of people does not support is left out.");
    body
}

fn to_look_at(made: &Population) -> Body {
    let mut body = Body::default();
    if made.out_of_range.is_empty() {
        body.paragraph("No value is out of the usual.");
        return body;
    }
    body.paragraph("Values far from the median of their group. None was left out: people of unusual size are those that sizes must reach.");
    let columns = vec![
        text("Person"),
        text("Dimension"),
        text("Group"),
        number("Value", ""),
        number("Median", ""),
        number("Robust SDs from it", ""),
    ];
    let mut table = Table::unnamed("Values to look at", columns);
    for o in made.out_of_range.iter().take(LISTED) {
        let OutOfRange { id, dimension, group, value, median, robust_sds } = o;
        table.row(vec![
            cell(id.clone()),
            cell(title_words(dimension, None)),
            cell(group.clone().unwrap_or_else(|| "all".to_owned())),
            cell(about(*value, 3)),
            cell(about(*median, 3)),
            cell(fixed(*robust_sds, 1)),
        ]);
    }
    body.table(table);
    if made.out_of_range.len() > LISTED {
        body.note(&format!("The first {LISTED}; the table of values to look at has all."));
    }
    body
}
