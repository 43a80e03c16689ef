//! `formkin size`: a size system from a table of dimensions, and whom it fits; an existing chart on people; the sizes of new people.

use std::path::{Path, PathBuf};

use anyhow::Context;
use formkin_sizing::{Advice, Chart, Choice, ChosenBy, SizeSystem, advice_csv};
use formkin_tasks::job::mannequin::{Mannequins, mannequin_files, mannequins};
use formkin_tasks::job::rows::Rows;
use formkin_tasks::job::size::{BORDERLINE_MM, size, size_tables, with_coefficients};
use formkin_tasks::reading::{read_chart, read_plan, read_table};
use formkin_tasks::summaries::{mannequin_summary, size_summary};
use serde_json::json;

use crate::args::SizeArgs;
use crate::output::{Exit, Output};
use crate::resolve::{free, make_folder, open_space, ready, write};

pub(crate) fn run(args: &SizeArgs, output: &Output) -> anyhow::Result<Exit> {
    if let Some(into) = &args.into {
        let certain: &[&str] = if args.table.is_some() { &["size-chart.csv"] } else { &["new-people.csv"] };
        ready(into, certain, args.force)?;
    }
    let mut plan = args.plan.as_ref().map(|p| read_plan(p)).transpose()?;
    if let (Some(of), Some(path)) = (&plan, &args.allowances) {
        let table = read_table(path)?;
        plan = Some(of.with_allowances(&table).with_context(|| path.display().to_string())?);
    }
    let chart = match &args.chart {
        Some(path) => Some(read_chart(path)?),
        None => None,
    };
    let mut table = args.table.as_ref().map(|t| read_table(t)).transpose()?;
    let space = args.space.as_ref().map(|p| open_space(p)).transpose()?;
    if let (Some(path), Some(space), Some(plan), Some(of)) = (&args.coefficients, &space, &plan, &table) {
        let bytes = std::fs::read(path).with_context(|| path.display().to_string())?;
        let rows = Rows::of_parquet(bytes, space).with_context(|| path.display().to_string())?;
        let people = rows.participants.iter().map(String::as_str);
        let coefficients = rows.coefficients.iter().map(Vec::as_slice);
        table = Some(with_coefficients(of, plan, space, people.zip(coefficients)));
    }
    let system = match (&table, &chart, &plan) {
        (Some(table), Some(chart), plan) => {
            Some(chart.evaluate(table, plan.as_ref()).with_context(|| sources(args))?)
        }
        (Some(table), None, Some(plan)) => Some(size(table, plan).with_context(|| sources(args))?),
        _ => None,
    };
    let mut files: Vec<(String, Vec<u8>)> = Vec::new();
    let mut object = json!({});
    let mut lines = Vec::new();
    if let (Some(system), Some(table)) = (&system, &table) {
        let tables = size_tables(system)?.into_iter();
        files.extend(tables.map(|(name, _, text)| (name.to_owned(), text.into_bytes())));
        object = size_summary(system);
        object["people"] = json!(table.rows());
        lines.push(text(system));
        if let Some(space) = &space {
            let made = mannequins(space, system)?;
            object["mannequins"] = mannequin_summary(&made);
            lines.extend(mannequin_text(&made));
            let bodies = mannequin_files(space, system, &made)?;
            files.extend(bodies.into_iter().map(|f| (f.name, f.bytes)));
        }
    }
    if let Some(path) = &args.assign {
        let of_system = system.as_ref().map(Chart::of_system);
        let chart = chart
            .as_ref()
            .or(of_system.as_ref())
            .context("--assign needs sizes: give --chart, or a table and --plan")?;
        let new = read_table(path)?;
        let known = args.by.clone().or_else(|| plan.as_ref().and_then(|p| p.by.clone()));
        let known = known.or_else(|| system.as_ref().and_then(|s| s.plan.by.clone()));
        let by = known.or_else(|| chart.group_column(&new));
        let borderline = plan.as_ref().map_or(BORDERLINE_MM, |p| p.borderline_mm);
        let advice = chart.assign(&new, by.as_deref(), borderline).with_context(|| {
            let of = args.chart.as_ref().or(args.table.as_ref());
            of.map_or_else(String::new, |p| format!("{}, {}", p.display(), path.display()))
        })?;
        files.push(("new-people.csv".to_owned(), advice_csv(&advice)?.into_bytes()));
        object["new_people"] = json!(advice);
        lines.push(advice_text(&advice));
    }
    object["outputs"] = json!(written(args, &files)?);
    output.result(&object, lines.join("\n"))?;
    Ok(Exit::Done)
}

/// The files that a size system is made from, for messages.
fn sources(args: &SizeArgs) -> String {
    let files = [&args.plan, &args.chart, &args.table];
    files.iter().filter_map(|p| p.as_ref()).map(|p| p.display().to_string()).collect::<Vec<_>>().join(", ")
}

fn written(args: &SizeArgs, files: &[(String, Vec<u8>)]) -> anyhow::Result<Vec<PathBuf>> {
    let Some(folder) = &args.into else { return Ok(Vec::new()) };
    let paths: Vec<_> = files.iter().map(|(name, _)| folder.join(name)).collect();
    for parent in paths.iter().filter_map(|p| p.parent()) {
        make_folder(parent)?;
    }
    free(paths.iter().map(|p| p as &Path), args.force)?;
    for ((_, bytes), path) in files.iter().zip(&paths) {
        write(path, bytes, args.force)?;
    }
    Ok(paths)
}

fn mannequin_text(made: &Mannequins) -> Vec<String> {
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

fn advice_text(advice: &[Advice]) -> String {
    let felt = |c: &Choice| {
        let part = |f: &formkin_sizing::Feel| {
            format!("{} {}{}", f.dimension, f.what, if f.beyond { " (beyond)" } else { "" })
        };
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
    advice.iter().map(line).collect::<Vec<_>>().join("\n")
}

fn text(system: &SizeSystem) -> String {
    let percent = |x: f64| format!("{:.1} %", 100.0 * x);
    if system.given {
        return given_text(system);
    }
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
    lines.join("\n")
}

/// A given chart on people: nothing was derived.
fn given_text(system: &SizeSystem) -> String {
    let percent = |x: f64| format!("{:.1} %", 100.0 * x);
    let mut lines = vec![format!(
        "{} given sizes, tried on {} people: they fit {} ({} % interval {} to {})",
        system.size_count,
        system.people,
        percent(system.coverage_in_sample),
        100.0 * system.interval_level,
        percent(system.coverage_in_sample_interval.0),
        percent(system.coverage_in_sample_interval.1)
    )];
    let at = |values: &std::collections::BTreeMap<String, f64>, signed: bool| {
        let one = |c: &formkin_sizing::ControlInfo| {
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
    lines.join("\n")
}

/// The ceiling, resamples, knee, other methods, movement and further limits, where there are some.
fn more(system: &SizeSystem) -> Vec<String> {
    let percent = |x: f64| format!("{:.1} %", 100.0 * x);
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
