//! The tables and arrays of a data set as bytes.

use std::collections::BTreeMap;

use formkin_cohort::Cohort;
use formkin_measure::{Dimensions, take_all};
use formkin_table::parquet_table::{NumberColumn, TextColumn, parquet_table};
use formkin_table::{Sheet, Table};
use serde::{Deserialize, Serialize};
use serde_json::{Value, json};

use super::parts::MlRow;
use super::run::MlOutcome;
use super::split::Part;
use crate::measure::facts;
use crate::{Progress, TaskError};

/// How to decode, in one line.
pub(crate) const FORMULA: &str = "x = mean + sum_k c_k modes[k]: V x 3 positions in mm, z up, in the frame of the space; c_k = mode_kkk_mm, or \
                           mode_kkk_unit * sd[k] + mean[k] of the scalers; captured = R^T (x - t) / s with R, t, s of the pose";

/// A table as Parquet, and the scalers of its columns.
pub(crate) type Scaled = (Vec<u8>, Vec<Scaler>);

/// Mean and SD of a number over the training rows.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub(crate) struct Scaler {
    /// The header of the column.
    pub column: String,
    /// Mean over the training rows that have it.
    pub mean: f64,
    /// SD over them, divisor n - 1.
    pub sd: f64,
    /// How many those are.
    pub n: usize,
}

fn scaler(column: &str, values: &[f64], train: &[bool]) -> Option<Scaler> {
    let used: Vec<f64> =
        values.iter().zip(train).filter(|(v, t)| **t && !v.is_nan()).map(|(v, _)| *v).collect();
    let n = used.len();
    if n < 2 {
        return None;
    }
    let mean = used.iter().sum::<f64>() / n as f64;
    let sd = (used.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / (n - 1) as f64).sqrt();
    (sd > 0.0).then(|| Scaler { column: column.to_owned(), mean, sd, n })
}

/// Numbers as they are and at unit variance, with the scalers of the training rows.
fn scaled(table: &Table, train: &[bool]) -> (Vec<NumberColumn>, Vec<Scaler>) {
    let mut columns = Vec::new();
    let mut scalers = Vec::new();
    for number in &table.numbers {
        let values: Vec<f64> = number.values.iter().map(|v| v.unwrap_or(f64::NAN)).collect();
        if let Some(s) = scaler(&number.header(), &values, train) {
            columns.push(NumberColumn {
                name: format!("{}_unit", number.header()),
                values: values.iter().map(|v| (v - s.mean) / s.sd).collect(),
            });
            scalers.push(s);
        }
        columns.push(NumberColumn { name: number.header(), values });
    }
    columns.sort_by_key(|c| c.name.ends_with("_unit"));
    (columns, scalers)
}

fn keys(rows: &[MlRow]) -> Vec<TextColumn<'_>> {
    vec![
        TextColumn { name: "item", values: rows.iter().map(|r| r.item.as_str()).collect() },
        TextColumn { name: "participant", values: rows.iter().map(|r| r.participant.as_str()).collect() },
        TextColumn { name: "split", values: rows.iter().map(|r| r.part.name()).collect() },
    ]
}

fn training(rows: &[MlRow]) -> Vec<bool> {
    rows.iter().map(|r| r.part == Part::Train).collect()
}

/// `coefficients.parquet`, or the frames of sequences: keys, words of the table of people, coefficients in mm and at unit variance, pose, residual.
///
/// # Errors
/// [`TaskError::Table`].
pub(crate) fn coefficients(cohort: &Cohort, made: &MlOutcome, rows: &[MlRow]) -> Result<Vec<u8>, TaskError> {
    let mut texts = keys(rows);
    let items: Vec<_> = rows.iter().map(|r| &cohort.items()[r.index]).collect();
    let mirrored = |r: &MlRow| if r.mirrored { "yes" } else { "no" };
    texts.push(TextColumn { name: "mirrored", values: rows.iter().map(mirrored).collect() });
    texts.push(TextColumn { name: "session", values: items.iter().map(|i| i.session.as_str()).collect() });
    texts.push(TextColumn { name: "capture", values: items.iter().map(|i| i.capture.as_str()).collect() });
    texts.push(TextColumn {
        name: "positions_sha256",
        values: rows.iter().map(|r| r.positions_sha256.as_str()).collect(),
    });
    let mut numbers = Vec::new();
    if items.iter().any(|i| i.frame.is_some()) {
        let frame = |i: &&formkin_cohort::Item| i.frame.map_or(f64::NAN, f64::from);
        numbers.push(NumberColumn { name: "frame".into(), values: items.iter().map(frame).collect() });
        let time = |i: &&formkin_cohort::Item| i.time_s.unwrap_or(f64::NAN);
        numbers.push(NumberColumn { name: "time_s".into(), values: items.iter().map(time).collect() });
    }
    let modes = made.space.modes.len();
    for k in 0..modes {
        numbers.push(NumberColumn {
            name: format!("mode_{:03}_mm", k + 1),
            values: rows.iter().map(|r| r.coefficients[k]).collect(),
        });
    }
    for k in 0..modes {
        let (mean, sd) = (made.coefficient_means_mm[k], made.coefficient_sds_mm[k]);
        numbers.push(NumberColumn {
            name: format!("mode_{:03}_unit", k + 1),
            values: rows.iter().map(|r| (r.coefficients[k] - mean) / sd).collect(),
        });
    }
    for k in 0..13 {
        let name = match k {
            0..9 => format!("pose_r{}{}", k / 3 + 1, k % 3 + 1),
            9..12 => format!("pose_t{}_mm", ["x", "y", "z"][k - 9]),
            _ => "pose_scale".to_owned(),
        };
        numbers.push(NumberColumn { name, values: rows.iter().map(|r| r.pose[k]).collect() });
    }
    numbers.push(NumberColumn {
        name: "residual_rms_mm".into(),
        values: rows.iter().map(|r| r.residual_rms_mm).collect(),
    });
    Ok(parquet_table(&texts, &numbers, &metadata(made))?)
}

