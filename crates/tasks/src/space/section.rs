//! How bodies differ: the mean and its modes, and how many of them are enough.

use std::sync::Arc;

use formkin_align::Removes;
use formkin_shape::{CrossValidation, Space};

use formkin_report::charts::{Axis, Key, Layer, Plot};
use formkin_report::document::table::{Table, cell, number, text};
use formkin_report::document::view::{Deforming, MODES, Triangles, View};
use formkin_report::document::{Body, Section};
use formkin_report::format::{about, count, counted, fixed, percent};

use super::{SpaceInputs, SpaceOutcome, criteria, moments_section, quality, words};

/// Most modes in the charts of variances.
const SHOWN: usize = 20;

/// The sections, with their answers.
pub(super) fn sections(inputs: &SpaceInputs, made: &SpaceOutcome) -> Vec<Section> {
    let space = &made.fitted.space;
    let triangles = Arc::from(inputs.cohort().template().mesh.topology().triangles());
    let part = |id: &str, title: &str, answer: Vec<String>, body: Body| Section {
        id: id.to_owned(),
        title: title.to_owned(),
        answer,
        body,
        ..Section::default()
    };
    let mut all = vec![
        part("space", "How bodies differ", words::described(space), bodies(space, &triangles)),
        part("modes", "How many modes are enough", words::mode_lines(space), modes(space)),
    ];
    let found = quality::body(made);
    if !found.is_empty() {
        all.push(part("quality", "How good the space is", words::quality_lines(space), found));
    }
    all.extend(space.regression.as_ref().map(moments_section::section));
    let notes = made.notes.iter().map(|n| format!("note: {n}"));
    if let Some(last) = all.last_mut() {
        last.answer.extend(notes);
    }
    all
}

/// The 3-D view with its sliders.
fn bodies(space: &Space, triangles: &Triangles) -> Body {
    let mut body = Body::default();
    let of_whom = if space.items == space.people {
        counted(space.people, "person", "people")
    } else {
        format!(
            "{} of {}",
            counted(space.items, "shape", "shapes"),
            counted(space.people, "person", "people")
        )
    };
    let removed = match space.removes {
        Removes::Rigid => "Position and turn were taken out of every shape; size was kept",
        Removes::Similarity => {
            "Position, turn and size were taken out of every shape: what is left is form alone"
        }
        Removes::Standing => {
            "Position on the floor and the turn about the vertical were taken out of every shape; size was kept"
        }
    };
    body.paragraph(&format!(
        "The body below is the mean of {of_whom}. Each mode is a way in which bodies differ from it, the \
         strongest first; about two in three people lie within 1 SD of the mean along a mode, and nearly all within 3. \
         {removed}, and vertices count {}.",
        match space.weighting.as_str() {
            "plain" => "all alike",
            "region" => "by the skin around them, in one region only",
            _ => "by the skin around them",
        }
    ));
    if space.modes.is_empty() {
        body.note("All shapes are the same: there are no modes to show.");
        return body;
    }
    body.view(View::Deforming(view(space, triangles)));
    body
}

/// The mean body on its sliders.
fn view(space: &Space, triangles: &Triangles) -> Deforming {
    let mark = |k: usize| match space.criteria.as_ref().map(|c| c.stable(k)) {
        Some(Some(false)) => format!("\u{2020} mode {} is not stable and has no name", k + 1),
        Some(None) => format!("stability of mode {} was not asked", k + 1),
        _ => String::new(),
    };
    let explained = space.explained();
    let hint = |shown: usize| {
        format!(
            "Millimetres are the root mean square over the skin of how far the surface moves. The first {} of {} hold {} of the \
             variance. A slider alone is no person: real people differ along all modes at once.",
            counted(shown, "mode", "modes"),
            count(space.modes.len()),
            explained.get(shown - 1).map_or_else(String::new, |&e| percent(e)),
        )
    };
    let shown = space.modes.len().min(MODES);
    Deforming {
        id: "formkin-space".to_owned(),
        label: "The mean body, moved along its modes by the sliders.".to_owned(),
        triangles: triangles.clone(),
        mean: space.mean.clone(),
        modes: space.modes.iter().take(shown).cloned().collect(),
        variances_mm2: space.variances_mm2.clone(),
        total_variance_mm2: space.total_variance_mm2,
        marks: (0..shown).map(mark).collect(),
        hints: (1..=shown).map(hint).collect(),
        course: None,
    }
}

