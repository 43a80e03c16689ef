//! Conditions compared: how much a garment reduces, over people and over the skin.

use formkin_geometry::Point;
use formkin_motion::soft::compare::Comparison;
use formkin_report::charts::{Axis, BarRow, BarValue, Bars, Figure};
use formkin_report::document::Body;
use formkin_report::document::table::{Table, cell, number, text};
use formkin_report::document::view::{Painted, Triangles, View};
use formkin_report::format::{about, capital, count, counted, fixed, signed};

use super::together::some;
use crate::signals::Conditions;

/// Adds the comparisons and, where there is a body to draw it on, the map; nothing where there are none. `id` keeps charts of two parts of a
/// page apart.
pub fn conditions(body: &mut Body, id: &str, part: &Conditions, surface: Option<(&[Point], &Triangles)>) {
    if part.comparisons.is_empty() {
        return;
    }
    body.heading("How much the garment reduces");
    body.figure(comparison_chart(id, &part.comparisons));
    body.table(comparison_table(&part.comparisons));
    let mut inside = Body::default();
    inside.table(person_table(&part.comparisons));
    body.folded("Person by person", inside);
    let mut cautions: Vec<String> = Vec::new();
    let said = part.comparisons.iter().flat_map(|c| {
        let own =
            c.persons.iter().filter_map(|p| p.caution.as_ref().map(|w| format!("{}: {w}", p.participant)));
        c.cautions.iter().cloned().chain(own)
    });
    for caution in said.map(|c| format!("{}.", capital(&c))) {
        if !cautions.contains(&caution) {
            cautions.push(caution);
        }
    }
    body.cautions(&cautions);
    body.note(
        "Reduction = 100 (1 − garment / reference) in %, of means over cycles; below 0 the garment moves more. Intervals are bootstraps: over a person's cycles, \
         and over people. Tests are paired, over people. Both conditions must be at the same speed.",
    );
    let Some((pose, triangles)) = surface.filter(|_| !part.reduction_mm.is_empty()) else { return };
    body.view(View::Painted(Painted {
        id: format!("formkin-reduction-{id}"),
        label: "The body, coloured by how much less its skin moves with the garment.".to_owned(),
        triangles: triangles.clone(),
        mean: pose.to_vec(),
        // towards blue where the skin moves less
        values: part.reduction_mm.iter().map(|r| -r).collect(),
        legend: "Where the garment holds the skin".to_owned(),
        unit: "mm".to_owned(),
        colour: "Colour by the change of the vertical range".to_owned(),
        hint: format!(
            "The vertical range of every place of the skin in the body frame, garment less reference, mean over {}: blue moves less with the garment, orange more. All \
             values are in reduction-map.csv.",
            counted(part.map_people, "person", "people")
        ),
        ..Painted::default()
    }));
}

/// A measure as a reader sees it.
fn spoken(measure: &str) -> String {
    measure.replace('_', " ").replace("mm/s2", "mm/s²")
}

fn comparison_chart(id: &str, comparisons: &[Comparison]) -> Figure {
    let one = comparisons.iter().all(|c| c.people == 1);
    let rows: Vec<BarRow> = comparisons
        .iter()
        .map(|c| {
            let interval = if one { c.persons[0].interval_percent } else { c.interval_percent };
            BarRow {
                name: capital(&spoken(&c.measure)),
                values: vec![BarValue { value: c.reduction_percent, class: "s1", interval }],
                text: format!("{} %", signed(c.reduction_percent, 1)),
            }
        })
        .collect();
    let best = comparisons.iter().max_by(|a, b| a.reduction_percent.total_cmp(&b.reduction_percent));
    Bars {
        id: format!("conditions-{id}"),
        title: format!(
            "Reduction with the garment, {:.0} % intervals over {}",
            100.0 * comparisons[0].level,
            if one { "the person's cycles" } else { "people" }
        ),
        reading: best.map_or_else(String::new, |c| {
            format!(
                "The largest reduction is {} %, of {}.",
                about(c.reduction_percent, 1),
                spoken(&c.measure)
            )
        }),
        axis: Axis::new("reduction, %"),
        rows,
        keys: Vec::new(),
        dots: true,
        half: false,
    }
    .figure()
}

fn comparison_table(comparisons: &[Comparison]) -> Table {
    let columns = vec![
        text("Measure"),
        number("People", ""),
        number("Reduction", "%"),
        number("Interval", "%"),
        number("Mean difference", ""),
        number("p of t", ""),
        number("p of signed ranks", ""),
    ];
    let mut table = Table::new("Conditions compared", columns);
    let p = |v: Option<f64>| some(v, |p| if p < 0.001 { "< .001".to_owned() } else { fixed(p, 3) });
    for c in comparisons {
        let interval = if c.people == 1 { c.persons[0].interval_percent } else { c.interval_percent };
        table.row(vec![
            cell(capital(&spoken(&c.measure))),
            cell(count(c.people)),
            cell(signed(c.reduction_percent, 1)),
            interval.map_or_else(
                || cell("–").suppressed(),
                |(l, h)| cell(format!("{} to {}", signed(l, 1), signed(h, 1))),
            ),
            some(c.test.as_ref().map(|t| t.mean), |v| signed(v, 1)),
            p(c.test.as_ref().and_then(|t| t.p_t)),
            p(c.test.as_ref().and_then(|t| t.p_signed_rank)),
        ]);
    }
    table
}

fn person_table(comparisons: &[Comparison]) -> Table {
    let columns = vec![
        text("Person"),
        number("Reference", ""),
        number("Garment", ""),
        number("Cycles", ""),
        number("Reduction", "%"),
        number("Interval over cycles", "%"),
    ];
    let mut table = Table::unnamed("Conditions compared, person by person", columns);
    for c in comparisons {
        table.group(capital(&spoken(&c.measure)));
        for p in &c.persons {
            let interval = p.interval_percent.map(|(l, h)| format!("{} to {}", signed(l, 1), signed(h, 1)));
            table.row(vec![
                cell(p.participant.clone()),
                cell(about(p.reference, 1)),
                cell(about(p.garment, 1)),
                cell(format!("{} and {}", p.cycles.0, p.cycles.1)),
                cell(signed(p.reduction_percent, 1)),
                cell(interval.unwrap_or_else(|| "–".to_owned())),
            ]);
        }
    }
    table
}

/// The comparisons in lines for a terminal.
#[must_use]
pub fn lines(conditions: &Conditions) -> Vec<String> {
    let of = |c: &Comparison| -> Vec<String> {
        c.persons
            .iter()
            .map(|p| {
                let interval =
                    p.interval_percent.map_or_else(String::new, |(l, h)| format!(" ({l:.1} to {h:.1})"));
                let caution = p.caution.as_ref().map_or_else(String::new, |c| format!("; {c}"));
                format!(
                    "{}: {:.1} against {:.1} without, reduction {:.1} %{interval}{caution}",
                    c.measure, p.garment, p.reference, p.reduction_percent
                )
            })
            .collect()
    };
    conditions.comparisons.iter().flat_map(of).collect()
}
