//! What the data sheet says: of the set, its parts, its files.

use std::collections::BTreeMap;

use formkin_cohort::Cohort;
use formkin_report::document::Fact;
use formkin_report::format::{count, counted};

use super::data_sheet::{
    DataSheet, SheetArray, SheetFile, SheetMode, SheetModesKept, SheetPart, SheetScaler, SheetSpread,
    SheetStrata,
};
use super::parts::MlRow;
use super::parts::{part_facts, residuals_by_modes, spreads};
use super::run::{MlJob, MlOutcome};
use super::split::Part;
use super::tables::{FORMULA, Scaler};
use crate::digest::hash;
use crate::measure::facts;

/// Modes whose spread is told.
const MODES_TOLD: usize = 10;

/// The sheet of a set whose other files are there. Files that are written after the sheet are listed without size and hash.
#[must_use]
pub(crate) fn describe(
    cohort: &Cohort,
    job: &MlJob,
    made: &MlOutcome,
    files: &BTreeMap<String, Vec<u8>>,
    scalers: &[Scaler],
) -> DataSheet {
    let space = &made.space;
    let words = |list: &[&str]| list.iter().map(|s| (*s).to_owned()).collect::<Vec<String>>();
    DataSheet {
        what: format!(
            "Body shapes as coefficients of a shape space: {} people, {} rows{}, {} modes, {} vertices. Units are mm; z is up.",
            count(made.strata.len()),
            count(made.rows.len()),
            if made.frames.is_empty() {
                String::new()
            } else {
                format!(" and {} frames of movements", made.frames.len())
            },
            count(space.modes.len()),
            count(space.mean.len())
        ),
        intended: words(&INTENDED),
        limits: words(&LIMITS),
        privacy: words(&PRIVACY),
        notes: made.notes.clone(),
        split: format!(
            "Split by participant: all sessions{} of a person are in one part. Seed {}{}{}. Mean, modes, vertex weights and scalers come from the training people alone.",
            if job.mirrored { " and mirrored copies" } else { "" },
            job.seed,
            job.stratify.as_ref().map_or_else(String::new, |c| format!(", stratified by `{c}`")),
            if job.given.is_some() { ", parts given from outside" } else { "" }
        ),
        leak_check: format!(
            "Passed: of {} people and {} scans none is in two parts, neither under one participant nor, by the SHA-256 of the positions, as the same scan under two. The export refuses a set that fails. What the check \
             cannot see: one person under two pseudonyms with different scans, and a scan that was altered.",
            made.strata.len(),
            made.rows.iter().filter(|r| !r.mirrored).count()
        ),
        parts: parts(job, made),
        modes_kept: residuals_by_modes(&made.rows, space.modes.len())
            .into_iter()
            .map(|k| SheetModesKept {
                modes: k.modes,
                rms_mm: Part::ALL.map(|p| k.rms_mm.get(p.name()).copied().flatten()).to_vec(),
            })
            .collect(),
        strata: job
            .stratify
            .as_ref()
            .map(|column| SheetStrata { column: column.clone(), rows: strata(made) }),
        split_names: words(&Part::ALL.map(Part::name)),
        modes: modes(made),
        formula: FORMULA.replace("; ", ";\n"),
        round_trip: format!(
            "decode.py does it with numpy and safetensors. Decoding in 32-bit floats is within {:.5} mm of decoding in 64-bit at every vertex (limit {} mm){}. What the modes leave of people held out is not in that: it is the error of the parts.",
            made.storage_error_mm,
            super::run::ROUND_TRIP_MM,
            made.training_round_trip_mm.map_or_else(String::new, |x| format!(
                "; training bodies come back from their coefficients within {x:.5} mm"
            ))
        ),
        files: listed(cohort, job, made, files),
        scalers: scalers
            .iter()
            .map(|s| SheetScaler { column: s.column.clone(), mean: s.mean, sd: s.sd, n: s.n })
            .collect(),
        facts: vec![
            Fact::new("program", concat!("formkin ", env!("CARGO_PKG_VERSION"))),
            Fact::new("seed", job.seed.to_string()),
            Fact::new("items of the cohort", cohort.items().len().to_string()),
            Fact::new("shares held out", format!("validation {}, test {}", job.validation, job.test)),
            Fact::new("alignment removes", format!("{:?}", space.removes).to_lowercase()),
            Fact::new("vertex weights", space.weighting.clone()),
            Fact::new(
                "scale",
                if space.removes == formkin_align::Removes::Similarity { "removed" } else { "kept" },
            ),
            Fact::new("SHA-256 of the triangles (template)", space.template_hash.clone()),
        ],
    }
}

