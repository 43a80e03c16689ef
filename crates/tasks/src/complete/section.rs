//! What a reader is shown: a completed body, what was filled, or how completions fare on people held out.

use formkin_report::document::table::{Table, cell, number, text};
use formkin_report::document::{Body, Section};
use formkin_report::format::{count, counted, fixed, percent, words};
use formkin_shape::Space;
use formkin_shape::complete::Calibration;

use super::CompleteOutcome;
use super::fill::FillOutcome;
use super::part::CompletedBody;

/// The sections of the run of this label, with their answers. Of the runs of a study, which are `runs`, the first shows all.
pub(super) fn sections(
    label: &str,
    space: &Space,
    made: &CompleteOutcome,
    runs: &[(String, &CompleteOutcome)],
) -> Vec<Section> {
    let of = |answer: Vec<String>, body: Body| Section {
        id: "completed".to_owned(),
        title: "What was completed".to_owned(),
        answer,
        body,
        ..Section::default()
    };
    match made {
        CompleteOutcome::Body(found) => vec![of(body_lines(space, found), body(space, found))],
        CompleteOutcome::Filled(found) => vec![of(filled_lines(found), filled(found))],
        CompleteOutcome::HeldOut(own) => {
            if runs.iter().position(|(other, _)| other == label).unwrap_or(0) > 0 {
                return Vec::new();
            }
            let mut all: Vec<(String, &Calibration)> = runs
                .iter()
                .filter_map(|(label, outcome)| match outcome {
                    CompleteOutcome::HeldOut(c) => Some((label.clone(), c)),
                    _ => None,
                })
                .collect();
            if all.is_empty() {
                all.push((label.to_owned(), own));
            }
            // beside the predictions of the same study
            vec![Section {
                id: "predicted".to_owned(),
                title: "Bodies from dimensions and from parts".to_owned(),
                body: held_out(&all),
                ..Section::default()
            }]
        }
    }
}

fn body_lines(space: &Space, found: &CompletedBody) -> Vec<String> {
    let done = &found.completed;
    let mut lines = vec![
        format!(
            "{} vertices seen, {} completed, with {} modes of {} people; the seen ones lie {:.2} mm (RMS) from the completed body",
            done.seen,
            found.missing.len(),
            done.coefficients_mm.len(),
            space.people,
            done.residual_rms_mm
        ),
        format!("{:.2} SD from the mean (99 % of people are within {:.2})", done.mahalanobis, done.limit),
    ];
    let width = |h| format!("completed vertices: within +- {h:.1} mm a coordinate (95 %, RMS)");
    lines.extend(found.half_width_95_mm.map(width));
    lines.extend(found.notes.iter().map(|n| format!("note: {n}")));
    lines
}

fn body(space: &Space, found: &CompletedBody) -> Body {
    let done = &found.completed;
    let mut body = Body::default();
    body.paragraph(&format!(
        "{} were seen and {} completed, with {} of {}. The seen ones lie {} mm (root mean square) from the completed body, which lies {} SD from the mean (99 % of people are within {}).",
        counted(done.seen, "vertex", "vertices"),
        count(found.missing.len()),
        counted(done.coefficients_mm.len(), "mode", "modes"),
        counted(space.people, "person", "people"),
        fixed(done.residual_rms_mm, 2),
        fixed(done.mahalanobis, 2),
        fixed(done.limit, 2)
    ));
    if let Some(width) = found.half_width_95_mm {
        body.paragraph(&format!(
            "Completed vertices lie within ± {} mm a coordinate (95 %, root mean square).",
            fixed(width, 1)
        ));
    }
    body.remarks(&found.notes);
    body
}

fn filled_lines(found: &FillOutcome) -> Vec<String> {
    let refused = found.refused();
    let mut lines =
        vec![format!("{} filled, {refused} refused", counted(found.items.len() - refused, "item", "items"))];
    for c in &found.calibrations {
        let k = &c.calibration;
        lines.push(format!(
            "{} missing vertices ({} items): on {} people left out they come back within {:.1} mm RMS (the mean body: {:.1}); intervals of 95 % held {:.1} %, and are multiplied by {:.2}",
            c.missing, c.items, k.people, k.rms_mm, k.mean_rms_mm, 100.0 * k.coverage_95, k.factor
        ));
    }
    for item in &found.items {
        lines.extend(item.refused.iter().map(|reason| format!("refused: {}: {reason}", item.item)));
    }
    lines.extend(found.notes.iter().map(|n| format!("note: {n}")));
    lines
}

fn filled(found: &FillOutcome) -> Body {
    let mut body = Body::default();
    let refused = found.refused();
    body.paragraph(&format!(
        "{} filled, {} refused. Seen vertices keep their places.",
        counted(found.items.len() - refused, "item was", "items were"),
        count(refused)
    ));
    let mut table = Table::new(
        "Items with holes",
        vec![
            text("Item"),
            number("Missing vertices", ""),
            number("95 % within ±", "mm"),
            number("Seen vertices off", "mm"),
            number("Distance from the mean", "SD"),
            text("Remark"),
        ],
    );
    let some =
        |x: Option<f64>, decimals| cell(x.map_or_else(|| "\u{2013}".to_owned(), |x| fixed(x, decimals)));
    for item in &found.items {
        let remark = match &item.refused {
            Some(reason) => reason.clone(),
            None if item.outside => "further out than 99 % of people".to_owned(),
            None => String::new(),
        };
        table.row(vec![
            cell(item.item.clone()),
            cell(count(item.missing.len())),
            some(item.half_width_95_mm, 1),
            some(item.residual_rms_mm, 2),
            some(item.mahalanobis, 2),
            cell(remark).prose(),
        ]);
    }
    body.table(table);
    let mut all: Vec<(String, &Calibration)> = Vec::new();
    for c in &found.calibrations {
        let vertices = counted(c.missing, "vertex", "vertices");
        all.push((format!("{vertices} of {}", counted(c.items, "item", "items")), &c.calibration));
    }
    if !all.is_empty() {
        calibrated(&mut body, &all);
    }
    body.remarks(&found.notes);
    body
}

/// Regions hidden on people held out.
fn held_out(all: &[(String, &Calibration)]) -> Body {
    let mut body = Body::default();
    body.heading("Bodies completed from a part");
    let named: Vec<(String, &Calibration)> = all.iter().map(|(n, c)| (words(n, None), *c)).collect();
    calibrated(&mut body, &named);
    body
}

fn calibrated(body: &mut Body, all: &[(String, &Calibration)]) {
    body.paragraph(
        "A region was hidden on people held out, in poses of their own, and put back from what was seen; alignment and modes were refitted without them. Nominal 95 % intervals should hold 95 % of the hidden \
         coordinates; where they do not, the factor is what standard deviations must be multiplied by.",
    );
    let mut table = Table::new(
        "Hidden regions, completed",
        vec![
            text("Hidden"),
            number("Error", "mm"),
            number("The mean body laid on", "mm"),
            number("Within nominal 95 %", ""),
            number("Standard error", ""),
            number("Factor", ""),
            number("People held out", ""),
        ],
    );
    for (hidden, c) in all {
        table.row(vec![
            cell(hidden.clone()),
            cell(fixed(c.rms_mm, 2)),
            cell(fixed(c.mean_rms_mm, 2)),
            cell(percent(c.coverage_95)),
            cell(percent(c.coverage_se)),
            cell(fixed(c.factor, 2)),
            cell(count(c.people)),
        ]);
    }
    body.table(table);
}
