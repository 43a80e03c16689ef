//! Who is left out, and by which dimension.

use formkin_report::charts::{Axis, BarRow, BarValue, Bars, Figure, Key};
use formkin_report::document::Body;
use formkin_report::document::table::{Flag, Table, cell, number, text};
use formkin_report::format::{
    chart_unit, count, counted, fixed, percent, percent_interval, title_words, words,
};
use formkin_sizing::{Assignment, LeftOutDimension, SizeSystem};

/// Most people in the list.
const LISTED: usize = 100;

/// The section.
pub(super) fn body(system: &SizeSystem) -> Body {
    let out = &system.left_out;
    let mut body = Body::default();
    if out.people == 0 {
        body.paragraph("Every person of the study has a size. People not seen may still have none: see the coverage above.");
        return body;
    }
    let mut said = format!(
        "{} of {} of the study have no size ({}).",
        count(out.people),
        counted(system.people, "person", "people"),
        percent(out.share)
    );
    if !system.given {
        said.push_str(&format!(
            " They are counted here against the sizes as they stand. Of people held out, {} have none.",
            percent(1.0 - system.coverage_held_out)
        ));
    }
    body.paragraph(&said);
    if let Some(figure) = by_dimension_chart(&out.by_dimension) {
        body.figure(figure);
    }
    body.table(by_dimension(&out.by_dimension));
    let mut table = Table::new(
        "Who they are",
        vec![
            text("Class"),
            number("People", ""),
            number("Left out", ""),
            number("Share left out", ""),
            number(if system.given { "Fitted" } else { "Fitted, held out" }, ""),
            number("Interval", ""),
        ],
    );
    let mut column = "";
    for g in &out.by_column {
        if g.column != column {
            column = &g.column;
            table.group(title_words(column, None));
        }
        let share = cell(percent(g.share));
        table.row(vec![
            cell(g.value.clone()),
            cell(count(g.people)),
            cell(count(g.left_out)),
            if g.few { share.suppressed().quiet("(few)") } else { share },
            cell(if g.few { "–".to_owned() } else { percent(g.coverage_held_out) }).held(),
            cell(if g.few { "–".to_owned() } else { percent_interval(g.held_out_interval) }).held(),
        ]);
    }
    body.table(table);
    let people: Vec<&Assignment> =
        system.groups.iter().flat_map(|g| &g.assignments).filter(|a| a.size.is_none()).collect();
    let mut inside = Body::default();
    inside.table(list(&people));
    if people.len() > LISTED {
        inside.note(&format!("The first {LISTED}; the table of assignments beside this page has all."));
    }
    body.folded(
        &format!("The {} without a size, one by one", counted(people.len(), "person", "people")),
        inside,
    );
    body
}

fn by_dimension_chart(dimensions: &[LeftOutDimension]) -> Option<Figure> {
    let name = |d: &LeftOutDimension| words(&d.dimension, d.unit.as_deref());
    let mut sides: Vec<(String, usize)> = Vec::new();
    let mut rows = Vec::new();
    for d in dimensions {
        for (what, n, class) in [("too small", d.too_small, "s1"), ("too large", d.too_large, "s2")] {
            rows.push(BarRow {
                name: format!("{}, {what}", title_words(&d.dimension, d.unit.as_deref())),
                values: vec![BarValue::plain(n as f64, class)],
                text: count(n),
            });
            sides.push((format!("{what} on {}", name(d)), n));
        }
    }
    let most = sides.iter().max_by_key(|s| s.1).filter(|s| s.1 > 0)?;
    Some(
        Bars {
            id: "left-out".into(),
            title: "People without a size, by the limit of the nearest size that they miss".into(),
            reading: format!("Missed most often: {} {}.", counted(most.1, "person is", "people are"), most.0),
            axis: Axis { whole: true, ..Axis::new("people; one may miss several limits") },
            rows,
            keys: vec![
                Key::new("s1", "column", "too small for the nearest size"),
                Key::new("s2", "column", "too large for it"),
            ],
            dots: false,
            half: false,
        }
        .figure(),
    )
}

fn by_dimension(dimensions: &[LeftOutDimension]) -> Table {
    let mut table = Table::new(
        "By control dimension",
        vec![
            text("Dimension"),
            number("Too small", "people"),
            number("Too large", "people"),
            number("By this alone", "people"),
            number("Median miss", ""),
            number("Largest miss", ""),
        ],
    );
    for d in dimensions {
        let (factor, unit, decimals) = chart_unit(d.unit.as_deref());
        let miss = |m: Option<f64>| match m {
            Some(m) => cell(format!("{} {unit}", fixed(m * factor, decimals))),
            None => cell("–"),
        };
        table.row(vec![
            cell(title_words(&d.dimension, d.unit.as_deref())),
            cell(count(d.too_small)),
            cell(count(d.too_large)),
            cell(count(d.alone)),
            miss(d.median_miss),
            miss(d.largest_miss),
        ]);
    }
    table
}

fn list(people: &[&Assignment]) -> Table {
    let mut table = Table::unnamed(
        "People without a size",
        vec![text("Person"), text("Nearest size"), text("Misses it by"), text("")],
    );
    for a in people.iter().take(LISTED) {
        let misses: Vec<String> = a
            .misses
            .iter()
            .map(|m| {
                let (factor, unit, decimals) = chart_unit(m.unit.as_deref());
                format!(
                    "{} {unit} too {} on {}",
                    fixed(m.by.abs() * factor, decimals),
                    if m.by > 0.0 { "large" } else { "small" },
                    words(&m.dimension, m.unit.as_deref())
                )
            })
            .collect();
        let borderline = if a.borderline { cell("borderline").flag(Flag::Warning) } else { cell("") };
        table.row(vec![cell(a.id.clone()), cell(a.nearest.clone()), cell(misses.join(", ")), borderline]);
    }
    table
}
