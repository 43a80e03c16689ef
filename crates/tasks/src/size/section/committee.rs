//! What a sizing committee chooses by: methods and numbers of sizes side by side, how sure the figures are, what one size more or fewer does, and the grading.

use formkin_report::charts::{Axis, Figure, Key, Layer, Plot};
use formkin_report::document::Body;
use formkin_report::document::table::{Table, cell, number, text};
use formkin_report::format::{chart_unit, count, fixed, percent, percent_interval, title_words};
use formkin_sizing::{ChosenBy, Method, SizeSystem};

use super::coverage::group_name;

/// Ceiling, resamples, people needed, movement and further limits, in sentences.
pub(super) fn how_sure(body: &mut Body, system: &SizeSystem) {
    if let Some(ceiling) = system.ceiling {
        body.paragraph(&format!(
            "No system of so many sizes with these tolerances, however made, could fit more than {} of these people; the sizes \
             here fit {} of them.",
            percent(ceiling),
            percent(system.coverage_in_sample)
        ));
    }
    if let Some(r) = &system.resampled {
        body.paragraph(&format!(
            "With the sizes found again on {} resamples of the people, the interval of the held-out share is {}. Derived again on {} of them, \
             the sizes bring the same people together at {} (1 is always, 0 is chance).",
            count(r.resamples),
            percent_interval(r.coverage_interval),
            count(r.anew),
            fixed(r.agreement, 2)
        ));
    }
    body.paragraph(&format!(
        "For a share fitted that is sure to ±{} percentage points, {} people are needed; there are {}.",
        fixed(100.0 * system.plan.precision, 1),
        count(system.people_needed),
        count(system.people)
    ));
    if let Some(all) = system.coverage_all_dimensions {
        body.paragraph(&format!(
            "{} of these people are fitted and also within the further limits of fit of their size.",
            percent(all)
        ));
    }
    if let Some(m) = &system.movement {
        let needed = match m.sizes_needed {
            Some(sizes) => format!(
                "{} sizes in each group fit as many in movement as the plan's do standing.",
                count(sizes)
            ),
            None => "Even three times as many sizes do not fit as many in movement as these do standing."
                .to_owned(),
        };
        body.paragraph(&format!(
            "Where dimensions may grow and shrink as they do in movement, the sizes fit {} of these people; sizes made for movement fit {} \
             held out ({}). {needed}",
            percent(m.coverage_in_sample),
            percent(m.coverage_held_out),
            percent_interval(m.held_out_interval)
        ));
    }
}

/// A method in words.
fn method_words(method: Method) -> String {
    method.name().replace('-', " ").replace("k ", "k-").replace("gaussian", "Gaussian")
}

/// Coverage held out by method and number of sizes.
pub(super) fn methods_chart(system: &SizeSystem) -> Option<Figure> {
    const CLASSES: [&str; 6] = ["s1", "s2", "s3", "s4", "s5", "s6"];
    let shown: Vec<_> = system.compared.iter().filter(|c| c.points.len() > 1).take(CLASSES.len()).collect();
    if shown.len() < 2 {
        return None;
    }
    let each = if system.groups.len() > 1 { "number of sizes in each group" } else { "number of sizes" };
    let mut plot = Plot::new(
        "methods",
        "Share of people whom a size fits, held out, by method",
        Axis { whole: true, ..Axis::new(each) },
        Axis { percent: true, range: Some((0.0, 1.0)), ..Axis::new("share of people fitted") },
    );
    for (curve, class) in shown.iter().zip(CLASSES) {
        let points = curve.points.iter().map(|p| (p.sizes as f64, p.coverage_held_out)).collect();
        plot.layers.push(Layer::Line { class, points, dots: false });
        plot.keys.push(Key::new(class, "line", method_words(curve.method)));
    }
    let at =
        |method: &&formkin_sizing::MethodCurve| method.points.last().map_or(0.0, |p| p.coverage_held_out);
    if let Some(best) = shown.iter().copied().max_by(|a, b| at(a).total_cmp(&at(b)))
        && let Some(last) = best.points.last()
    {
        plot.reading = format!(
            "At {} sizes {} fits most people held out: {}. Where intervals overlap, methods do not differ for certain.",
            last.sizes,
            method_words(best.method),
            percent(last.coverage_held_out)
        );
    }
    Some(plot.figure())
}

/// Every method at the plan's number of sizes, or the nearest that was tried.
pub(super) fn methods_table(system: &SizeSystem) -> Option<Table> {
    if system.compared.is_empty() {
        return None;
    }
    let wanted = system.groups.iter().map(|g| g.sizes.len()).max().unwrap_or(0);
    let mut table = Table::new(
        "The methods side by side",
        vec![
            text("Method"),
            number("Sizes in each group", ""),
            number("Fitted, held out", ""),
            number("Interval", ""),
            number("Fitted, in sample", ""),
        ],
    );
    for curve in &system.compared {
        let Some(p) = curve.points.iter().min_by_key(|p| p.sizes.abs_diff(wanted)) else { continue };
        let chosen = if curve.method == system.plan.method { " (this plan)" } else { "" };
        table.row(vec![
            cell(format!("{}{chosen}", method_words(curve.method))),
            cell(count(p.sizes)),
            cell(percent(p.coverage_held_out)).held(),
            cell(percent_interval(p.held_out_interval)).held(),
            cell(percent(p.coverage_in_sample)).faint(),
        ]);
    }
    Some(table)
}