/// The three parts, then the frames of movements in them.
fn parts(job: &MlJob, made: &MlOutcome) -> Vec<SheetPart> {
    let part = |name: String, f: &super::parts::PartFacts| SheetPart {
        name,
        people: f.people,
        rows: f.rows,
        rms_mm: f.residual_rms_mm,
        interval_mm: f.residual_interval_mm,
    };
    let mut out: Vec<SheetPart> = made.parts.iter().map(|f| part(f.part.name().to_owned(), f)).collect();
    for which in Part::ALL {
        let found = part_facts(which, &made.frames, job.seed);
        if found.rows > 0 {
            out.push(part(format!("frames of movements, {}", which.name()), &found));
        }
    }
    out
}

/// People of each stratum by part.
fn strata(made: &MlOutcome) -> Vec<(String, Vec<usize>)> {
    let part_of: BTreeMap<&str, Part> = made.rows.iter().map(|r| (r.participant.as_str(), r.part)).collect();
    let mut out: BTreeMap<&str, Vec<usize>> = BTreeMap::new();
    for (person, stratum) in &made.strata {
        let counts = out.entry(stratum).or_insert_with(|| vec![0; Part::ALL.len()]);
        let place = part_of.get(person.as_str()).and_then(|p| Part::ALL.iter().position(|q| q == p));
        if let Some(count) = place.and_then(|p| counts.get_mut(p)) {
            *count += 1;
        }
    }
    out.into_iter().map(|(name, counts)| (name.to_owned(), counts)).collect()
}

fn modes(made: &MlOutcome) -> Vec<SheetMode> {
    let total = made.space.total_variance_mm2;
    let rows: Vec<MlRow> = made.rows.iter().filter(|r| !r.mirrored).cloned().collect();
    (0..made.space.modes.len().min(MODES_TOLD))
        .map(|k| SheetMode {
            mode: k + 1,
            share: if total > 0.0 { made.space.variances_mm2[k] / total } else { 0.0 },
            sd_mm: made.coefficient_sds_mm[k],
            spreads: spreads(&rows, k, made.coefficient_means_mm[k], made.coefficient_sds_mm[k])
                .into_iter()
                .map(|s| SheetSpread {
                    part: s.part.name().to_owned(),
                    people: s.people,
                    mean: s.mean,
                    sd: s.sd,
                    shares: s.shares,
                })
                .collect(),
        })
        .collect()
}

fn array(name: &str, shape: String, stored: &str, unit: &str, what: &str) -> SheetArray {
    SheetArray {
        name: name.to_owned(),
        shape,
        stored: stored.to_owned(),
        unit: unit.to_owned(),
        what: what.to_owned(),
    }
}

