//! `formkin predict`: the body that goes with given dimensions.

use std::collections::BTreeMap;

use anyhow::{Context, bail};
use formkin_tasks::job::predict::{Method, PredictJob, PredictOutcome, predict};
use serde_json::json;

use super::body;
use crate::args::PredictArgs;
use crate::output::{Exit, Output};
use crate::resolve::{free, open_space, write};

pub(crate) fn run(args: &PredictArgs, output: &Output) -> anyhow::Result<Exit> {
    free(args.into.iter().chain(&args.intervals).map(AsRef::as_ref), args.force)?;
    let space = open_space(&args.space)?;
    let job = PredictJob {
        values: numbers("--dimension", &args.dimensions)?,
        levels: words("--level", &args.levels)?,
        errors: numbers("--error", &args.errors)?,
        method: args
            .pls
            .map_or(Method::ConditionalNormal, |components| Method::PartialLeastSquares { components }),
    };
    let found = predict(&space, &job).with_context(|| args.space.display().to_string())?;
    let mut outputs = Vec::new();
    if let Some(path) = &args.into {
        write(path, &body::mesh_bytes(path, &space, &found.positions)?, args.force)?;
        outputs.push(path);
    }
    if let Some(path) = &args.intervals {
        let text = body::intervals_csv(&found.positions, &found.sd_mm, found.t_95)?;
        write(path, text.as_bytes(), args.force)?;
        outputs.push(path);
    }
    let object = json!({
        "vertices": found.positions.len(),
        "people": found.people,
        "method": found.method,
        "given": job,
        "coefficients_mm": found.coefficients_mm,
        "unstable_modes": space.unstable_modes(),
        "stability_asked_modes": space.stability_asked_modes(),
        "dimensions": found.dimensions,
        "rounds": found.rounds,
        "largest_miss_mm": found.largest_miss_mm,
        "on_target": found.on_target,
        "mahalanobis": found.mahalanobis,
        "mahalanobis_limit_99": found.limit,
        "outside_99": found.outside,
        "vertex_half_width_95_mm": body::half_width(&found.sd_mm, found.t_95),
        "notes": found.notes,
        "outputs": outputs,
    });
    output.result(&object, told(&found, &outputs).join("\n"))?;
    Ok(if found.outside { Exit::Findings } else { Exit::Done })
}

fn told(found: &PredictOutcome, outputs: &[&std::path::PathBuf]) -> Vec<String> {
    let mut lines = vec![
        "dimension                        given  expected   95 % of such people      on the mesh".to_owned(),
    ];
    for d in &found.dimensions {
        // pure numbers, such as waist over stature, live in their decimals
        let digits = if d.unit.is_some() { 1 } else { 3 };
        let cell = |x: Option<f64>| x.map_or_else(|| "-".to_owned(), |x| format!("{x:.digits$}"));
        let name = d.unit.as_ref().map_or_else(|| d.name.clone(), |u| format!("{} ({u})", d.name));
        lines.push(format!(
            "{name:<30} {:>7} {:>9.digits$} {:>10.digits$} to {:<10.digits$} {:>10}",
            cell(d.target),
            d.expected,
            d.interval_95.0,
            d.interval_95.1,
            cell(d.measured)
        ));
    }
    lines.push(format!(
        "{} people; {:.2} SD from the mean (99 % of people are within {:.2}); a vertex of such a person lies within +- {:.1} mm a coordinate (95 %, RMS)",
        found.people,
        found.mahalanobis,
        found.limit,
        body::half_width(&found.sd_mm, found.t_95)
    ));
    if let Some(miss) = found.largest_miss_mm {
        lines
            .push(format!("measured again on the mesh, rounds: {}; largest miss {miss:.2} mm", found.rounds));
    }
    lines.extend(found.notes.iter().map(|n| format!("note: {n}")));
    lines.extend(outputs.iter().map(|p| format!("written: {}", p.display())));
    lines
}

/// `NAME=WORD` pairs.
fn words(option: &str, pairs: &[String]) -> anyhow::Result<BTreeMap<String, String>> {
    let mut found = BTreeMap::new();
    for pair in pairs {
        let Some((name, value)) = pair.split_once('=') else {
            bail!("{option} {pair}: write NAME=VALUE");
        };
        if found.insert(name.trim().to_owned(), value.trim().to_owned()).is_some() {
            bail!("{option} {pair}: {} is given twice", name.trim());
        }
    }
    Ok(found)
}

/// `NAME=NUMBER` pairs.
fn numbers(option: &str, pairs: &[String]) -> anyhow::Result<BTreeMap<String, f64>> {
    words(option, pairs)?
        .into_iter()
        .map(|(name, value)| match value.parse::<f64>() {
            Ok(number) if number.is_finite() => Ok((name, number)),
            _ => bail!("{option} {name}={value}: `{value}` is no number"),
        })
        .collect()
}