/// Variances, and errors over the number of modes.
fn modes(space: &Space) -> Body {
    let mut body = Body::default();
    let spread = space.total_variance_mm2.max(0.0).sqrt();
    body.paragraph(&format!(
        "A point of the skin lies {} mm (root mean square) from where it is on the mean body. Modes describe part of \
         that; what matters is how well they describe people who had no part in making them.",
        about(spread, 1)
    ));
    match (&space.cross_validation, &space.cross_validation_refused) {
        (Some(cv), _) => {
            body.figure(error_chart(cv));
            body.note(&format!("How the number is chosen: {}.", cv.rule.trim_end_matches('.')));
        }
        (None, Some(reason)) => body.note(&format!(
            "There is no error on people held out: {reason}. The variances below are of the very people the modes were \
             made from, and say nothing about others."
        )),
        (None, None) => body.note(
            "People were not held out in this study, so there is no error on people not seen. The variances below are of the \
             very people the modes were made from.",
        ),
    }
    if let Some(found) = &space.criteria {
        criteria::criteria(&mut body, space, found);
    }
    body.figures(spectrum(space));
    let mut inside = Body::default();
    inside.table(mode_table(space));
    body.folded("Modes in numbers", inside);
    body
}

fn error_chart(cv: &CrossValidation) -> formkin_report::charts::Figure {
    let mut plot = Plot::new(
        "errors",
        "Error on people held out, against the number of modes",
        Axis { whole: true, ..Axis::new("number of modes") },
        Axis { from_zero: true, ..Axis::new("error on people held out, mm (root mean square)") },
    );
    plot.aspect = 0.42;
    let usable: Vec<_> = cv.errors.iter().filter(|e| e.rms_mm.is_finite()).collect();
    plot.layers.push(Layer::Band {
        class: "s1",
        points: usable
            .iter()
            .map(|e| (e.modes as f64, (e.rms_mm - e.se_mm).max(0.0), e.rms_mm + e.se_mm))
            .collect(),
    });
    plot.layers.push(Layer::Line {
        class: "s1",
        points: usable.iter().map(|e| (e.modes as f64, e.rms_mm)).collect(),
        dots: usable.len() <= 30,
    });
    plot.layers.push(Layer::Level {
        class: "muted",
        at: cv.target_mm,
        text: format!("target {} mm", about(cv.target_mm, 1)),
    });
    let chosen = cv.chosen_modes.and_then(|k| usable.iter().find(|e| e.modes == k));
    let held = format!("{} held out in {} folds", counted(cv.people, "person", "people"), cv.folds);
    plot.reading = match chosen {
        Some(e) => {
            plot.layers.push(Layer::Pick {
                class: "s2",
                at: (e.modes as f64, e.rms_mm),
                text: format!("{}: {} mm", counted(e.modes, "mode", "modes"), fixed(e.rms_mm, 1)),
            });
            format!(
                "{} describe people not seen to {} mm (standard error {} mm).",
                counted(e.modes, "mode", "modes"),
                fixed(e.rms_mm, 1),
                fixed(e.se_mm, 1)
            )
        }
        None => match usable.iter().min_by(|a, b| a.rms_mm.total_cmp(&b.rms_mm)) {
            Some(best) => format!(
                "No number of modes reaches the target of {} mm on people not seen; the least error is {} mm, with {}.",
                about(cv.target_mm, 1),
                fixed(best.rms_mm, 1),
                counted(best.modes, "mode", "modes")
            ),
            None => "The errors could not be shown.".to_owned(),
        },
    };
    plot.keys = vec![
        Key::new("s1", "line", format!("error, {held}")),
        Key::new("s1", "band", "one standard error on each side"),
    ];
    if chosen.is_some() {
        plot.keys.push(Key::new("s2", "dot", "the number chosen"));
    }
    plot.figure()
}

