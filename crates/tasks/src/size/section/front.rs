//! The answer at the top of a report with sizes.

use formkin_report::document::{Fact, Front, Hundred};
use formkin_report::format::{count, counted, fixed, list, percent, percent_interval, words};
use formkin_sizing::SizeSystem;

pub(super) fn front(system: &SizeSystem) -> Front {
    let (lead, sentence, qualify) = if system.given { of_given(system) } else { of_derived(system) };
    Front {
        question: "Whom do these sizes fit?".to_owned(),
        lead,
        sentence,
        qualify,
        figure: Some(hundred(system)),
        facts: vec![
            Fact::new("sizes", count(system.size_count)),
            Fact::new("people of the study without one", count(system.left_out.people)),
        ],
    }
}

/// A hundred people, of whom so many are fitted.
fn hundred(system: &SizeSystem) -> Hundred {
    Hundred {
        title: "Coverage of people held out".to_owned(),
        description: format!(
            "Of a hundred people, {} find a size; the interval runs from {} to {}.",
            fixed(system.coverage_held_out * 100.0, 0),
            fixed(system.held_out_interval.0 * 100.0, 0),
            fixed(system.held_out_interval.1 * 100.0, 0)
        ),
        share: system.coverage_held_out,
        interval: system.held_out_interval,
    }
}

fn controls(system: &SizeSystem) -> String {
    list(&system.controls.iter().map(|c| words(&c.dimension, c.unit.as_deref())).collect::<Vec<_>>())
}

fn sizes(system: &SizeSystem) -> String {
    match system.size_count {
        1 => "the one size".to_owned(),
        n => format!("these {} sizes", count(n)),
    }
}

fn of_given(system: &SizeSystem) -> (String, String, String) {
    (
        format!("{} of these people", percent(system.coverage_in_sample)),
        format!(
            "find one of {} that fits them ({} interval {}).",
            sizes(system),
            percent(system.interval_level),
            percent_interval(system.coverage_in_sample_interval)
        ),
        format!(
            "To fit is to be within a size’s range on {}. The sizes were given, and nothing was derived from these {}.",
            controls(system),
            counted(system.people, "person", "people")
        ),
    )
}

fn of_derived(system: &SizeSystem) -> (String, String, String) {
    (
        format!("{} of people", percent(system.coverage_held_out)),
        format!(
            "who had no part in making {} find one that fits them ({} interval {}).",
            sizes(system),
            percent(system.interval_level),
            percent_interval(system.held_out_interval)
        ),
        format!(
            "To fit is to be within a size’s range on {}. The figure comes from {}, each held out in turn; frames are not people and are \
             not counted. Of the very people the sizes were made from, {} are fitted: that figure flatters.",
            controls(system),
            counted(system.people, "person", "people"),
            percent(system.coverage_in_sample)
        ),
    )
}
