//! What is wrong with cycles, cutoffs, axes and pairs, before anything runs.

use std::path::Path;

use super::conditions::Pair;
use super::run::read_events;
use super::settings::{AxisSettings, Cutoff, CycleSettings, names_of};
use crate::Problems;

/// A field of an inner table as it was given: its key in a study file, its option on the command line.
#[must_use]
pub fn given<'a>(problems: &Problems, key: &'a str, option: &'a str) -> &'a str {
    if problems.in_study() { key } else { option }
}

/// Frequency, events, and whether both a signal and events are named. `framed` says whether there is a body frame, `captures` which captures events
/// may be of. Returns whether cycles come from events, so that no signal is looked for.
pub fn cycles(
    cycles: Option<&CycleSettings>,
    table: Option<&Path>,
    framed: bool,
    captures: Option<&[&str]>,
    problems: &mut Problems,
) -> bool {
    if let Some(path) = table.filter(|_| problems.in_study()) {
        events("events", path, captures, problems);
    }
    let Some(cycles) = cycles else { return table.is_some() };
    problems.positive(given(problems, "cycles.hz", "cycle_hz"), cycles.hz, "Hz");
    let given_events = table.is_some() || !cycles.at_s.is_empty();
    if let (true, Some(from)) = (given_events, &cycles.from) {
        let key = given(problems, "cycles.from", "cycles");
        problems.wrong(
            key,
            format!("cycles are looked for in `{from}`, and events are given too"),
            "leave one of them out",
        );
    }
    if table.is_some() && !cycles.at_s.is_empty() {
        problems.wrong("cycles.at_s", "a table of events is named too", "leave one of them out");
    }
    if !problems.in_study() && cycles.from.is_none() && !framed && !given_events {
        let (key, what) = match cycles.hz {
            Some(_) => ("cycle_hz", "it says how often cycles come"),
            None => ("event", "it says what begins a cycle"),
        };
        problems.wrong(key, format!("{what}, and no signal is named to find them in"), "add --cycles");
    }
    at_s(&cycles.at_s, problems);
    given_events
}

fn at_s(at_s: &[f64], problems: &mut Problems) {
    let key = "cycles.at_s";
    if let Some(bad) = at_s.iter().find(|t| !t.is_finite()) {
        problems.within(key, false, bad, "times in seconds");
    }
    if let [alone] = at_s {
        let value = format!("[{alone}]");
        problems.within(key, false, value, "two events or more: a cycle runs between two");
    }
    if let Some(w) = at_s.windows(2).find(|w| w[1] <= w[0]) {
        problems.wrong(key, format!("{} comes after {}", w[1], w[0]), "events must ascend");
    }
}

/// A table of events: that it can be read, and, where every event names its capture, that one of them is there.
fn events(key: &str, path: &Path, captures: Option<&[&str]>, problems: &mut Problems) {
    if !problems.file(key, path) {
        return;
    }
    let Some(events) = problems.refused(key, read_events(path)) else { return };
    let Some(captures) = captures else { return };
    let named: Vec<&str> = events.iter().filter_map(|e| e.capture.as_deref()).collect();
    if named.len() == events.len()
        && !named.iter().any(|n| captures.contains(n))
        && let Some(first) = named.first()
    {
        problems.name(key, "capture", first, captures.iter().copied());
    }
}

/// A cutoff must be a number of Hz above 0.
pub fn cutoff(key: &str, cutoff: Option<Cutoff>, problems: &mut Problems) {
    if let Some(hz) = cutoff.and_then(Cutoff::hz).filter(|hz| !(*hz > 0.0 && hz.is_finite())) {
        problems.within(key, false, hz, "a number of Hz above 0, or \"residual\"");
    }
}

