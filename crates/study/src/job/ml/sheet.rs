//! The data sheet, the manifest and the example program; all files of a data set.

use std::collections::BTreeMap;
use std::fmt::Write as _;

use formkin_cohort::Cohort;
use serde_json::{Value, json};

use super::tables::{FORMULA, Scaler, arrays, coefficients, covariates, dimensions, splits_csv};
use super::{MlJob, MlOutcome};
use crate::StudyError;
use crate::cache::hash;

/// A program of a dozen lines that decodes with numpy and safetensors.
pub const EXAMPLE: &str = include_str!("decode.py");

/// All files of a data set, by name, and the manifest among them.
///
/// # Errors
/// What measuring refuses; [`StudyError::Parquet`].
pub fn files(
    cohort: &Cohort,
    job: &MlJob,
    made: &MlOutcome,
    progress: &(dyn Fn(usize, usize) + Sync),
) -> Result<(BTreeMap<String, Vec<u8>>, Value), StudyError> {
    let mut files = BTreeMap::from([
        ("space.safetensors".to_owned(), made.space.to_safetensors()),
        ("coefficients.safetensors".to_owned(), arrays(made)),
        ("coefficients.parquet".to_owned(), coefficients(cohort, made, &made.rows)?),
        ("splits.csv".to_owned(), splits_csv(made).into_bytes()),
        ("decode.py".to_owned(), EXAMPLE.as_bytes().to_vec()),
    ]);
    let (bytes, mut scalers) = covariates(cohort, made)?;
    files.insert("covariates.parquet".to_owned(), bytes);
    if let Some((bytes, more)) = dimensions(cohort, job, made, progress)? {
        files.insert("dimensions.parquet".to_owned(), bytes);
        scalers.extend(more);
    }
    if !made.frames.is_empty() {
        files.insert("sequences.parquet".to_owned(), coefficients(cohort, made, &made.frames)?);
    }
    files.insert("scalers.json".to_owned(), pretty(&scaling(made, &scalers))?);
    files.insert("DATASHEET.md".to_owned(), datasheet(cohort, job, made).into_bytes());
    let mut manifest = facts(cohort, job, made);
    manifest["files"] = files
        .iter()
        .map(|(name, bytes)| (name.clone(), json!({ "bytes": bytes.len(), "sha256": hash(bytes) })))
        .collect::<serde_json::Map<_, _>>()
        .into();
    files.insert("manifest.json".to_owned(), pretty(&manifest)?);
    Ok((files, manifest))
}

fn pretty(value: &Value) -> Result<Vec<u8>, StudyError> {
    serde_json::to_vec_pretty(value)
        .map_err(|e| StudyError::Cache { stage: "manifest".into(), reason: e.to_string() })
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
        "storage_error_mm": made.storage_error_mm,
        "training_round_trip_mm": made.training_round_trip_mm,
        "round_trip_limit_mm": super::ROUND_TRIP_MM,
        "cohort_items": cohort.items().len(),
        "notes": made.notes,
    })
}

fn datasheet(cohort: &Cohort, job: &MlJob, made: &MlOutcome) -> String {
    let mut out = String::new();
    let number = |x: Option<f64>| x.map_or_else(|| "-".to_owned(), |x| format!("{x:.3}"));
    let space = &made.space;
    let _ = writeln!(
        out,
        "# Data sheet\n\n## What it is\n\nBody shapes as coefficients of a shape space: {} people, {} rows, {} modes, {} vertices. Units mm; z up.\n\
         Shapes share one set of triangles (SHA-256 `{}`); alignment removes: {:?}; vertex weights: {}; scale is {}.\n",
        made.strata.len(),
        made.rows.len(),
        space.modes.len(),
        space.mean.len(),
        space.template_hash,
        space.removes,
        space.weighting,
        if space.removes == formkin_align::Removes::Similarity { "removed" } else { "kept" }
    );
    out.push_str("## Parts\n\n| part | people | rows | residual RMS, mm |\n|---|---:|---:|---:|\n");
    for p in &made.parts {
        let _ = writeln!(
            out,
            "| {} | {} | {} | {} |",
            p.part.name(),
            p.people,
            p.rows,
            number(p.residual_rms_mm)
        );
    }
    let _ = writeln!(
        out,
        "\nSplit by participant (all sessions{} of a person in one part), seed {}{}. Mean, modes, vertex weights and scalers come from the training people\n\
         alone. The export refuses a person, or the same scan under two names, in two parts.\n",
        if job.mirrored { " and mirrored copies" } else { "" },
        job.seed,
        job.stratify.as_ref().map_or_else(String::new, |c| format!(", stratified by `{c}`"))
    );
    let _ = writeln!(
        out,
        "## Decoding\n\n`{FORMULA}`\n\n`decode.py` does it with numpy and safetensors. Decoding in 32-bit floats is within {:.5} mm of decoding in 64-bit{}.\n",
        made.storage_error_mm,
        made.training_round_trip_mm.map_or_else(String::new, |x| format!(
            "; training bodies come back from their coefficients within {x:.5} mm at every vertex"
        ))
    );
    out.push_str(FILES);
    out.push_str(USE);
    if !made.notes.is_empty() {
        out.push_str("## Notes\n\n");
        for note in &made.notes {
            let _ = writeln!(out, "- {note}");
        }
        out.push('\n');
    }
    let _ =
        writeln!(out, "Made by formkin {} from {} items.", env!("CARGO_PKG_VERSION"), cohort.items().len());
    out
}

const FILES: &str = "## Files

| file | what |
|---|---|
| `space.safetensors` | `mean`, `modes`, `variances`, `weights`, `triangles` of the training people |
| `coefficients.parquet` | a row an item: `mode_kkk_mm`, `mode_kkk_unit`, pose, residual, split |
| `coefficients.safetensors` | the same coefficients in mm as arrays `train`, `validation`, `test`, with `mean` and `sd` |
| `covariates.parquet`, `dimensions.parquet` | columns raw and at unit variance (`_unit`) |
| `sequences.parquet` | coefficients through time, where frames were asked for |
| `splits.csv` | the part of every person |
| `scalers.json` | means and SDs of the training rows |
| `manifest.json` | settings, seed, hashes of all files |

";

const USE: &str = "## Intended use

Models of body shape: regression between dimensions and shape, generation, completion, recognition of posture, baselines for size systems.

## Limits

- It describes the people who were captured, in their garments and pose; it says nothing of people unlike them. Look at who is missing.
- Residuals of the held-out parts say how well the space describes people it has not seen; errors of a model come on top.
- Coefficients are of whole bodies: small differences of posture are in them.
- Choose with the validation part; use the test part once.
- Not for identifying people, nor for judging a person's health.
- Shape coefficients stay personal data: a person can be told from them. Keep them as carefully as the scans, and compare synthetic bodies with real ones
  before release.

";