fn spectrum(space: &Space) -> Vec<formkin_report::charts::Figure> {
    let total = space.total_variance_mm2;
    if total <= 0.0 || space.variances_mm2.is_empty() {
        return Vec::new();
    }
    let shown = space.variances_mm2.len().min(SHOWN);
    let mut each = Plot::new(
        "variances",
        "Share of the variance in each mode, in sample",
        Axis { whole: true, ..Axis::new("mode") },
        Axis { percent: true, from_zero: true, ..Axis::new("share of the variance") },
    );
    each.half = true;
    let shares = space.variances_mm2.iter().take(shown).enumerate();
    each.layers.push(Layer::Columns {
        class: "s1",
        points: shares.map(|(k, v)| ((k + 1) as f64, v / total)).collect(),
        width: 0.72,
    });
    each.reading =
        format!("The first mode holds {} of the variance.", percent(space.variances_mm2[0] / total));

    let explained = space.explained();
    let mut sum = Plot::new(
        "explained",
        "Share of the variance in the first modes together, in sample",
        Axis { whole: true, ..Axis::new("number of modes") },
        Axis { percent: true, range: Some((0.0, 1.0)), ..Axis::new("share of the variance") },
    );
    sum.half = true;
    let points = explained.iter().take(shown).enumerate();
    sum.layers.push(Layer::Line {
        class: "s1",
        points: points.map(|(k, e)| ((k + 1) as f64, *e)).collect(),
        dots: true,
    });
    sum.reading = format!(
        "The first {} hold {} of the variance.",
        counted(shown, "mode", "modes"),
        explained.get(shown - 1).map_or_else(String::new, |&e| percent(e))
    );
    vec![each.figure(), sum.figure()]
}

fn mode_table(space: &Space) -> Table {
    let explained = space.explained();
    let errors = space.cross_validation.as_ref().map(|cv| &cv.errors);
    let mut columns =
        vec![number("Mode", ""), number("SD", "mm"), number("Share", ""), number("Together", "")];
    if errors.is_some() {
        columns.push(number("Error held out", "mm"));
        columns.push(number("Standard error", "mm"));
    }
    if space.criteria.is_some() {
        columns.push(text("Stable"));
    }
    let mut table = Table::unnamed("Modes", columns);
    for (k, v) in space.variances_mm2.iter().take(SHOWN).enumerate() {
        let mut row = vec![
            cell(format!(
                "{}{}",
                k + 1,
                if space.criteria.as_ref().and_then(|c| c.stable(k)) == Some(false) {
                    "\u{2020}"
                } else {
                    ""
                }
            )),
            cell(about(v.max(0.0).sqrt(), 2)),
            cell(percent(v / space.total_variance_mm2)),
            cell(explained.get(k).map_or_else(String::new, |&e| percent(e))),
        ];
        if let Some(errors) = errors {
            let found = errors.iter().find(|e| e.modes == k + 1);
            row.push(cell(found.map_or_else(String::new, |e| fixed(e.rms_mm, 2))));
            row.push(cell(found.map_or_else(String::new, |e| fixed(e.se_mm, 2))));
        }
        if let Some(criteria) = &space.criteria {
            let found = criteria.stability.get(k);
            let word = |stable| if stable { "yes" } else { "no" };
            let unasked = || "not asked".to_owned();
            row.push(cell(found.map_or_else(unasked, |s| format!("{} ({:.2})", word(s.stable), s.cos))));
        }
        table.row(row);
    }
    table
}