fn metadata(made: &MlOutcome) -> [(&'static str, String); 4] {
    [
        ("decode", FORMULA.to_owned()),
        ("template_hash", made.space.template_hash.clone()),
        ("unit", "mm; _unit columns have mean 0 and variance 1 over the training rows".to_owned()),
        ("seed", made.space.seed.to_string()),
    ]
}

/// `covariates.parquet`: keys, the table of people, numbers raw and at unit variance.
///
/// # Errors
/// [`TaskError::Table`].
pub(crate) fn covariates(cohort: &Cohort, made: &MlOutcome) -> Result<Scaled, TaskError> {
    let items: Vec<usize> = made.rows.iter().map(|r| r.index).collect();
    let table = facts(cohort, &items);
    let (numbers, scalers) = scaled(&table, &training(&made.rows));
    let mut texts = keys(&made.rows);
    for text in table.texts.iter().filter(|t| t.name != "participant") {
        texts.push(TextColumn { name: &text.name, values: text.values.iter().map(String::as_str).collect() });
    }
    Ok((parquet_table(&texts, &numbers, &metadata(made))?, scalers))
}

/// Every dimension of the rows that are no mirrored copies, a row each. A mirrored copy has the dimensions of its original left for right only where
/// definitions are symmetric, so copies have none.
///
/// # Errors
/// What measuring refuses.
pub(crate) fn take(
    cohort: &Cohort,
    definitions: &Dimensions,
    made: &MlOutcome,
    progress: Progress<'_>,
) -> Result<Vec<Vec<Option<f64>>>, TaskError> {
    let rows = made.rows.iter().filter(|r| !r.mirrored).map(|r| r.index).collect();
    let taken = take_all(definitions, cohort.template(), &cohort.select(rows), progress)?;
    Ok(taken.into_iter().map(|row| row.into_iter().map(|m| m.value).collect()).collect())
}

/// `dimensions.parquet`: keys, then every dimension raw and at unit variance.
///
/// # Errors
/// [`TaskError::Table`].
pub(crate) fn dimensions(
    definitions: &Dimensions,
    made: &MlOutcome,
    taken: &[Vec<Option<f64>>],
) -> Result<Scaled, TaskError> {
    let rows: Vec<MlRow> = made.rows.iter().filter(|r| !r.mirrored).cloned().collect();
    let mut table = Table::default();
    for (d, definition) in definitions.definitions.iter().enumerate() {
        table.numbers.push(formkin_table::NumberColumn {
            name: definition.name.clone(),
            unit: definition.unit.clone(),
            values: taken.iter().map(|row| row[d]).collect(),
        });
    }
    let (numbers, scalers) = scaled(&table, &training(&rows));
    Ok((parquet_table(&keys(&rows), &numbers, &metadata(made))?, scalers))
}

/// `splits.csv`: one line a person.
#[must_use]
pub(crate) fn splits(made: &MlOutcome) -> Sheet {
    let mut people: BTreeMap<&str, (Part, usize)> = BTreeMap::new();
    for row in &made.rows {
        people.entry(&row.participant).or_insert((row.part, 0)).1 += 1;
    }
    let stratum = |person: &str| made.strata.get(person).cloned().unwrap_or_default();
    Sheet::new()
        .text("participant", "Pseudonym of the person", people.keys().copied())
        .text("split", "The part of the person", people.values().map(|p| p.0.name()))
        .text("stratum", "The value by which people were dealt out", people.keys().map(|p| stratum(p)))
        .whole("rows", None, "Rows of the person", people.values().map(|p| p.1))
}

/// `coefficients.safetensors`: `train`, `validation`, `test` (f32, rows x modes, in mm, rows as in the Parquet table), and the scalers `mean` and `sd` (f32, modes).
#[must_use]
pub(crate) fn arrays(made: &MlOutcome) -> Vec<u8> {
    let modes = made.space.modes.len();
    let mut header = serde_json::Map::new();
    header.insert(
        "__metadata__".into(),
        json!({ "format": "formkin coefficients", "formula": FORMULA, "unit": "mm", "template_hash": made.space.template_hash }),
    );
    let mut data: Vec<u8> = Vec::new();
    let mut add = |name: &str, shape: Value, values: &mut dyn Iterator<Item = f64>| {
        let from = data.len();
        data.extend(values.flat_map(|x| (x as f32).to_le_bytes()));
        header.insert(
            name.into(),
            json!({ "dtype": "F32", "shape": shape, "data_offsets": [from, data.len()] }),
        );
    };
    add("mean", json!([modes]), &mut made.coefficient_means_mm.iter().copied());
    add("sd", json!([modes]), &mut made.coefficient_sds_mm.iter().copied());
    for part in Part::ALL {
        let rows = || made.rows.iter().filter(|r| r.part == part);
        add(
            part.name(),
            json!([rows().count(), modes]),
            &mut rows().flat_map(|r| r.coefficients.iter().copied()),
        );
    }
    let mut text = Value::Object(header).to_string().into_bytes();
    text.resize(text.len().next_multiple_of(8), b' ');
    let mut out = (text.len() as u64).to_le_bytes().to_vec();
    out.extend(text);
    out.extend(data);
    out
}
