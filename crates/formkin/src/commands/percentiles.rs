//! `formkin percentiles`: a population in percentiles, correlations and values out of the usual.

use anyhow::ensure;
use formkin_measure::population::PopulationParams;
use formkin_tasks::reading::read_table;

use crate::args::PercentilesArgs;
use crate::output::{Exit, Output, people};
use crate::resolve::{free, make_folder, write};

pub(crate) fn run(args: &PercentilesArgs, output: &Output) -> anyhow::Result<Exit> {
    ensure!(args.resamples <= 100_000, "--resamples {}: 0 to 100000 are drawn", args.resamples);
    let table = read_table(&args.table)?;
    ensure!(
        !table.numbers.is_empty(),
        "{}: it has no column of numbers, of which percentiles could be taken",
        args.table.display()
    );
    let params = PopulationParams {
        by: args.by.clone(),
        weight: args.weight.clone(),
        resamples: args.resamples,
        seed: args.seed,
        ..PopulationParams::default()
    };
    let made = params.take(&table)?;
    let files = [
        ("percentiles.csv", made.percentiles_sheet().to_csv()?),
        ("correlations.csv", made.correlations_sheet().to_csv()?),
        ("correlations-n.csv", made.correlation_n_sheet().to_csv()?),
        ("out-of-range.csv", made.out_of_range_sheet().to_csv()?),
    ];
    let mut outputs = Vec::new();
    if let Some(folder) = &args.into {
        outputs = files.iter().map(|(name, _)| folder.join(name)).collect();
        make_folder(folder)?;
        free(outputs.iter().map(|p| p.as_path()), args.force)?;
        for (path, (_, bytes)) in outputs.iter().zip(&files) {
            write(path, bytes, args.force)?;
        }
    }
    let mut object = serde_json::to_value(&made)?;
    object["outputs"] = serde_json::json!(outputs);
    let mut lines = vec![format!(
        "{:<28} {:<10} {:>5} {:>9} {:>9} {:>9} {:>9} {:>9}",
        "dimension", "group", "n", "P5", "P25", "P50", "P75", "P95"
    )];
    for d in &made.distributions {
        // pure numbers, such as waist over stature, live in their decimals
        let digits = if d.unit.is_some() { 1 } else { 3 };
        let number = |x: Option<f64>| x.map_or_else(|| "-".to_owned(), |x| format!("{x:.digits$}"));
        let at =
            |percent: f64| number(d.percentiles.iter().find(|p| p.percent == percent).and_then(|p| p.value));
        lines.push(format!(
            "{:<28} {:<10} {:>5} {:>9} {:>9} {:>9} {:>9} {:>9}",
            d.dimension,
            d.group.as_deref().unwrap_or("all"),
            d.n,
            at(5.0),
            at(25.0),
            at(50.0),
            at(75.0),
            at(95.0)
        ));
    }
    lines.push(format!(
        "{} in the table; {} values to look at; {}",
        people(table.rows()),
        made.out_of_range.len(),
        made.caution
    ));
    if let Some((least, most)) = made.correlation_n_range() {
        lines.push(format!(
            "correlations of two dimensions are of {} who have both (n of each pair in correlations-n.csv and `correlation_n`)",
            if least == most { people(most) } else { format!("{least} to {}", people(most)) }
        ));
    }
    output.result(&object, lines.join("\n"))?;
    Ok(Exit::Done)
}
