//! The bodies of the sizes: mannequins side by side, how near they are to their targets, and the fit models.

use formkin_report::document::Body;
use formkin_report::document::table::{Table, cell, number, text};
use formkin_report::format::{chart_unit, fixed, title_words, words};
use formkin_report::lineup::{Stander, figure};
use formkin_sizing::{Deviation, Size, SizeSystem};

use super::coverage::group_name;
use super::shown::Shown;
use crate::sentence::sentence;
use crate::size::mannequin::{Mannequin, middle};

/// Nothing where there are neither mannequins nor fit models.
pub(super) fn section(body: &mut Body, part: &Shown<'_>) {
    let system = part.system;
    if part.mannequins.bodies.is_empty() && part.mannequins.notes.is_empty() {
        return;
    }
    body.heading("Mannequins and fit models");
    if !part.mannequins.bodies.is_empty() {
        let standers = standers(part);
        let under: Vec<String> = system
            .controls
            .iter()
            .map(|c| {
                let (_, unit, _) = chart_unit(c.unit.as_deref());
                format!("{} in {unit}", words(&c.dimension, c.unit.as_deref()))
            })
            .collect();
        let title = format!(
            "The mannequins to one scale, from the front and from their left; a line every 10 cm. Under each: {} at the middle of the size's range",
            formkin_report::format::list(&under)
        );
        if let Some(figure) = figure("mannequins", part.triangles, &standers, &title, &reading(part)) {
            body.figure(figure);
        }
        body.paragraph(
            "A mannequin is the body that people at the middle of a size's range have on average, found in the shape space, measured again as a tape would and moved until its control dimensions \
             are on the mark. It is smoother than anyone. The fit model beside it is a person: the wearer nearest to all others on the fit dimensions.",
        );
    }
    body.table(table(part));
    for note in &part.mannequins.notes {
        body.note(&sentence(note));
    }
}

fn reading(part: &Shown<'_>) -> String {
    let misses: Vec<f64> = part.mannequins.bodies.iter().filter_map(|m| m.largest_miss_mm).collect();
    match misses.iter().copied().reduce(f64::max) {
        Some(most) => format!(
            "Measured again, the mannequins are within {} mm of their sizes' mid-points.",
            fixed((most * 10.0).ceil().max(1.0) / 10.0, 1)
        ),
        None => String::new(),
    }
}

fn standers<'a>(part: &Shown<'a>) -> Vec<Stander<'a>> {
    let of = |m: &'a Mannequin| {
        let (size, group) = find(part.system, &m.size);
        let at_the_middle = |s: &Size| {
            let shown = s.ranges.iter().map(|r| {
                let (factor, _, decimals) = chart_unit(r.unit.as_deref());
                let value = middle(r) * factor;
                fixed(value, if (value - value.round()).abs() < 1e-6 { 0 } else { decimals })
            });
            shown.collect::<Vec<_>>().join(" · ")
        };
        Stander {
            name: m.size.clone(),
            words: size.map_or_else(String::new, at_the_middle),
            group: group_name(group),
            positions: &m.positions,
        }
    };
    part.mannequins.bodies.iter().map(of).collect()
}

fn find<'s>(system: &'s SizeSystem, name: &str) -> (Option<&'s Size>, &'s str) {
    for group in &system.groups {
        if let Some(size) = group.sizes.iter().find(|s| s.name == name) {
            return (Some(size), &group.group);
        }
    }
    (None, "")
}

fn table(part: &Shown<'_>) -> Table {
    let bodies = !part.mannequins.bodies.is_empty();
    let mut columns = vec![text("Size")];
    if bodies {
        for c in &part.system.controls {
            let (_, unit, _) = chart_unit(c.unit.as_deref());
            columns
                .push(number(format!("{}, mannequin", title_words(&c.dimension, c.unit.as_deref())), unit));
        }
        columns.push(number("Farthest from its mid-point", "mm"));
    }
    columns.push(text("Fit model"));
    columns.push(text("Differs most from the wearers' mean"));
    let mut table = Table::unnamed("Mannequins and fit models", columns);
    for group in &part.system.groups {
        if part.system.groups.len() > 1 {
            table.group(group_name(&group.group));
        }
        for size in &group.sizes {
            let mut row = vec![cell(size.name.clone()).keep()];
            let made = part.mannequins.bodies.iter().find(|m| m.size == size.name);
            if bodies {
                for c in &part.system.controls {
                    let given =
                        made.and_then(|m| m.dimensions.iter().find(|d| d.given && d.name == c.dimension));
                    row.push(match given {
                        Some(d) => {
                            let (factor, _, decimals) = chart_unit(d.unit.as_deref());
                            cell(fixed(d.measured.unwrap_or(d.target) * factor, decimals))
                        }
                        None => cell("–").suppressed(),
                    });
                }
                let miss = made.and_then(|m| m.largest_miss_mm);
                let shown = cell(miss.map_or_else(|| "–".to_owned(), |m| fixed(m, 1)));
                row.push(if made.is_some_and(|m| m.outside) { shown.quiet("extrapolated") } else { shown });
            }
            row.push(cell(size.fit_model.clone().unwrap_or_else(|| "–".to_owned())));
            row.push(cell(farthest(size)));
            table.row(row);
        }
    }
    table
}

/// The fit dimension in which the fit model differs most from the mean wearer, as a share of it.
fn farthest(size: &Size) -> String {
    let share = |d: &Deviation| (d.deviation / d.mean).abs();
    let most =
        size.fit_deviations.iter().filter(|d| d.mean != 0.0).max_by(|a, b| share(a).total_cmp(&share(b)));
    most.map_or_else(
        || "–".to_owned(),
        |d| {
            let (factor, unit, decimals) = chart_unit(d.unit.as_deref());
            let sign = if d.deviation < 0.0 { "−" } else { "+" };
            format!(
                "{} {sign}{} {unit}",
                words(&d.dimension, d.unit.as_deref()),
                fixed(d.deviation.abs() * factor, decimals)
            )
        },
    )
}
