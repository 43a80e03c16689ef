//! What a reader is shown: the sizes and whom they fit, who is left out, new people, and the answer at the top.

mod answer;
mod committee;
mod coverage;
mod existing;
mod front;
mod left_out;
mod mannequins;
mod new_people;
mod shown;
mod sizes;

use formkin_report::document::{Front, Section};

use self::shown::Shown;
use super::{SizeInputs, SizeOutcome};

/// The sections, with their answers.
pub(super) fn sections(inputs: &SizeInputs, made: &SizeOutcome) -> Vec<Section> {
    let mut sections = Vec::new();
    if let (Some(system), Some(table)) = (&made.system, &inputs.table) {
        let shown = Shown {
            system,
            existing: made.existing.as_ref(),
            table,
            mannequins: &made.mannequins,
            triangles: inputs.space.as_ref().map_or(&[], |s| s.triangles.as_slice()),
        };
        sections.push(Section {
            answer: answer::of_sizes(&shown),
            body: sizes::body(&shown),
            ..Section::new("sizes", "The sizes, and whom they fit")
        });
        sections
            .push(Section { body: left_out::body(system), ..Section::new("left-out", "Who is left out") });
    }
    if !made.advice.is_empty() {
        sections.push(Section {
            answer: answer::of_new_people(&made.advice),
            body: new_people::body(&made.advice),
            ..Section::new("new-people", "The sizes of new people")
        });
    }
    sections
}

/// The answer at the top.
pub(super) fn front(made: &SizeOutcome) -> Option<Front> {
    made.system.as_ref().map(front::front)
}
