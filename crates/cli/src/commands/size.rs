//! `formkin size`: a size system from a table of dimensions, and whom it fits.

use std::path::Path;

use formkin_sizing::{SizeSystem, assignments_csv, chart_csv, coverage_csv, curve_csv, left_out_csv};
use formkin_study::job::size::size;
use formkin_study::run::{read_plan, read_table};
use formkin_study::summary::size_summary;
use serde_json::json;

use crate::args::SizeArgs;
use crate::output::{Exit, Output};
use crate::resolve::{free, write};

pub(crate) fn run(args: &SizeArgs, output: &Output) -> anyhow::Result<Exit> {
    let plan = read_plan(&args.plan)?;
    let table = read_table(&args.table)?;
    let system = size(&table, &plan)?;
    let mut outputs = Vec::new();
    if let Some(folder) = &args.into {
        let mut files = vec![
            ("size-chart.csv", chart_csv(&system)?),
            ("coverage.csv", coverage_csv(&system)?),
            ("assignments.csv", assignments_csv(&system)?),
            ("left-out.csv", left_out_csv(&system)?),
        ];
        if !system.curve.is_empty() {
            files.push(("coverage-curve.csv", curve_csv(&system)?));
        }
        let paths: Vec<_> = files.iter().map(|(name, _)| folder.join(name)).collect();
        std::fs::create_dir_all(folder)?;
        free(paths.iter().map(|p| p as &Path), args.force)?;
        for ((_, text), path) in files.iter().zip(&paths) {
            write(path, text.as_bytes(), args.force)?;
        }
        outputs = paths;
    }
    let mut object = size_summary(&system);
    object["people"] = json!(table.rows());
    object["outputs"] = json!(outputs);
    output.result(&object, text(&system))?;
    Ok(Exit::Done)
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
    let left = &system.left_out;
    lines.push(format!("without a size: {} people ({})", left.people, percent(left.share)));
    for d in &left.by_dimension {
        lines.push(format!("  {}: {} too small, {} too large", d.dimension, d.too_small, d.too_large));
    }
    lines.extend(system.notes.iter().map(|n| format!("note: {n}")));
    lines.extend(system.cautions.iter().map(|c| format!("caution: {c}")));
    lines.join("\n")
}
