//! Splits people, fits the space on the training people alone, and takes the coefficients of everyone in it.

use std::collections::{BTreeMap, BTreeSet};

use formkin_align::AlignParams;
use formkin_cohort::Cohort;
use formkin_geometry::{Point, Subset, vector::distance};
use formkin_measure::Dimensions;
use formkin_shape::mirror::{WithMirrored, mirrored};
use formkin_shape::{Projection, Space, SpaceParams};
use rayon::prelude::*;
use serde::{Deserialize, Serialize};

use super::parts::{MlRow, PartFacts, part_facts};
use super::split::{Part, check_leak, deal, placed};
use crate::TaskError;
use crate::choices::{Which, people_of};
use crate::digest::hash;

/// The largest distance at which a vertex may come back from its coefficients, in mm.
pub const ROUND_TRIP_MM: f64 = 0.01;

/// What is asked for.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub(crate) struct MlJob {
    /// The alignment of the space.
    pub align: AlignParams,
    /// Most modes to keep; none keeps all.
    pub max_modes: Option<usize>,
    /// Which items become rows. The space is fitted on those of the training people.
    pub items: Which,
    /// The share of people for choosing between models.
    pub validation: f64,
    /// The share of people for the last figure.
    pub test: f64,
    /// A column of the table of people; every part gets its share of each of its values.
    pub stratify: Option<String>,
    /// Parts of items that are set from outside, in place of dealing; checked for leaks like any other.
    pub given: Option<BTreeMap<String, Part>>,
    /// Add a mirrored copy of every item, in the part of its person.
    pub mirrored: bool,
    /// Add the frames of sequences of these people as a table of their own.
    pub sequences: bool,
    /// Dimensions to take.
    pub dimensions: Option<Dimensions>,
    /// Seed of the split.
    pub seed: u64,
}

/// Rows, parts and the space.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct MlOutcome {
    /// The space of the training people.
    pub space: Space,
    /// Still bodies, in order of part, then of the cohort.
    pub rows: Vec<MlRow>,
    /// Frames of sequences, likewise.
    pub frames: Vec<MlRow>,
    /// The parts.
    pub parts: Vec<PartFacts>,
    /// The stratum of every person; empty words without a column.
    pub strata: BTreeMap<String, String>,
    /// Mean of each coefficient over the training rows, in mm: 0 but for rounding.
    pub coefficient_means_mm: Vec<f64>,
    /// SD of each coefficient over the training rows, divisor n - 1, in mm.
    pub coefficient_sds_mm: Vec<f64>,
    /// Largest distance of any vertex of any row between decoding in 32-bit floats and in 64-bit, in mm.
    pub storage_error_mm: f64,
    /// Largest distance of any vertex of a training body from its decoded shape, in mm; none where modes were left out.
    pub training_round_trip_mm: Option<f64>,
    /// What a reader must know.
    pub notes: Vec<String>,
}

/// The set, and the dimensions of its rows.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SetOutcome {
    /// Rows, parts and the space.
    pub made: MlOutcome,
    /// A row for each that is no mirrored copy, a value a dimension; none where no dimensions were asked for.
    pub dimensions: Option<Vec<Vec<Option<f64>>>>,
}

/// Shapes described together: the modes are fetched once for all of them.
const TOGETHER: usize = 16;

