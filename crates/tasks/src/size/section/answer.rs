//! The answers of a terminal: sizes and whom they fit, mannequins, new people.

use std::collections::BTreeMap;

use formkin_sizing::{Advice, Choice, ChosenBy, ControlInfo, Feel, SizeSystem};

use super::shown::Shown;
use crate::size::mannequin::Mannequins;

/// Sizes and whom they fit, the existing chart, mannequins.
pub(super) fn of_sizes(shown: &Shown<'_>) -> Vec<String> {
    let mut lines = if shown.system.given { given(shown.system) } else { derived(shown.system) };
    lines.extend(shown.existing.into_iter().flat_map(given));
    lines.extend(of_mannequins(shown.mannequins));
    lines
}

fn percent(share: f64) -> String {
    format!("{:.1} %", 100.0 * share)
}

fn of_mannequins(made: &Mannequins) -> Vec<String> {
    let mut lines = Vec::new();
    let most = made.bodies.iter().filter_map(|b| b.largest_miss_mm).reduce(f64::max);
    if let Some(most) = most {
        lines.push(format!(
            "{} mannequins, measured again within {most:.2} mm of their sizes' mid-points",
            made.bodies.len()
        ));
    }
    lines.extend(made.notes.iter().map(|n| format!("note: {n}")));
    lines
}

/// A line a person.
pub(super) fn of_new_people(advice: &[Advice]) -> Vec<String> {
    let felt = |c: &Choice| {
        let part =
            |f: &Feel| format!("{} {}{}", f.dimension, f.what, if f.beyond { " (beyond)" } else { "" });
        let parts: Vec<String> = c.feel.iter().map(part).collect();
        if parts.is_empty() { String::new() } else { format!(" [{}]", parts.join(", ")) }
    };
    let line = |a: &Advice| match &a.missing {
        Some(missing) => format!("{}: no advice, {missing} is missing", a.id),
        None => {
            let none = || format!("none, nearest {}", a.nearest.size);
            let second = |s: &Choice| format!("; second {}{}", s.size, felt(s));
            format!(
                "{}: {}{}{}{}",
                a.id,
                a.size.clone().unwrap_or_else(none),
                felt(&a.nearest),
                a.second.as_ref().map_or_else(String::new, second),
                if a.borderline { "; borderline" } else { "" }
            )
        }
    };
    advice.iter().map(line).collect()
}

/// Sizes that were derived.
fn derived(system: &SizeSystem) -> Vec<String> {
    let mut lines = vec![format!(
        "{} sizes for {} people; held out they fit {} ({} % interval {} to {}); in sample {}",
        system.size_count,
        system.people,
        percent(system.coverage_held_out),
        100.0 * system.interval_level,
        percent(system.held_out_interval.0),
        percent(system.held_out_interval.1),
        percent(system.coverage_in_sample)
    )];
    for group in &system.groups {
        lines.push(format!(
            "{}: {} people, held out {} ({} to {}), in sample {}",
            group.group,
            group.people,
            percent(group.coverage_held_out),
            percent(group.held_out_interval.0),
            percent(group.held_out_interval.1),
            percent(group.coverage_in_sample)
        ));
        for size in &group.sizes {
            let ranges: Vec<String> = size
                .ranges
                .iter()
                .map(|r| {
                    let unit = r.unit.as_deref().unwrap_or("");
                    format!("{} {:.1}-{:.1} {unit}", r.dimension, r.low, r.high)
                })
                .collect();
            lines.push(format!(
                "  {:<10} {:>4} people {:>7}  {}",
                size.name,
                size.n,
                percent(size.share),
                ranges.join(", ")
            ));
        }
    }
    lines.extend(more(system));
    let left = &system.left_out;
    lines.push(format!("without a size: {} people ({})", left.people, percent(left.share)));
    for d in &left.by_dimension {
        lines.push(format!("  {}: {} too small, {} too large", d.dimension, d.too_small, d.too_large));
    }
    lines.extend(system.notes.iter().map(|n| format!("note: {n}")));
    lines.extend(system.cautions.iter().map(|c| format!("caution: {c}")));
    lines
}

