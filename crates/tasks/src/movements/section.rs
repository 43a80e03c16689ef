//! What a reader is shown: dimensions by how much they change, how curves differ, conditions compared, what a garment must allow for.

use std::sync::Arc;

use formkin_motion::changes::Allowance;
use formkin_report::document::table::{Table, cell, number, text};
use formkin_report::document::{Body, Section};
use formkin_report::format::{about, count, counted, title_words, unit};

use super::run::{MovementsInputs, MovementsOutcome};
use super::shared_section::space;
use crate::signals::section::compared::conditions;
use crate::signals::section::together::{changes, components, some};

/// What keeps its charts apart from others.
const ID: &str = "movements";

/// The beginning of the section of movements; nothing where there are none.
pub(super) fn section(inputs: &MovementsInputs, made: &MovementsOutcome) -> Option<Section> {
    let (topology, pose) = inputs.body()?;
    let mut body = Body::default();
    let mut people: Vec<&str> = inputs.outcomes().map(|m| m.participant.as_str()).collect();
    people.sort_unstable();
    people.dedup();
    let whom = if people.len() == 1 { "this person and no other" } else { "these people and no others" };
    body.paragraph(&format!(
        "{} of {}. What follows is about {whom}: frames of one person say nothing about how people differ.",
        counted(inputs.motions.len(), "movement", "movements"),
        counted(people.len(), "person", "people")
    ));
    changes(&mut body, &made.changes);
    components(&mut body, ID, &made.components);
    if let Some(compared) = &made.conditions {
        let triangles = Arc::from(topology.triangles());
        conditions(&mut body, ID, compared, Some((pose, &triangles)));
    }
    allowance(&mut body, &made.allowances);
    if let Some(shared) = &made.shared {
        space(&mut body, ID, shared);
    }
    Some(Section {
        id: "movement".to_owned(),
        title: "What movement does".to_owned(),
        body,
        ..Section::default()
    })
}

fn allowance(body: &mut Body, allowances: &[Allowance]) {
    let moving: Vec<&Allowance> =
        allowances.iter().filter(|a| a.increase.max > 0.0 || a.decrease.max > 0.0).collect();
    if moving.is_empty() {
        return;
    }
    body.heading("What a garment must allow for");
    let mut table = Table::new(
        "Dynamic allowance: the greatest change from the reference pose, over people",
        vec![
            text("Dimension"),
            text("Unit"),
            number("People", ""),
            number("Increase, mean", ""),
            number("Median", ""),
            number("95th percentile", ""),
            number("Most", ""),
            number("Decrease, mean", ""),
            number("Most", ""),
        ],
    );
    for a in &moving {
        let spread = a.increase.sd.map_or_else(String::new, |sd| format!("SD {}", about(sd, 1)));
        table.row(vec![
            cell(title_words(&a.dimension, Some(&a.unit))),
            cell(unit(&a.unit)),
            cell(count(a.people)),
            cell(about(a.increase.mean, 1)).quiet(spread),
            cell(about(a.increase.p50, 1)),
            some(a.increase.p95, |v| about(v, 1)),
            cell(about(a.increase.max, 1)),
            cell(about(a.decrease.mean, 1)),
            cell(about(a.decrease.max, 1)),
        ]);
    }
    body.table(table);
    let few = moving.iter().map(|a| a.people).max().unwrap_or(0);
    body.note(&format!(
        "A garment must fit the moving body: this is what each dimension grows and shrinks by at most in the study's movements. The values of every person are in dynamic-people.csv, which a size \
         plan reads. {}",
        if few < 60 { "A 95th percentile is given from 60 people on." } else { "" }
    ));
}