/// Splits people, fits the space on the training people alone, and takes the coefficients of everyone in it.
///
/// # Errors
/// [`TaskError::Leak`], [`TaskError::SameScan`], [`TaskError::Split`], [`TaskError::RoundTrip`], and what reading, aligning and fitting refuse.
#[expect(
    clippy::too_many_lines,
    reason = "one way from people to their rows: the parts decide the space, and both are needed to the end"
)]
pub(crate) fn ml_set(
    cohort: &Cohort,
    job: &MlJob,
    progress: &(dyn Fn(usize, usize) + Sync),
) -> Result<MlOutcome, TaskError> {
    let items = job.items.of(cohort)?;
    let strata = strata(cohort, &items, job.stratify.as_deref())?;
    let part_of: BTreeMap<usize, Part> = match &job.given {
        None => {
            let dealt = deal(&strata, job.validation, job.test, job.seed)?;
            let part = |i: &usize| (*i, dealt[&cohort.items()[*i].participant]);
            items.iter().map(part).collect()
        }
        Some(given) => placed(cohort, &items, given)?,
    };
    let source = cohort.source();
    let hashes: Vec<String> = items
        .par_iter()
        .map(|&i| Ok(positions_hash(&source.read_shape(i)?)))
        .collect::<Result<_, TaskError>>()?;
    let facts: Vec<(String, String, String, Part)> = items
        .iter()
        .zip(&hashes)
        .map(|(&i, h)| {
            let item = &cohort.items()[i];
            (item.item.clone(), item.participant.clone(), h.clone(), part_of[&i])
        })
        .collect();
    check_leak(&facts)?;

    let train: Vec<usize> = items.iter().copied().filter(|i| part_of[i] == Part::Train).collect();
    let mirror = match (&cohort.template().mirror, job.mirrored) {
        (_, false) => None,
        (Some(pairs), true) => Some(pairs.as_slice()),
        (None, true) => {
            return Err(TaskError::Nothing {
                what: "the template has no mirror pairs, so there are no mirrored copies".into(),
                advice: "leave mirrored copies out, or add `mirror` to the template".into(),
            });
        }
    };
    let space = fit(cohort, job, &train, mirror, progress)?;

    let mut order: Vec<(usize, bool)> = Vec::new();
    for part in Part::ALL {
        for copy in [false, true] {
            if !copy || mirror.is_some() {
                order.extend(items.iter().filter(|i| part_of[*i] == part).map(|&i| (i, copy)));
            }
        }
    }
    let all_modes = space.modes.len() == space.variances_mm2.len();
    let stored: Vec<Vec<[f32; 3]>> =
        space.modes.par_iter().map(|mode| mode.iter().map(|u| u.map(|x| x as f32)).collect()).collect();
    let taken = |order: &[(usize, bool, Part)]| -> Result<Vec<(MlRow, f64, f64)>, TaskError> {
        let mut made = Vec::with_capacity(order.len());
        for some in order.chunks(TOGETHER) {
            let read = |&(i, copy, _): &(usize, bool, Part)| -> Result<Vec<Point>, TaskError> {
                let shape = source.read_shape(i)?;
                Ok(match mirror {
                    Some(pairs) if copy => mirrored(&shape, pairs),
                    _ => shape,
                })
            };
            let shapes: Vec<Vec<Point>> = some.par_iter().map(read).collect::<Result<_, _>>()?;
            let told = space.describe(&shapes)?;
            let decoded = decode(&space.mean, &stored, &told);
            let rows = some.par_iter().zip(&shapes).zip(told).zip(decoded);
            made.par_extend(rows.map(|(((at, shape), told), plain)| row(cohort, *at, shape, told, &plain)));
        }
        Ok(made)
    };
    let made = taken(&order.iter().map(|&(i, copy)| (i, copy, part_of[&i])).collect::<Vec<_>>())?;
    let part_of_person: BTreeMap<&str, Part> =
        part_of.iter().map(|(i, p)| (cohort.items()[*i].participant.as_str(), *p)).collect();
    let frames: Vec<(MlRow, f64, f64)> = if job.sequences {
        let mut order: Vec<(usize, Part)> = cohort
            .captures()
            .iter()
            .filter_map(|c| part_of_person.get(c.participant.as_str()).map(|p| (c, *p)))
            .flat_map(|(c, p)| c.items.iter().map(move |i| (*i, p)).collect::<Vec<_>>())
            .collect();
        order.sort_by_key(|(_, p)| *p);
        taken(&order.iter().map(|&(i, p)| (i, false, p)).collect::<Vec<_>>())?
    } else {
        Vec::new()
    };
    for (r, stored, _) in made.iter().chain(&frames) {
        if *stored > ROUND_TRIP_MM {
            return Err(TaskError::RoundTrip {
                item: r.item.clone(),
                error_mm: *stored,
                limit_mm: ROUND_TRIP_MM,
            });
        }
    }
    let storage_error_mm = made.iter().chain(&frames).map(|m| m.1).fold(0.0, f64::max);
    let training = made.iter().filter(|m| m.0.part == Part::Train).map(|m| m.2).fold(0.0, f64::max);
    let rows: Vec<MlRow> = made.into_iter().map(|m| m.0).collect();
    let frames: Vec<MlRow> = frames.into_iter().map(|m| m.0).collect();
    let (coefficient_means_mm, coefficient_sds_mm) = scalers(&rows, space.modes.len());
    let notes = notes(job, &space, all_modes, &part_of_person, &frames);
    Ok(MlOutcome {
        parts: Part::ALL.iter().map(|&part| part_facts(part, &rows, job.seed)).collect(),
        space,
        rows,
        frames,
        strata,
        coefficient_means_mm,
        coefficient_sds_mm,
        storage_error_mm,
        training_round_trip_mm: all_modes.then_some(training),
        notes,
    })
}