/// What is in the file of this name, and its arrays.
fn content(cohort: &Cohort, job: &MlJob, made: &MlOutcome, name: &str) -> (&'static str, Vec<SheetArray>) {
    let (rows, modes) = (made.rows.len(), made.space.modes.len());
    match name {
        "space.safetensors" => ("Shape space of the training people", of_space(made)),
        "coefficients.safetensors" => {
            ("The same coefficients as arrays, rows in the order of coefficients.parquet", by_part(made))
        }
        "coefficients.parquet" => ("A row an item: coefficients, pose, residual, part", by_mode(rows, modes)),
        "sequences.parquet" => (
            "Coefficients through time: a row a frame of a movement, in the space of the still bodies",
            through_time(made),
        ),
        "covariates.parquet" => ("What the table of people says of every row", of_people(cohort, made)),
        "dimensions.parquet" => {
            ("Body dimensions of every captured row; mirrored copies have none", by_dimension(job, made))
        }
        "splits.csv" => (
            "The part of every person",
            vec![array(
                "participant, split, stratum, rows",
                format!("{} lines", made.strata.len()),
                "text",
                "",
                "a line a person",
            )],
        ),
        "scalers.json" => ("Means and SDs of the training rows, of coefficients and columns", Vec::new()),
        "decode.py" => ("Bodies from coefficients, in a dozen lines of numpy", Vec::new()),
        "manifest.json" => ("Settings, seed, and the SHA-256 of all files, for programs", Vec::new()),
        "DATASHEET.md" => ("This sheet as plain text", Vec::new()),
        "datasheet.html" => ("This sheet as a page", Vec::new()),
        _ => ("", Vec::new()),
    }
}

/// The arrays of the space.
fn of_space(made: &MlOutcome) -> Vec<SheetArray> {
    let space = &made.space;
    let (v, k, t) = (space.mean.len(), space.modes.len(), space.triangles.len());
    vec![
        array("mean", format!("{v} x 3"), "f32", "mm", "mean body, z up"),
        array(
            "modes",
            format!("{k} x {v} x 3"),
            "f32",
            "mm per mm",
            "ways in which bodies differ, the strongest first; orthonormal under the vertex weights",
        ),
        array(
            "variances",
            space.variances_mm2.len().to_string(),
            "f64",
            "mm²",
            "of every mode that varies, divisor n - 1",
        ),
        array("weights", v.to_string(), "f64", "", "vertex weights; sum 1"),
        array("triangles", format!("{t} x 3"), "u32", "", "vertex numbers, from 0"),
    ]
}

/// Coefficients by part.
fn by_part(made: &MlOutcome) -> Vec<SheetArray> {
    let k = made.space.modes.len();
    let of = |p: Part| made.rows.iter().filter(|r| r.part == p).count();
    vec![
        array("train", format!("{} x {k}", of(Part::Train)), "f32", "mm", "coefficients"),
        array("validation", format!("{} x {k}", of(Part::Validation)), "f32", "mm", "coefficients"),
        array("test", format!("{} x {k}", of(Part::Test)), "f32", "mm", "coefficients"),
        array("mean, sd", format!("{k} each"), "f32", "mm", "scalers of the training rows"),
    ]
}

/// The columns of `rows` rows in a space of `k` modes.
fn by_mode(rows: usize, k: usize) -> Vec<SheetArray> {
    vec![
        array(
            "item, participant, split, mirrored, session, capture",
            format!("{rows} rows each"),
            "text",
            "",
            "whose row it is, and in which part",
        ),
        array(
            "positions_sha256",
            format!("{rows} rows"),
            "text",
            "",
            "of the captured positions as 32-bit floats",
        ),
        array(
            &format!("mode_001_mm .. mode_{k:03}_mm"),
            format!("{rows} rows x {k}"),
            "f64",
            "mm",
            "coefficients",
        ),
        array(
            &format!("mode_001_unit .. mode_{k:03}_unit"),
            format!("{rows} rows x {k}"),
            "f64",
            "training SDs",
            "the same less the mean of the training rows, over their SD",
        ),
        array(
            "pose_r11 .. pose_r33",
            format!("{rows} rows x 9"),
            "f64",
            "",
            "rotation by rows, from the captured frame to that of the space",
        ),
        array(
            "pose_tx_mm, pose_ty_mm, pose_tz_mm",
            format!("{rows} rows x 3"),
            "f64",
            "mm",
            "translation, after rotation and scale",
        ),
        array("pose_scale", format!("{rows} rows"), "f64", "", "scale"),
        array(
            "residual_rms_mm",
            format!("{rows} rows"),
            "f64",
            "mm",
            "what the modes leave, root mean square over the skin",
        ),
    ]
}

