//! What a reader is shown: the dimensions of the body and of people like it.

use formkin_report::document::table::{Table, cell, number, text};
use formkin_report::document::{Body, Section};
use formkin_report::format::{about, count, counted, fixed, unit, words};

use super::{Method, PredictOutcome};
use crate::bodies::half_width;

/// The section, with its answer.
pub(super) fn section(found: &PredictOutcome) -> Section {
    Section {
        id: "predicted".to_owned(),
        title: "The predicted body".to_owned(),
        answer: answer(found),
        body: body(found),
        ..Section::default()
    }
}

fn answer(found: &PredictOutcome) -> Vec<String> {
    let mut lines = vec![
        "dimension                        given  expected   95 % of such people      on the mesh".to_owned(),
    ];
    for d in &found.dimensions {
        // pure numbers, such as waist over stature, live in their decimals
        let digits = if d.unit.is_some() { 1 } else { 3 };
        let cell = |x: Option<f64>| x.map_or_else(|| "-".to_owned(), |x| format!("{x:.digits$}"));
        let name = d.unit.as_ref().map_or_else(|| d.name.clone(), |u| format!("{} ({u})", d.name));
        lines.push(format!(
            "{name:<30} {:>7} {:>9.digits$} {:>10.digits$} to {:<10.digits$} {:>10}",
            cell(d.target),
            d.expected,
            d.interval_95.0,
            d.interval_95.1,
            cell(d.measured)
        ));
    }
    lines.push(format!(
        "{} people; {:.2} SD from the mean (99 % of people are within {:.2}); a vertex of such a person lies within +- {:.1} mm a coordinate (95 %, RMS)",
        found.people,
        found.mahalanobis,
        found.limit,
        half_width(&found.sd_mm, found.t_95)
    ));
    if let Some(miss) = found.largest_miss_mm {
        lines
            .push(format!("measured again on the mesh, rounds: {}; largest miss {miss:.2} mm", found.rounds));
    }
    lines.extend(found.notes.iter().map(|n| format!("note: {n}")));
    lines
}

fn body(found: &PredictOutcome) -> Body {
    let mut body = Body::default();
    let method = match found.method {
        Method::ConditionalNormal => "the conditional normal distribution".to_owned(),
        Method::PartialLeastSquares { components } => {
            format!("partial least squares with {}", counted(components, "component", "components"))
        }
    };
    body.paragraph(&format!(
        "Predicted by {method} from {}. The given values lie {} SD from the mean (99 % of people are within {}). A vertex of such a person lies within ± {} mm a coordinate (95 %, root mean square over the skin).",
        counted(found.people, "person", "people"),
        fixed(found.mahalanobis, 2),
        fixed(found.limit, 2),
        fixed(half_width(&found.sd_mm, found.t_95), 1)
    ));
    if let Some(miss) = found.largest_miss_mm {
        body.paragraph(&format!(
            "The mesh was measured in {} until it had the given dimensions; the largest distance from one is {} mm.",
            counted(found.rounds, "round", "rounds"),
            fixed(miss, 2)
        ));
    }
    let mut table = Table::new(
        "Dimensions of the predicted body",
        vec![
            text("Dimension"),
            text("Unit"),
            number("Given", ""),
            number("Expected", ""),
            number("95 % of such people, from", ""),
            number("to", ""),
            number("On the mesh", ""),
        ],
    );
    for d in &found.dimensions {
        let decimals = if d.unit.is_some() { 1 } else { 3 };
        let some = |x: Option<f64>| cell(x.map_or_else(|| "\u{2013}".to_owned(), |x| fixed(x, decimals)));
        table.row(vec![
            cell(words(&d.name, d.unit.as_deref())),
            cell(d.unit.as_deref().map_or_else(String::new, unit)),
            some(d.target),
            some(Some(d.expected)),
            some(Some(d.interval_95.0)),
            some(Some(d.interval_95.1)),
            some(d.measured),
        ]);
    }
    body.table(table);
    body.remarks(&found.notes);
    let mut inside = Body::default();
    let mut coefficients =
        Table::unnamed("Coefficients", vec![number("Mode", ""), number("Coefficient", "mm")]);
    for (k, c) in found.coefficients_mm.iter().enumerate() {
        coefficients.row(vec![cell(count(k + 1)), cell(about(*c, 2))]);
    }
    inside.table(coefficients);
    body.folded("Coefficients of the body", inside);
    body
}
