//! The data sheet, the manifest and the example program; all files of a data set.

use std::collections::BTreeMap;
use std::fmt::Write as _;

use formkin_cohort::Cohort;
use formkin_report::html;
use serde_json::{Value, json};

use super::data_sheet::{DataSheet, MODES_KEPT, SheetFile};
use super::describe::describe;
use super::page::document;
use super::parts::residuals_by_modes;
use super::run::SetOutcome;
use super::run::{MlJob, MlOutcome};
use super::tables::{FORMULA, Scaler, arrays, coefficients, covariates, dimensions, splits};
use crate::TaskError;
use crate::digest::hash;

/// A program of a dozen lines that decodes with numpy and safetensors.
pub(crate) const EXAMPLE: &str = include_str!("decode.py");

/// All files of a data set, by name, and the manifest among them.
///
/// # Errors
/// What measuring refuses; [`TaskError::Table`], [`TaskError::Report`].
pub(super) fn files(
    cohort: &Cohort,
    job: &MlJob,
    outcome: &SetOutcome,
) -> Result<(BTreeMap<String, Vec<u8>>, Value), TaskError> {
    let made = &outcome.made;
    let mut files = BTreeMap::from([
        ("space.safetensors".to_owned(), made.space.to_safetensors()),
        ("coefficients.safetensors".to_owned(), arrays(made)),
        ("coefficients.parquet".to_owned(), coefficients(cohort, made, &made.rows)?),
        ("splits.csv".to_owned(), splits(made).to_csv()?),
        ("decode.py".to_owned(), EXAMPLE.as_bytes().to_vec()),
    ]);
    let (bytes, mut scalers) = covariates(cohort, made)?;
    files.insert("covariates.parquet".to_owned(), bytes);
    if let (Some(definitions), Some(taken)) = (&job.dimensions, &outcome.dimensions) {
        let (bytes, more) = dimensions(definitions, made, taken)?;
        files.insert("dimensions.parquet".to_owned(), bytes);
        scalers.extend(more);
    }
    if !made.frames.is_empty() {
        files.insert("sequences.parquet".to_owned(), coefficients(cohort, made, &made.frames)?);
    }
    files.insert("scalers.json".to_owned(), pretty(&scaling(made, &scalers))?);
    let sheet = describe(cohort, job, made, &files, &scalers);
    files.insert("DATASHEET.md".to_owned(), markdown(&sheet).into_bytes());
    files.insert("datasheet.html".to_owned(), html::render(&document(&sheet))?.into_bytes());
    let mut manifest = facts(cohort, job, made);
    manifest["files"] = files
        .iter()
        .map(|(name, bytes)| (name.clone(), json!({ "bytes": bytes.len(), "sha256": hash(bytes) })))
        .collect::<serde_json::Map<_, _>>()
        .into();
    files.insert("manifest.json".to_owned(), pretty(&manifest)?);
    Ok((files, manifest))
}

fn pretty(value: &Value) -> Result<Vec<u8>, TaskError> {
    serde_json::to_vec_pretty(value).map_err(|source| TaskError::Json { of: "manifest".into(), source })
}

fn scaling(made: &MlOutcome, scalers: &[Scaler]) -> Value {
    json!({
        "from": "training rows alone; divisor n - 1; mirrored copies count where there are any",
        "unit": "value_unit = (value - mean) / sd",
        "coefficients": { "mean_mm": made.coefficient_means_mm, "sd_mm": made.coefficient_sds_mm },
        "columns": scalers,
    })
}

/// What a program must know of the data set.
fn facts(cohort: &Cohort, job: &MlJob, made: &MlOutcome) -> Value {
    json!({
        "program": concat!("formkin ", env!("CARGO_PKG_VERSION")),
        "people": made.strata.len(),
        "rows": made.rows.len(),
        "frames": made.frames.len(),
        "parts": made.parts,
        "split_by": "participant",
        "stratify": job.stratify,
        "shares": { "validation": job.validation, "test": job.test },
        "parts_given": job.given.is_some(),
        "mirrored": job.mirrored,
        "seed": job.seed,
        "modes": made.space.modes.len(),
        "modes_that_vary": made.space.variances_mm2.len(),
        "variances_mm2": made.space.variances_mm2.iter().take(made.space.modes.len()).collect::<Vec<_>>(),
        "vertices": made.space.mean.len(),
        "template_hash": made.space.template_hash,
        "removes": made.space.removes,
        "weighting": made.space.weighting,
        "fitted_on": "training people alone: mean, modes, weights, scalers",
        "unit": "mm",
        "axes": "z up, right-handed, frame of the space",
        "decode": FORMULA,
        "leak_check": "passed: no participant and no scan in two parts",
        "storage_error_mm": made.storage_error_mm,
        "residual_by_modes": residuals_by_modes(&made.rows, made.space.modes.len()),
        "training_round_trip_mm": made.training_round_trip_mm,
        "round_trip_limit_mm": super::run::ROUND_TRIP_MM,
        "cohort_items": cohort.items().len(),
        "notes": made.notes,
    })
}

