//! `formkin size`: a size system from a table of dimensions, and whom it fits; an existing chart on people; the sizes of new people.

use std::path::{Path, PathBuf};

use anyhow::Context;
use formkin_sizing::{Advice, Chart, Choice, SizeSystem, advice_csv};
use formkin_study::job::size::{size, size_tables};
use formkin_study::run::{read_plan, read_table};
use formkin_study::summary::size_summary;
use serde_json::json;

use crate::args::SizeArgs;
use crate::output::{Exit, Output};
use crate::resolve::{free, write};

/// People so near a limit are flagged where no plan says otherwise, in mm.
const BORDERLINE_MM: f64 = 5.0;

pub(crate) fn run(args: &SizeArgs, output: &Output) -> anyhow::Result<Exit> {
    let mut plan = args.plan.as_ref().map(|p| read_plan(p)).transpose()?;
    if let (Some(of), Some(path)) = (&plan, &args.allowances) {
        let table = read_table(path)?;
        plan = Some(of.with_allowances(&table).with_context(|| path.display().to_string())?);
    }
    let chart = match &args.chart {
        Some(path) => Some(Chart::of(&read_table(path)?).with_context(|| path.display().to_string())?),
        None => None,
    };
    let table = args.table.as_ref().map(|t| read_table(t)).transpose()?;
    let system = match (&table, &chart, &plan) {
        (Some(table), Some(chart), plan) => Some(chart.evaluate(table, plan.as_ref())?),
        (Some(table), None, Some(plan)) => Some(size(table, plan)?),
        _ => None,
    };
    let mut files: Vec<(String, String)> = Vec::new();
    let mut object = json!({});
    let mut lines = Vec::new();
    if let (Some(system), Some(table)) = (&system, &table) {
        files.extend(size_tables(system)?.into_iter().map(|(name, _, text)| (name.to_owned(), text)));
        object = size_summary(system);
        object["people"] = json!(table.rows());
        lines.push(text(system));
    }
    if let Some(path) = &args.assign {
        let of_system = system.as_ref().map(Chart::of_system);
        let chart = chart
            .as_ref()
            .or(of_system.as_ref())
            .context("--assign needs sizes: give --chart, or a table and --plan")?;
        let new = read_table(path)?;
        let known = plan.as_ref().and_then(|p| p.by.clone());
        let known = known.or_else(|| system.as_ref().and_then(|s| s.plan.by.clone()));
        let by = known.or_else(|| chart.group_column(&new));
        let borderline = plan.as_ref().map_or(BORDERLINE_MM, |p| p.borderline_mm);
        let advice = chart.assign(&new, by.as_deref(), borderline)?;
        files.push(("new-people.csv".to_owned(), advice_csv(&advice)?));
        object["new_people"] = json!(advice);
        lines.push(advice_text(&advice));
    }
    object["outputs"] = json!(written(args, &files)?);
    output.result(&object, lines.join("\n"))?;
    Ok(Exit::Done)
}

fn written(args: &SizeArgs, files: &[(String, String)]) -> anyhow::Result<Vec<PathBuf>> {
    let Some(folder) = &args.into else { return Ok(Vec::new()) };
    let paths: Vec<_> = files.iter().map(|(name, _)| folder.join(name)).collect();
    std::fs::create_dir_all(folder)?;
    free(paths.iter().map(|p| p as &Path), args.force)?;
    for ((_, text), path) in files.iter().zip(&paths) {
        write(path, text.as_bytes(), args.force)?;
    }
    Ok(paths)
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