/// The axes of a body frame: both of them, and ends that are there. `table` is the key of their table in a study file.
pub fn axes(table: &str, axes: Option<&AxisSettings>, places: Option<&[&str]>, problems: &mut Problems) {
    let Some(axes) = axes else { return };
    let keys = ["vertical", "lateral", "fore_aft"].map(|axis| match problems.in_study() {
        true => format!("{table}.{axis}"),
        false => axis.to_owned(),
    });
    let [vertical, lateral, _] = &keys;
    if axes.vertical.is_none() {
        problems.wrong(vertical, "it is missing", "a body frame needs a vertical and a lateral axis");
    }
    if axes.lateral.is_none() {
        problems.wrong(lateral, "it is missing", "a body frame needs a vertical and a lateral axis");
    }
    let Some(places) = places else { return };
    for (key, ends) in keys.iter().zip([&axes.vertical, &axes.lateral, &axes.fore_aft]) {
        for name in ends.iter().flatten().flat_map(|e| names_of(e)) {
            problems.name(key, "landmark, region or point", &name, places.iter().copied());
        }
    }
}

/// Pairs of captures; each capture with its participant.
pub fn pairs(key: &str, pairs: &[Pair], captures: &[(&str, &str)], problems: &mut Problems) {
    for pair in pairs {
        if pair.reference == pair.garment {
            problems.wrong(key, format!("`{}` is named as both", pair.garment), "a pair is two captures");
        }
        let mut whose = Vec::new();
        for id in [&pair.reference, &pair.garment] {
            if problems.name(key, "capture", id, captures.iter().map(|c| c.0)) {
                whose.extend(captures.iter().find(|c| c.0 == id).map(|c| c.1));
            }
        }
        if let [a, b] = whose[..]
            && a != b
        {
            let wrong = format!("`{}` is of {a} and `{}` of {b}", pair.reference, pair.garment);
            problems.wrong(key, wrong, "pair captures of one person");
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::problem::Given;

    fn said(problems: &Problems) -> Vec<String> {
        problems.found.iter().map(ToString::to_string).collect()
    }

    #[test]
    fn a_frequency_without_a_signal_names_its_option() {
        let asked = CycleSettings { hz: Some(2.0), ..CycleSettings::default() };
        let mut problems = Problems::new(Given::Command);
        assert!(!cycles(Some(&asked), None, false, None, &mut problems));
        assert!(
            said(&problems)[0].starts_with("--cycle-hz: ") && said(&problems)[0].ends_with("add --cycles")
        );
        let mut problems = Problems::new(Given::Command);
        cycles(Some(&asked), None, true, None, &mut problems);
        assert!(problems.found.is_empty(), "a body frame has a height: {:?}", problems.found);
    }

    #[test]
    fn events_must_ascend_and_exclude_a_signal() {
        let asked =
            CycleSettings { from: Some("mode-1".into()), at_s: vec![2.0, 1.0], ..CycleSettings::default() };
        let mut problems = Problems::new(Given::Section("motion".into()));
        assert!(cycles(Some(&asked), None, false, None, &mut problems));
        let said = said(&problems);
        assert!(
            said[0].starts_with("motion.cycles.from: ")
                && said[1] == "motion.cycles.at_s: 1 comes after 2; events must ascend"
        );
    }

    #[test]
    fn an_axis_does_not_come_alone_and_ends_where_something_is() {
        let asked =
            AxisSettings { vertical: Some(["navel".into(), "sternun".into()]), ..AxisSettings::default() };
        let mut problems = Problems::new(Given::Command);
        axes("tissue.axes", Some(&asked), Some(&["navel", "sternum"]), &mut problems);
        let said = said(&problems);
        assert!(
            said[0].starts_with("--lateral: it is missing") && said[1].starts_with("--vertical: there is no"),
            "{said:?}"
        );
        assert!(said[1].contains("`sternum`"), "{said:?}");
    }

    #[test]
    fn a_pair_is_two_captures_of_one_person() {
        let pair = |a: &str, b: &str| Pair { reference: a.into(), garment: b.into() };
        let mut problems = Problems::new(Given::Section("movements".into()));
        let captures = [("a_bare", "a"), ("b_suit", "b")];
        pairs(
            "compare",
            &[pair("a_bare", "a_bare"), pair("a_bare", "b_suit"), pair("a_bare", "c")],
            &captures,
            &mut problems,
        );
        let said = said(&problems);
        assert!(
            said[0].contains("named as both")
                && said[1].contains("of a and")
                && said[2].contains("no capture `c`"),
            "{said:?}"
        );
    }
}
