//! What a reader is shown: the slope, its test, where on the body.

use std::sync::Arc;

use formkin_report::document::view::Painted;
use formkin_report::document::{Body, Section};
use formkin_report::format::{about, capital, count, list, percent};
use formkin_shape::Space;
use formkin_shape::compare::{Place, ShapeRegression};

use super::RegressSettings;
use crate::figures::{chance, name_and_unit};
use crate::groups::{self, ANOVA, Among, anova_table, coloured, painted, tail, tested};

/// The section, with its answer: the one of so many.
pub(super) fn section(
    settings: &RegressSettings,
    space: &Space,
    made: &Among<ShapeRegression>,
    (at, of): (usize, usize),
) -> Section {
    let mut body = Body::default();
    if of > 1 {
        body.heading(&capital(&name_and_unit(&settings.on).0));
    }
    regression(&mut body, settings, space, made, at);
    if at + 1 == of {
        body.note("A slope is a tendency among these people, not a cause, and says little beyond the range that was measured.");
    }
    Section {
        id: "slopes".to_owned(),
        title: "What shape goes with".to_owned(),
        answer: answer(settings, space, made),
        body,
        ..Section::default()
    }
}

fn answer(settings: &RegressSettings, space: &Space, made: &Among<ShapeRegression>) -> Vec<String> {
    let found = &made.result;
    let mut lines = vec![format!(
        "{} people; {} {:.2} (SD {:.2}); one SD moves the surface {:.2} mm RMS",
        made.people, found.on, found.mean, found.sd, found.effect_of_one_sd_mm
    )];
    let mut fixed = found.covariates.clone();
    fixed.extend(settings.by.clone());
    if !fixed.is_empty() {
        lines.push(format!("held fixed: {}", fixed.join(", ")));
    }
    lines.push(tested(&found.on, &found.anova));
    if let Some(slopes) = &found.equal_slopes {
        lines.push(tested("different slopes", slopes));
    }
    tail(space, &found.place, &found.effect, made, &mut lines);
    lines
}

fn regression(
    body: &mut Body,
    settings: &RegressSettings,
    space: &Space,
    made: &Among<ShapeRegression>,
    which: usize,
) {
    let found = &made.result;
    let (name, unit) = name_and_unit(&settings.on);
    let a = &found.anova;
    let mut held: Vec<String> = found.covariates.clone();
    if !found.groups.is_empty() {
        held.push(format!("groups ({})", found.groups.join(", ")));
    }
    body.paragraph(&format!(
        "{}; {name} {} {unit} on average (SD {} {unit}){}. One SD more of it moves the skin {} mm (root mean square). It explains {} of the variation of shape, and {} (p {}, {} permutations of people).",
        groups::people(made),
        about(found.mean, 2),
        about(found.sd, 2),
        if held.is_empty() { String::new() } else { format!("; held fixed: {}", list(&held)) },
        about(found.effect_of_one_sd_mm, 2),
        percent(a.r2),
        if a.p <= 0.05 { "that is more than chance gives" } else { "chance may give as much" },
        chance(a.p),
        count(a.permutations)
    ));
    let one = found.displacement(space, found.sd);
    let place = Place {
        effect_mm: found.place.effect_mm.iter().map(|e| e * found.sd).collect(),
        ..found.place.clone()
    };
    body.view(painted(
        space,
        &place,
        Painted {
            id: format!("formkin-slope-{which}"),
            triangles: Arc::from(space.triangles.as_slice()),
            morphs: vec![(capital(&name), one)],
            legend: "Move the mean along the slope".to_owned(),
            unit: "SD".to_owned(),
            low: -3.0,
            high: 3.0,
            colour: format!("Colour: what one SD more of {name} does, along the skin's outward direction"),
            hint: format!("From 3 SD less to 3 SD more than the mean. {}", coloured(&place)),
            ..Painted::default()
        },
    ));
    let mut rows = vec![(name.clone(), a)];
    if let Some(slopes) = &found.equal_slopes {
        rows.push((format!("other slopes in other groups ({})", found.groups.join(", ")), slopes));
    }
    body.table(anova_table(&rows));
    body.note(ANOVA);
    if let Some(slopes) = &found.equal_slopes {
        body.note(&if slopes.p <= 0.05 {
            format!(
                "Slopes differ between groups (p {}): one slope for all does not say everything.",
                chance(slopes.p)
            )
        } else {
            format!("No sign that slopes differ between groups (p {}).", chance(slopes.p))
        });
    }
}
