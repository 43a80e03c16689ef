//! The answer at the top of the page.

use crate::ReportInput;
use crate::document::{Fact, Front, Hundred};
use crate::format::{about, count, counted, fixed, list, percent, percent_interval, words};

/// The answer that the results allow: sizes first, else the shape space, else the movements.
pub(crate) fn front(input: &ReportInput<'_>) -> Front {
    let facts = &input.facts;
    let (question, lead, sentence, qualify) =
        of_sizes(input).or_else(|| of_space(input)).unwrap_or_else(|| of_rest(input));
    let mut facts_shown =
        vec![Fact::new(if facts.people == 1 { "person" } else { "people" }, count(facts.people))];
    if facts.stills > 0 {
        facts_shown.push(Fact::new("still poses", count(facts.stills)));
    }
    if facts.frames > 0 {
        facts_shown.push(Fact::new(
            format!("frames, in {}", counted(facts.sequences, "sequence", "sequences")),
            count(facts.frames),
        ));
    }
    if facts.vertices > 0 {
        facts_shown.push(Fact::new("vertices of every shape", count(facts.vertices)));
    }
    if let Some(sizing) = &input.sizing {
        facts_shown.push(Fact::new("sizes", count(sizing.system.size_count)));
        facts_shown.push(Fact::new("people of the study without one", count(sizing.system.left_out.people)));
    } else if let Some(space) = input.space {
        facts_shown.push(Fact::new("modes kept", count(space.modes.len())));
    }
    if let Some(checks) = input.checks {
        facts_shown.push(Fact::new(
            if checks.findings.len() == 1 { "finding in the data" } else { "findings in the data" },
            count(checks.findings.len()),
        ));
    }
    let question = question.to_owned();
    Front { question, lead, sentence, qualify, figure: hundred(input), facts: facts_shown }
}

/// A hundred people, of whom so many are fitted.
fn hundred(input: &ReportInput<'_>) -> Option<Hundred> {
    let system = input.sizing.as_ref()?.system;
    Some(Hundred {
        title: "Coverage of people held out".to_owned(),
        description: format!(
            "Of a hundred people, {} find a size; the interval runs from {} to {}.",
            fixed(system.coverage_held_out * 100.0, 0),
            fixed(system.held_out_interval.0 * 100.0, 0),
            fixed(system.held_out_interval.1 * 100.0, 0)
        ),
        share: system.coverage_held_out,
        interval: system.held_out_interval,
    })
}

type Answer = (&'static str, String, String, String);

fn of_sizes(input: &ReportInput<'_>) -> Option<Answer> {
    let system = input.sizing.as_ref()?.system;
    let controls: Vec<String> =
        system.controls.iter().map(|c| words(&c.dimension, c.unit.as_deref())).collect();
    let sizes = match system.size_count {
        1 => "the one size".to_owned(),
        n => format!("these {} sizes", count(n)),
    };
    if system.given {
        return Some((
            "Whom do these sizes fit?",
            format!("{} of these people", percent(system.coverage_in_sample)),
            format!(
                "find one of {sizes} that fits them ({} interval {}).",
                percent(system.interval_level),
                percent_interval(system.coverage_in_sample_interval)
            ),
            format!(
                "To fit is to be within a size’s range on {}. The sizes were given, and nothing was derived from these {}.",
                list(&controls),
                counted(system.people, "person", "people")
            ),
        ));
    }
    Some((
        "Whom do these sizes fit?",
        format!("{} of people", percent(system.coverage_held_out)),
        format!(
            "who had no part in making {sizes} find one that fits them ({} interval {}).",
            percent(system.interval_level),
            percent_interval(system.held_out_interval)
        ),
        format!(
            "To fit is to be within a size’s range on {}. The figure comes from {}, each held out in turn; frames are not people and are \
             not counted. Of the very people the sizes were made from, {} are fitted: that figure flatters.",
            list(&controls),
            counted(system.people, "person", "people"),
            percent(system.coverage_in_sample)
        ),
    ))
}

fn of_space(input: &ReportInput<'_>) -> Option<Answer> {
    let space = input.space?;
    let question = "How well are bodies described?";
    let chosen = space.cross_validation.as_ref().and_then(|cv| {
        let k = cv.chosen_modes?;
        cv.errors.iter().find(|e| e.modes == k).map(|e| (cv, *e))
    });
    Some(match chosen {
        Some((cv, e)) => (
            question,
            counted(e.modes, "mode", "modes"),
            format!(
                "describe people who had no part in making them to {} mm, root mean square over the skin (standard error {} mm).",
                fixed(e.rms_mm, 1),
                fixed(e.se_mm, 1)
            ),
            format!(
                "From {}, held out in {} folds; frames are not counted as people.",
                counted(cv.people, "person", "people"),
                cv.folds
            ),
        ),
        None => (
            question,
            counted(space.people, "person", "people"),
            format!(
                "differ from their mean by {} mm, root mean square over the skin.",
                about(space.total_variance_mm2.max(0.0).sqrt(), 1)
            ),
            "How well people not seen are described is not known: none were held out, or no number of modes met the target.".to_owned(),
        ),
    })
}

fn of_rest(input: &ReportInput<'_>) -> Answer {
    let facts = &input.facts;
    let people = counted(facts.people, "person", "people");
    if input.movements.is_empty() {
        return (
            "What is in this study?",
            people,
            format!("in {}.", counted(facts.items, "captured shape", "captured shapes")),
            String::new(),
        );
    }
    (
        "What was recorded?",
        counted(input.movements.len(), "movement", "movements"),
        format!("of {people}, in {}.", counted(facts.frames, "frame", "frames")),
        "Frames of one person say nothing about how people differ.".to_owned(),
    )
}