/// A given chart on people: nothing was derived.
fn given(system: &SizeSystem) -> Vec<String> {
    let mut lines = vec![format!(
        "{} given sizes, tried on {} people: they fit {} ({} % interval {} to {})",
        system.size_count,
        system.people,
        percent(system.coverage_in_sample),
        100.0 * system.interval_level,
        percent(system.coverage_in_sample_interval.0),
        percent(system.coverage_in_sample_interval.1)
    )];
    let at = |values: &BTreeMap<String, f64>, signed: bool| {
        let one = |c: &ControlInfo| {
            let value = values.get(&c.dimension)?;
            let unit = c.unit.as_deref().unwrap_or("");
            let number = if signed { format!("{value:+.1}") } else { format!("{value:.1}") };
            Some(format!("{} {number} {unit}", c.dimension))
        };
        system.controls.iter().filter_map(one).collect::<Vec<_>>().join(", ")
    };
    for group in &system.groups {
        lines.push(format!(
            "{}: {} people, fitted {}",
            group.group,
            group.people,
            percent(group.coverage_in_sample)
        ));
        for size in &group.sizes {
            lines.push(format!(
                "  {:<10} {:>4} people {:>7}; without it {} more have none",
                size.name,
                size.n,
                percent(size.share),
                percent(size.only)
            ));
        }
        if let Some(more) = &group.one_more {
            lines.push(format!(
                "  one size more, at {}, would fit another {}",
                at(&more.centre, false),
                percent(more.gain)
            ));
        }
        lines.push(format!(
            "  shifted by {}, the sizes would fit {}",
            at(&group.shift, true),
            percent(group.coverage_shifted)
        ));
        lines.push(format!(
            "  without a size: {} between sizes, {} beyond the outermost",
            percent(group.gaps.between),
            percent(group.gaps.beyond)
        ));
        for gap in &group.gaps.intervals {
            lines.push(format!(
                "  no size reaches {} {:.1} to {:.1} {}: {} of the people are there",
                gap.dimension,
                gap.from,
                gap.to,
                gap.unit.as_deref().unwrap_or(""),
                percent(gap.share)
            ));
        }
    }
    if let Some(m) = &system.movement {
        lines.push(format!("in movement they fit {}", percent(m.coverage_in_sample)));
    }
    if let Some(all) = system.coverage_all_dimensions {
        lines.push(format!("also within the further limits: {}", percent(all)));
    }
    for d in &system.left_out.by_dimension {
        lines.push(format!(
            "without a size by {}: {} too small, {} too large",
            d.dimension, d.too_small, d.too_large
        ));
    }
    lines.extend(system.notes.iter().map(|n| format!("note: {n}")));
    lines.extend(system.cautions.iter().map(|c| format!("caution: {c}")));
    lines
}

/// The ceiling, resamples, knee, other methods, movement and further limits, where there are some.
fn more(system: &SizeSystem) -> Vec<String> {
    let mut lines = Vec::new();
    if let Some(ceiling) = system.ceiling {
        lines.push(format!(
            "no system of so many sizes could fit more than {} of these people",
            percent(ceiling)
        ));
    }
    if let Some(r) = &system.resampled {
        lines.push(format!(
            "{} resamples: {} to {}; the same people go together at {:.2} (1 is always)",
            r.resamples,
            percent(r.coverage_interval.0),
            percent(r.coverage_interval.1),
            r.agreement
        ));
    }
    if let Some(knee) = &system.knee {
        lines.push(format!(
            "the curve bends at {} sizes; {} are within its error of the best",
            knee.sizes, knee.enough
        ));
    }
    for curve in &system.compared {
        if let Some(point) = curve.points.last() {
            lines.push(format!(
                "  {:<20} {} sizes: held out {}, in sample {}",
                curve.method.name(),
                point.sizes,
                percent(point.coverage_held_out),
                percent(point.coverage_in_sample)
            ));
        }
    }
    for choice in &system.chosen {
        let what = match choice.by {
            ChosenBy::Method => "the method",
            ChosenBy::Number => "the number of sizes",
        };
        lines.push(format!(
            "choosing {what} by these figures: {} shown, {} of people without a part in the choice ({} to {})",
            percent(choice.coverage_shown),
            percent(choice.coverage_nested),
            percent(choice.nested_interval.0),
            percent(choice.nested_interval.1)
        ));
    }
    if let Some(m) = &system.movement {
        let needed =
            m.sizes_needed.map_or_else(|| "more than three times as many".to_owned(), |n| n.to_string());
        lines.push(format!(
            "in movement: {} of these people, {} held out; sizes for as many as standing: {needed}",
            percent(m.coverage_in_sample),
            percent(m.coverage_held_out)
        ));
    }
    if let Some(all) = system.coverage_all_dimensions {
        lines.push(format!("also within the further limits: {}", percent(all)));
    }
    lines
}