fn fit(
    cohort: &Cohort,
    job: &MlJob,
    train: &[usize],
    mirror: Option<&[u32]>,
    progress: &(dyn Fn(usize, usize) + Sync),
) -> Result<Space, TaskError> {
    let params = SpaceParams {
        align: job.align.clone(),
        max_modes: job.max_modes,
        cross_validate: false,
        seed: job.seed,
        ..SpaceParams::default()
    };
    let topology = cohort.template().mesh.topology();
    let mut people = people_of(cohort, train);
    let subset = Subset::new(cohort.source(), train);
    let fitted = match mirror {
        None => params.fit(&subset, topology, &people, None, progress)?,
        Some(pairs) => {
            people.extend(people.clone());
            params.fit(&WithMirrored::new(&subset, pairs)?, topology, &people, None, progress)?
        }
    };
    Ok(fitted.space)
}

/// What decoding in 32-bit floats gives, a stretch of vertices at a time for all shapes.
fn decode(mean: &[Point], modes: &[Vec<[f32; 3]>], told: &[(Projection, Vec<Point>)]) -> Vec<Vec<[f32; 3]>> {
    const STRETCH: usize = 256;
    let pieces: Vec<Vec<Vec<[f32; 3]>>> = mean
        .par_chunks(STRETCH)
        .enumerate()
        .map(|(stretch, mean)| {
            let from = stretch * STRETCH;
            let piece = |(found, _): &(Projection, Vec<Point>)| {
                let mut out: Vec<[f32; 3]> = mean.iter().map(|p| p.map(|x| x as f32)).collect();
                for (mode, c) in modes.iter().zip(&found.coefficients) {
                    let c = *c as f32;
                    for (x, u) in out.iter_mut().zip(&mode[from..]) {
                        for k in 0..3 {
                            x[k] += c * u[k];
                        }
                    }
                }
                out
            };
            told.iter().map(piece).collect()
        })
        .collect();
    (0..told.len()).map(|s| pieces.iter().flat_map(|p| p[s].iter().copied()).collect()).collect()
}

/// A row, the largest distance between 32-bit and 64-bit decoding, and between the body and its decoded shape.
fn row(
    cohort: &Cohort,
    (index, copy, part): (usize, bool, Part),
    shape: &[Point],
    (found, exact): (Projection, Vec<Point>),
    plain: &[[f32; 3]],
) -> (MlRow, f64, f64) {
    let (mut stored, mut whole) = (0.0f64, 0.0f64);
    for ((p, e), x) in plain.iter().zip(&exact).zip(shape) {
        stored = stored.max(distance(p.map(f64::from), *e));
        whole = whole.max(distance(p.map(f64::from), found.transform.apply(*x)));
    }
    let t = &found.transform;
    let mut pose = [0.0; 13];
    pose[..9].copy_from_slice(t.rotation.as_flattened());
    pose[9..12].copy_from_slice(&t.translation);
    pose[12] = t.scale;
    let item = &cohort.items()[index];
    (
        MlRow {
            index,
            item: if copy { format!("{}~mirrored", item.item) } else { item.item.clone() },
            participant: item.participant.clone(),
            part,
            mirrored: copy,
            residual_rms_mm: found.residual_rms_mm,
            coefficients: found.coefficients,
            pose,
            positions_sha256: positions_hash(shape),
        },
        stored,
        whole,
    )
}