/// What the choice of a method, or of the number of sizes, is worth: as it shows itself, and judged on people without a part in it.
pub(super) fn choice_table(system: &SizeSystem) -> Option<Table> {
    if system.chosen.is_empty() {
        return None;
    }
    let mut table = Table::new(
        "If you choose by these figures",
        vec![
            text("Choice"),
            text("Winners in the folds"),
            number("Shown by the winner", ""),
            number("Judged on others", ""),
            number("Interval", ""),
        ],
    );
    for choice in &system.chosen {
        let what = match choice.by {
            ChosenBy::Method => "Method",
            ChosenBy::Number => "Number of sizes",
        };
        let won: Vec<String> = choice
            .options
            .iter()
            .filter(|o| o.times > 0)
            .map(|o| {
                let name = o.sizes.map_or_else(|| method_words(o.method), |n| format!("{} sizes", count(n)));
                format!("{name} ({})", o.times)
            })
            .collect();
        table.row(vec![
            cell(what.to_owned()),
            cell(won.join(", ")),
            cell(percent(choice.coverage_shown)).faint(),
            cell(percent(choice.coverage_nested)).held(),
            cell(percent_interval(choice.nested_interval)).held(),
        ]);
    }
    Some(table)
}

/// What leaving a size out would cost, what overlaps, whether sizes come back, and what one more would add.
pub(super) fn changes(body: &mut Body, system: &SizeSystem) {
    let stable = system.groups.iter().flat_map(|g| &g.sizes).any(|s| s.stability.is_some());
    let mut columns = vec![
        text("Size"),
        text("Designation"),
        number("Worn by", ""),
        number("Without it, unfitted", ""),
        number("Wearers another size fits too", ""),
    ];
    if stable {
        columns.push(number("Comes back in resamples", ""));
    }
    let mut table = Table::new("One size fewer", columns);
    for group in &system.groups {
        for s in &group.sizes {
            let mut row = vec![
                cell(s.name.clone()).keep(),
                cell(s.designation.replace('-', "–")),
                cell(percent(s.share)),
                cell(percent(s.only)),
                cell(percent(s.overlap)),
            ];
            if stable {
                row.push(cell(
                    s.stability.as_ref().map_or_else(|| "–".to_owned(), |x| percent(x.comes_back)),
                ));
            }
            table.row(row);
        }
    }
    body.table(table);
    for group in &system.groups {
        body.paragraph(&super::existing::sentences(system, group));
    }
}

/// The grading: values of the secondary dimensions by size.
pub(super) fn grading(body: &mut Body, system: &SizeSystem) {
    let Some(first) = system.groups.iter().find(|g| !g.grading.is_empty()) else { return };
    body.heading("Grading");
    let mut columns = vec![text("Size")];
    for rule in &first.grading {
        columns.push(number(
            title_words(&rule.dimension, rule.unit.as_deref()),
            chart_unit(rule.unit.as_deref()).1,
        ));
    }
    let mut table = Table::unnamed("Grading", columns);
    for group in &system.groups {
        if system.groups.len() > 1 {
            table.group(group_name(&group.group));
        }
        for (s, size) in group.sizes.iter().enumerate() {
            let mut row = vec![cell(size.name.clone()).keep()];
            for of in &first.grading {
                row.push(match group.grading.iter().find(|r| r.dimension == of.dimension) {
                    Some(rule) => {
                        let (factor, _, decimals) = chart_unit(rule.unit.as_deref());
                        let value = cell(fixed(rule.values[s] * factor, decimals));
                        match rule.increments[s] {
                            Some(step) => {
                                let sign = if step < 0.0 { "−" } else { "+" };
                                value.quiet(format!("{sign}{}", fixed(step.abs() * factor, decimals)))
                            }
                            None => value,
                        }
                    }
                    None => cell("–").suppressed(),
                });
            }
            table.row(row);
        }
        let mut row = vec![cell("People differ by (SD)")];
        for of in &first.grading {
            row.push(cell(group.grading.iter().find(|r| r.dimension == of.dimension).map_or_else(
                || "–".to_owned(),
                |r| {
                    let (factor, _, decimals) = chart_unit(r.unit.as_deref());
                    fixed(r.residual_sd * factor, decimals)
                },
            )));
        }
        table.total(row);
    }
    body.table(table);
    body.note(
        "The value of a secondary dimension at each size, by regression on the control dimensions over all people of the group, with the increment from the size before. People of the same size \
         differ from it by the standard deviation in the last row.",
    );
}