/// The sheet as plain text.
fn markdown(sheet: &DataSheet) -> String {
    let mut out = String::new();
    let _ = writeln!(out, "# Data sheet\n\n{}\n\n## Intended use\n", sheet.what);
    list(&mut out, &sheet.intended);
    out.push_str("## Limits\n\n");
    list(&mut out, &sheet.limits);
    out.push_str("### The people in it\n\n");
    list(&mut out, &sheet.privacy);
    if !sheet.notes.is_empty() {
        out.push_str("### Of this set\n\n");
        list(&mut out, &sheet.notes);
    }
    parts(&mut out, sheet);
    let _ = writeln!(out, "\n### The leak check\n\n{}\n\n## Coefficients in the parts\n", sheet.leak_check);
    out.push_str("Means and SDs in SDs of the training rows; parts of fewer than 5 people are left out.\n\n| mode | share of variance | SD, training, mm | part | people | mean | SD |\n|---:|---:|---:|---|---:|---:|---:|\n");
    for m in &sheet.modes {
        for s in &m.spreads {
            let _ = writeln!(
                out,
                "| {} | {:.4} | {:.3} | {} | {} | {:+.2} | {:.2} |",
                m.mode, m.share, m.sd_mm, s.part, s.people, s.mean, s.sd
            );
        }
    }
    let _ = writeln!(out, "\n## Decoding\n\n```\n{}\n```\n\n{}\n\n## Files", sheet.formula, sheet.round_trip);
    for f in &sheet.files {
        file(&mut out, f);
    }
    out.push_str("\n## Settings\n\n| what | value |\n|---|---|\n");
    for f in &sheet.facts {
        let _ = writeln!(out, "| {} | {} |", bare(&f.name), bare(&f.value));
    }
    out
}

fn list(out: &mut String, items: &[String]) {
    for item in items {
        let _ = writeln!(out, "- {item}");
    }
    out.push('\n');
}

/// Words for a cell: a bar or a line's end would break a table.
fn bare(s: &str) -> String {
    s.replace('|', "\\|").replace(['\n', '\r'], " ")
}

/// The parts, their errors, also by modes kept, and the strata.
fn parts(out: &mut String, sheet: &DataSheet) {
    let number = |x: Option<f64>| x.map_or_else(|| "-".to_owned(), |x| format!("{x:.3}"));
    let _ = writeln!(
        out,
        "## Parts\n\n{}\n\n| part | people | rows | error, mm (root mean square) | 95 % interval, mm |\n|---|---:|---:|---:|---:|",
        sheet.split
    );
    for p in &sheet.parts {
        let interval =
            p.interval_mm.map_or_else(|| "-".to_owned(), |(low, high)| format!("{low:.3} to {high:.3}"));
        let _ =
            writeln!(out, "| {} | {} | {} | {} | {interval} |", p.name, p.people, p.rows, number(p.rms_mm));
    }
    out.push_str(
        "\nIntervals are of people drawn with replacement (percentile bootstrap), from 10 people on.\n",
    );
    if !sheet.modes_kept.is_empty() {
        let _ = writeln!(
            out,
            "\n### The error by modes kept\n\n{MODES_KEPT}\n\n| modes kept | {} |",
            sheet.split_names.join(", mm | ") + ", mm"
        );
        let _ = writeln!(out, "|---:|{}", "---:|".repeat(sheet.split_names.len()));
        for k in &sheet.modes_kept {
            let cells: Vec<String> = k.rms_mm.iter().map(|x| number(*x)).collect();
            let _ = writeln!(out, "| {} | {} |", k.modes, cells.join(" | "));
        }
    }
    if let Some(strata) = &sheet.strata {
        let _ = writeln!(out, "\n| {} | {} |", bare(&strata.column), sheet.split_names.join(" | "));
        let _ = writeln!(out, "|---|{}", "---:|".repeat(sheet.split_names.len()));
        for (name, people) in &strata.rows {
            let people: Vec<String> = people.iter().map(ToString::to_string).collect();
            let name = if name.is_empty() { "not given" } else { name };
            let _ = writeln!(out, "| {} | {} |", bare(name), people.join(" | "));
        }
    }
}

/// What a file holds.
fn file(out: &mut String, f: &SheetFile) {
    let hash = if f.sha256.is_empty() { String::new() } else { format!(" SHA-256 `{}`.", f.sha256) };
    let _ = writeln!(out, "\n`{}`: {}.{hash}", f.name, f.what);
    if f.arrays.is_empty() {
        return;
    }
    out.push_str("\n| name | shape | stored as | unit | what |\n|---|---|---|---|---|\n");
    for a in &f.arrays {
        let row = [&a.name, &a.shape, &a.stored, &a.unit, &a.what].map(|s| bare(s));
        let _ = writeln!(out, "| {} |", row.join(" | "));
    }
}