fn positions_hash(shape: &[Point]) -> String {
    let bytes: Vec<u8> = shape.as_flattened().iter().flat_map(|x| (*x as f32).to_le_bytes()).collect();
    hash(&bytes)
}

/// Each person once with the stratum; a person in two strata cannot be placed.
fn strata(
    cohort: &Cohort,
    items: &[usize],
    column: Option<&str>,
) -> Result<BTreeMap<String, String>, TaskError> {
    let mut out: BTreeMap<String, String> = BTreeMap::new();
    for &i in items {
        let item = &cohort.items()[i];
        let stratum = match column {
            None => "",
            Some(c) => item.groups.get(c).map_or("", String::as_str),
        };
        match out.get(&item.participant) {
            Some(other) if other != stratum => {
                return Err(TaskError::Split {
                    reason: format!(
                        "participant {} is `{other}` and `{stratum}` in the column to stratify by; mend the table of people",
                        item.participant
                    ),
                });
            }
            _ => {
                out.insert(item.participant.clone(), stratum.to_owned());
            }
        }
    }
    if let (Some(c), true) = (column, out.values().all(String::is_empty)) {
        let known: BTreeSet<&str> =
            items.iter().flat_map(|&i| cohort.items()[i].groups.keys().map(String::as_str)).collect();
        return Err(TaskError::Setting {
            setting: "stratify",
            value: c.to_owned(),
            known: known.into_iter().collect::<Vec<_>>().join(", "),
        });
    }
    Ok(out)
}

fn scalers(rows: &[MlRow], modes: usize) -> (Vec<f64>, Vec<f64>) {
    let train: Vec<&MlRow> = rows.iter().filter(|r| r.part == Part::Train).collect();
    let n = train.len() as f64;
    (0..modes)
        .map(|k| {
            let mean = train.iter().map(|r| r.coefficients[k]).sum::<f64>() / n;
            let squares: f64 = train.iter().map(|r| (r.coefficients[k] - mean).powi(2)).sum();
            (mean, (squares / (n - 1.0)).sqrt())
        })
        .unzip()
}

fn notes(
    job: &MlJob,
    space: &Space,
    all_modes: bool,
    people: &BTreeMap<&str, Part>,
    frames: &[MlRow],
) -> Vec<String> {
    let mut notes = Vec::new();
    if !all_modes {
        notes.push(format!(
            "{} of {} modes are kept: bodies do not come back whole, the residuals say by how much.",
            space.modes.len(),
            space.variances_mm2.len()
        ));
    }
    let held: usize = people.values().filter(|p| **p != Part::Train).count();
    if held < 20 {
        notes.push(format!("{held} people are held out: a figure from so few is rough."));
    }
    if job.given.is_some() {
        for part in [Part::Validation, Part::Test] {
            if !people.values().any(|p| *p == part) {
                notes.push(format!("Nobody was given to `{}`: it is empty.", part.name()));
            }
        }
        notes.push("The parts were given from outside; they were checked for people on two sides.".into());
    }
    if !frames.is_empty() {
        let mean = frames.iter().map(|r| r.residual_rms_mm.powi(2)).sum::<f64>() / frames.len() as f64;
        notes.push(format!(
            "Frames of movements are other poses than the space was fitted on: its modes leave {:.1} mm RMS of them. Where that is too much, fit a space of frames (`--items all`).",
            mean.sqrt()
        ));
    }
    if job.mirrored && job.dimensions.is_some() {
        notes.push("Dimensions are of bodies as captured: mirrored copies have none in `dimensions.parquet`, and a join on `item` leaves them blank.".into());
    }
    notes
}