/// The columns of frames of movements.
fn through_time(made: &MlOutcome) -> Vec<SheetArray> {
    let n = made.frames.len();
    let mut arrays = by_mode(n, made.space.modes.len());
    arrays.push(array("frame, time_s", format!("{n} rows each"), "f64", "number; s", "place in the capture"));
    arrays
}

/// The columns that the table of people gives.
fn of_people(cohort: &Cohort, made: &MlOutcome) -> Vec<SheetArray> {
    let rows = made.rows.len();
    let table = facts(cohort, &made.rows.iter().map(|r| r.index).collect::<Vec<_>>());
    let mut arrays: Vec<SheetArray> = table
        .texts
        .iter()
        .map(|c| array(&c.name, format!("{rows} rows"), "text", "", "as in the table of people"))
        .collect();
    arrays.extend(table.numbers.iter().map(|c| {
        let name = format!("{0}, {0}_unit", c.header());
        array(
            &name,
            format!("{rows} rows each"),
            "f64",
            c.unit.as_deref().unwrap_or_default(),
            "as given, and in training SDs",
        )
    }));
    arrays
}

/// Body dimensions, counted by unit.
fn by_dimension(job: &MlJob, made: &MlOutcome) -> Vec<SheetArray> {
    let n = made.rows.iter().filter(|r| !r.mirrored).count();
    let mut by_unit: BTreeMap<&str, usize> = BTreeMap::new();
    for d in job.dimensions.iter().flat_map(|d| &d.definitions) {
        *by_unit.entry(d.unit.as_deref().unwrap_or("")).or_default() += 1;
    }
    by_unit
        .into_iter()
        .map(|(unit, n_of)| {
            let (one, many) =
                if unit.is_empty() { ("pure number", "pure numbers") } else { ("dimension", "dimensions") };
            array(
                &counted(n_of, one, many),
                format!("{n} rows each"),
                "f64",
                unit,
                "as taken, and in training SDs (_unit)",
            )
        })
        .collect()
}

fn listed(
    cohort: &Cohort,
    job: &MlJob,
    made: &MlOutcome,
    files: &BTreeMap<String, Vec<u8>>,
) -> Vec<SheetFile> {
    let mut names: Vec<&str> = files.keys().map(String::as_str).collect();
    names.extend(["DATASHEET.md", "datasheet.html", "manifest.json"]);
    names
        .into_iter()
        .map(|name| {
            let (what, arrays) = content(cohort, job, made, name);
            let bytes = files.get(name);
            SheetFile {
                name: name.to_owned(),
                what: what.to_owned(),
                bytes: bytes.map(|b| b.len() as u64),
                sha256: bytes.map_or_else(String::new, |b| hash(b)),
                arrays,
            }
        })
        .collect()
}

const INTENDED: [&str; 2] = [
    "Models of body shape: regression between dimensions and shape, generation, completion, recognition of posture, baselines for size systems.",
    "Choose between models with the validation part; use the test part once, for the last figure.",
];

const LIMITS: [&str; 5] = [
    "It describes the people who were captured, in their garments and pose; it says nothing of people unlike them. Look at who is missing.",
    "Residuals of the held-out parts say how well the space describes people it has not seen; errors of a model come on top.",
    "Coefficients are of whole bodies: small differences of posture are in them.",
    "Rows of one person are not independent: count people, and draw people, not rows.",
    "Not for identifying people, nor for judging a person's health.",
];

const PRIVACY: [&str; 4] = [
    "Shape coefficients stay personal data: a person can be recognised from them. Keep them as carefully as the scans, and only as long.",
    "The files hold pseudonyms and what the table of people says of everyone; together with a body's shape, sex, age and place may name a person. Leave columns out of the table that a model does not need.",
    "A model that is trained on them may give its people away: compare synthetic bodies with real ones (`formkin sample` says how near they are) before anything is released.",
    "The mean and the modes are made of the training people: to take somebody out of the set, export it again without them.",
];
