//! `formkin agree`: scan against hand, or repeats against each other.

use std::path::{Path, PathBuf};

use anyhow::{Context, anyhow};
use formkin_measure::agreement::{
    Agreement, CompareParams, Comparison, LimitType, Repeatability, RepeatsParams, Verdict,
};
use formkin_measure::repeatability_sheet;
use formkin_report::{agreement_chart, agreement_page};
use formkin_tasks::job::agree::{agree, repeats};
use formkin_tasks::reading::{read_dimensions, read_table};
use serde_json::json;

use crate::args::AgreeArgs;
use crate::output::{Exit, Output, people};
use crate::resolve::{free, write};

pub(crate) fn run(args: &AgreeArgs, output: &Output) -> anyhow::Result<Exit> {
    if let Some(table) = &args.repeats {
        return repeated(args, table, output);
    }
    let [scan, hand] = args.tables.as_slice() else {
        return Err(anyhow!("two tables are needed: the scan's and the one by hand"));
    };
    let mut params = CompareParams { only: args.only.clone(), ..CompareParams::default() };
    for given in &args.types {
        let (name, kind) = given
            .split_once('=')
            .ok_or_else(|| anyhow!("`--type {given}`: write NAME=TYPE, such as neck_girth=small-girth"))?;
        params
            .types
            .insert(name.to_owned(), LimitType::parse(kind).map_err(|e| anyhow!("`--type {given}`: {e}"))?);
    }
    params.dimensions = args.dimensions.as_deref().map(read_dimensions).transpose()?;
    let made = agree(&read_table(scan)?, &read_table(hand)?, &params)
        .with_context(|| format!("{}, {}", scan.display(), hand.display()))?;
    let mut files = vec![
        ("agreement.csv".to_owned(), made.sheet().to_csv()?),
        ("agreement.html".to_owned(), agreement_page(&made)?.into_bytes()),
    ];
    files.extend(
        made.dimensions.iter().map(|a| (format!("{}.svg", a.dimension), agreement_chart(a).into_bytes())),
    );
    let outputs = deliver(args, &files)?;
    let mut object = serde_json::to_value(&made)?;
    object["outputs"] = json!(outputs);
    output.result(&object, text(&made))?;
    Ok(Exit::Done)
}

/// Writes the files where a folder was asked for.
fn deliver(args: &AgreeArgs, files: &[(String, Vec<u8>)]) -> anyhow::Result<Vec<PathBuf>> {
    let Some(folder) = &args.into else { return Ok(Vec::new()) };
    let paths: Vec<PathBuf> = files.iter().map(|(name, _)| folder.join(name)).collect();
    std::fs::create_dir_all(folder).with_context(|| format!("{} cannot be made", folder.display()))?;
    free(paths.iter().map(PathBuf::as_path), args.force)?;
    for (path, (_, bytes)) in paths.iter().zip(files) {
        write(path, bytes, args.force)?;
    }
    Ok(paths)
}

fn repeated(args: &AgreeArgs, table: &Path, output: &Output) -> anyhow::Result<Exit> {
    let params = RepeatsParams {
        participant: args.participant.clone(),
        session: args.session.clone(),
        only: args.only.clone(),
    };
    let csv =
        std::fs::read_to_string(table).with_context(|| format!("{} cannot be read", table.display()))?;
    let made =
        repeats(&csv, &table.display().to_string(), &params).with_context(|| table.display().to_string())?;
    let outputs = deliver(args, &[("repeatability.csv".to_owned(), repeatability_sheet(&made).to_csv()?)])?;
    output.result(&json!({ "dimensions": made, "outputs": outputs }), repeats_text(&made))?;
    Ok(Exit::Done)
}

fn verdict(a: &Agreement) -> &'static str {
    match a.verdict {
        Verdict::Within => "within",
        Verdict::NotWithin => "NOT within",
        Verdict::TooFew => "too few",
        Verdict::NoLimit => "no limit",
    }
}

fn text(made: &Comparison) -> String {
    let mut lines = vec![format!(
        "{} in both tables, {} dimensions; errors are scan less hand, in mm",
        people(made.people),
        made.dimensions.len()
    )];
    lines.push(format!(
        "{:<26} {:<17} {:>4} {:>5} {:>7} {:>6} {:>15} {:>15} {:>6}  verdict",
        "dimension", "type", "n", "limit", "mean", "SD", "95 % CI", "agreement", "MAE"
    ));
    for a in &made.dimensions {
        let range = |(low, high): (f64, f64)| format!("{low:.1} to {high:.1}");
        lines.push(format!(
            "{:<26} {:<17} {:>4} {:>5} {:>7.1} {:>6.1} {:>15} {:>15} {:>6.1}  {}",
            a.dimension,
            a.limit_type.map_or("-", LimitType::name),
            a.n,
            a.limit_mm.map_or("-".to_owned(), |l| l.to_string()),
            a.mean_error_mm,
            a.sd_error_mm,
            range(a.interval_mm),
            range(a.limits_of_agreement_mm),
            a.mean_absolute_error_mm,
            verdict(a)
        ));
    }
    for a in &made.dimensions {
        lines.extend(a.notes.iter().map(|n| format!("note: {}: {n}", a.dimension)));
    }
    for (list, whose) in [(&made.only_scan, "the scans"), (&made.only_hand, "the table by hand")] {
        if let Some(first) = list.first() {
            lines.push(format!("note: {} in {whose} alone, such as {first}", people(list.len())));
        }
    }
    lines.push(format!("caution: {}", made.caution));
    lines.join("\n")
}

fn repeats_text(made: &[Repeatability]) -> String {
    let mut lines = vec![format!(
        "{:<28} {:>6} {:>7} {:>9} {:>7} {:>6} {:>7} {:>9} {:>8}",
        "dimension", "people", "values", "mean", "TEM", "%TEM", "R", "ICC(2,1)", "LDC"
    )];
    let number =
        |x: Option<f64>, decimals: usize| x.map_or_else(|| "-".to_owned(), |x| format!("{x:.decimals$}"));
    for r in made {
        let header =
            r.unit.as_ref().map_or_else(|| r.dimension.clone(), |u| format!("{} [{u}]", r.dimension));
        lines.push(format!(
            "{header:<28} {:>6} {:>7} {:>9.1} {:>7.2} {:>6} {:>7} {:>9} {:>8.2}",
            r.people,
            r.values,
            r.mean,
            r.tem,
            number(r.tem_percent, 2),
            number(r.reliability, 3),
            number(r.icc_agreement.or(r.icc_one_way.map(|i| i.value)), 3),
            r.least_detectable_change
        ));
    }
    for r in made {
        lines.extend(r.notes.iter().map(|n| format!("note: {}: {n}", r.dimension)));
    }
    lines.push("TEM: technical error of measurement; LDC: least detectable change, 2.77 TEM; ICC one-way where sessions are missing".to_owned());
    lines.join("\n")
}
