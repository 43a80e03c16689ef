//! The demo's files: template, scans, movements, tables, the study.

use std::path::Path;
use std::sync::atomic::{AtomicUsize, Ordering};

use formkin_cohort::{MeshWriting, NpyWriter, save_template_over, write_ply, write_whole};
use formkin_geometry::areas::volume;
use formkin_geometry::{Mesh, Point};
use formkin_stats::random::stream;
use formkin_table::{NumberFormat, Sheet};
use rand::Rng;
use rand_distr::{Distribution, StandardNormal};
use rayon::prelude::*;

use crate::movement::clip::Movement;
use crate::people::factors::{FACTOR_NAMES, Latents};
use crate::people::figures::{NAMES, Sex};
use crate::plan::size_plan;
use crate::{DemoError, DemoParams, DemoReport, DemoTemplate, template};

/// Invented harbours.
const STATIONS: [&str; 8] = [
    "Gannet Haven",
    "Saltmarsh Quay",
    "Port Ebbing",
    "Candle Rock",
    "Low Skerry",
    "Whinstone Bay",
    "Marram Point",
    "Tern Harbour",
];

/// People made and written at once: bounds the memory.
const CHUNK: usize = 16;

/// What is kept of a person after the scan is written.
struct Row {
    id: String,
    latents: Latents,
    station: &'static str,
    litres: f64,
    stature_mm: f64,
    stature_reported_mm: f64,
}

/// Makes the demo in a folder: `study.toml`, and in `input/` the template with its mesh, `scans/`, `movements/`, `participants.csv`, the
/// ground truth (`truth.csv`, `truth-movements.json`), `dimensions.toml` and `size-plan.toml`. With `force` the scans and movements of an
/// earlier demo there are taken away first. `progress` is told how many of how many shapes are written.
///
/// # Errors
/// [`DemoError::Parameter`], [`DemoError::Template`], [`DemoError::Cohort`] where a file exists already or cannot be
/// written, [`DemoError::Write`] where a folder cannot be made.
pub fn generate(
    into: &Path,
    params: &DemoParams,
    progress: &(dyn Fn(usize, usize) + Sync),
) -> Result<DemoReport, DemoError> {
    params.check()?;
    let input = into.join("input");
    let (scans, movements) = (input.join("scans"), input.join("movements"));
    clear(&input, [&scans, &movements], params.force)?;
    let demo = template(params.vertices, params.seed)?;
    for folder in [&input, &scans, &movements] {
        std::fs::create_dir_all(folder)
            .map_err(|e| DemoError::Write { path: folder.to_owned(), reason: e.to_string() })?;
    }
    let mut outputs = vec![save_template_over(demo.template(), &input, params.force)?];
    let sequences = cast(params);
    let total = params.participants + params.repeats + sequences.len() * params.frames;
    let done = AtomicUsize::new(0);
    let step = |n: usize| progress(done.fetch_add(n, Ordering::Relaxed) + n, total);
    let mut rows = Vec::with_capacity(params.participants);
    for first in (0..params.participants).step_by(CHUNK) {
        let last = (first + CHUNK).min(params.participants);
        let chunk: Result<Vec<Row>, DemoError> = (first..last)
            .into_par_iter()
            .map(|i| {
                let row = person(&demo, i, &scans, params)?;
                step(1 + usize::from(i < params.repeats));
                Ok(row)
            })
            .collect();
        rows.extend(chunk?);
    }
    let truths: Result<Vec<String>, DemoError> = sequences
        .par_iter()
        .map(|&(i, movement)| film(&demo, i, movement, &movements, params, &step))
        .collect();
    let truths = truths?;
    let mut write = |folder: &Path, name: &str, text: &str| -> Result<(), DemoError> {
        let path = folder.join(name);
        write_whole(&path, text.as_bytes(), params.force)?;
        outputs.push(path);
        Ok(())
    };
    write(&input, "participants.csv", &participants(&rows).csv_text()?)?;
    write(&input, "truth.csv", &truth(&rows).csv_text()?)?;
    write(&input, "truth-movements.json", &format!("[\n{}\n]\n", truths.join(",\n")))?;
    write(&input, "dimensions.toml", include_str!("../dimensions.toml"))?;
    let women = rows.iter().filter(|r| r.latents.sex == Sex::Female).count();
    write(&input, "size-plan.toml", &size_plan(women, rows.len() - women))?;
    write(into, "study.toml", &study(params.seed))?;
    let mesh = &demo.template().mesh;
    Ok(DemoReport {
        folder: into.to_owned(),
        participants: params.participants,
        scans: params.participants + params.repeats,
        vertices: mesh.positions().len(),
        triangles: mesh.topology().triangles().len(),
        sequences: sequences.len(),
        frames: sequences.len() * params.frames,
        seed: params.seed,
        outputs,
    })
}

/// The study of the demo, with the seed of its people.
fn study(seed: u64) -> String {
    include_str!("../study.toml").replace("seed = 20", &format!("seed = {seed}"))
}

/// Refuses an earlier demo in the folder, or, with `force`, takes its scans and movements away: those of people that the new demo does not
/// have would stay among the new ones.
fn clear(input: &Path, folders: [&Path; 2], force: bool) -> Result<(), DemoError> {
    let truth = input.join("truth.csv");
    if !truth.exists() {
        return Ok(());
    }
    if !force {
        return Err(formkin_cohort::CohortError::AlreadyExists { path: truth }.into());
    }
    for folder in folders.into_iter().filter(|f| f.is_dir()) {
        std::fs::remove_dir_all(folder)
            .map_err(|e| DemoError::Write { path: folder.to_owned(), reason: e.to_string() })?;
    }
    Ok(())
}

fn name(participant: usize, of: usize) -> String {
    let width = of.to_string().len().max(3);
    format!("C{:0width$}", participant + 1)
}

/// Makes, scans and writes one person.
fn person(demo: &DemoTemplate, i: usize, scans: &Path, params: &DemoParams) -> Result<Row, DemoError> {
    let latents = demo.draw(i);
    let body = demo.person(&latents);
    let id = name(i, params.participants);
    let topology = demo.template().mesh.topology();
    for session in 1..=1 + usize::from(i < params.repeats) {
        let scan = demo.scan(&body, &latents, (i, session), params.stance, params.noise_mm);
        let mesh = Mesh::new(std::sync::Arc::clone(topology), scan)?;
        let path = scans.join(format!("{id}_{session}.ply"));
        write_ply(&path, &mesh, &MeshWriting { force: params.force, ..Default::default() })?;
    }
    let mut rng = stream(params.seed, &format!("answers {i}"));
    let stature_mm = height(&body);
    // people say themselves about 1 cm taller, in whole centimetres (common finding, no source)
    let said: f64 = StandardNormal.sample(&mut rng);
    let stature_reported_mm = ((stature_mm + 9.0 + 11.0 * said) / 10.0).round() * 10.0;
    let station = STATIONS[rng.gen_range(0..STATIONS.len())];
    Ok(Row { id, latents, station, litres: volume(topology, &body) / 1e6, stature_mm, stature_reported_mm })
}

fn height(body: &[Point]) -> f64 {
    let (low, high) =
        body.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), p| (l.min(p[2]), h.max(p[2])));
    high - low
}

/// Who does which movement: the movements in turn, each by another person, beginning after those with a repeated scan. No person
/// does a movement twice.
fn cast(params: &DemoParams) -> Vec<(usize, Movement)> {
    let n = params.participants;
    (0..params.sequences.min(n * Movement::ALL.len()))
        .map(|k| ((params.repeats + k) % n, Movement::ALL[(k % n + k / n) % Movement::ALL.len()]))
        .collect()
}

/// Writes one sequence; gives its ground truth as a JSON object.
fn film(
    demo: &DemoTemplate,
    i: usize,
    movement: Movement,
    folder: &Path,
    params: &DemoParams,
    step: &(dyn Fn(usize) + Sync),
) -> Result<String, DemoError> {
    let latents = demo.draw(i);
    let body = demo.person(&latents);
    let id = name(i, params.participants);
    let stem = format!("{id}_{}", movement.name());
    let mut file = NpyWriter::create(&folder.join(format!("{stem}.npy")), body.len(), params.force)?;
    let frames = demo.frames(&body, &latents, movement, params.frames_per_second);
    let mut count = 0;
    for (k, mut frame) in frames.take(params.frames).enumerate() {
        count = k + 1;
        demo.film_noise(&mut frame, (i, movement, k), 0.3 * params.noise_mm);
        file.push(&frame)?;
        step(1);
    }
    file.finish()?;
    let stamps = (0..count).map(|k| k as f64 / params.frames_per_second);
    let times = Sheet::new().whole("frame", None, "The frame, from 0", 0..count).number(
        "time",
        Some("s"),
        "Time stamp",
        NumberFormat::Fixed(6),
        stamps,
    );
    write_whole(&folder.join(format!("{stem}.times.csv")), &times.to_csv()?, params.force)?;
    let springs: Vec<String> = demo
        .springs(&latents)
        .iter()
        .map(|s| {
            format!(
                "{{\"region\": \"{}\", \"frequency_hz\": {}, \"damping_ratio\": {}, \"gain\": {:.4}}}",
                s.region, s.frequency_hz, s.damping, s.gain
            )
        })
        .collect();
    let cycles = params.frames as f64 / params.frames_per_second / movement.period_s();
    Ok(format!(
        "  {{\"participant\": \"{id}\", \"capture\": \"{stem}\", \"movement\": \"{}\", \"frames\": {}, \
         \"frames_per_second\": {}, \"cycle_s\": {}, \"cycle_hz\": {:.6}, \"cycles\": {cycles:.3}, \"soft_tissue\": [{}]}}",
        movement.name(),
        params.frames,
        params.frames_per_second,
        movement.period_s(),
        1.0 / movement.period_s(),
        springs.join(", ")
    ))
}

fn participants(rows: &[Row]) -> Sheet {
    let mass = |r: &Row| r.litres * r.latents.density_kg_per_l;
    Sheet::new()
        .text("participant", "The person", rows.iter().map(|r| r.id.as_str()))
        .text("sex", "Their sex", rows.iter().map(|r| r.latents.sex.name()))
        .number(
            "age",
            Some("years"),
            "Their age in full years",
            NumberFormat::Fixed(0),
            rows.iter().map(|r| r.latents.age_years.floor()),
        )
        .text("station", "Their harbour", rows.iter().map(|r| r.station))
        .number("mass", Some("kg"), "Their mass", NumberFormat::Fixed(1), rows.iter().map(mass))
        .number(
            "stature_reported",
            Some("mm"),
            "The stature that they say they have",
            NumberFormat::Fixed(0),
            rows.iter().map(|r| r.stature_reported_mm),
        )
}

fn truth(rows: &[Row]) -> Sheet {
    let mut sheet = Sheet::new()
        .text("participant", "The person", rows.iter().map(|r| r.id.as_str()))
        .text("sex", "Their sex", rows.iter().map(|r| r.latents.sex.name()))
        .number(
            "age",
            Some("years"),
            "Their age",
            NumberFormat::Fixed(2),
            rows.iter().map(|r| r.latents.age_years),
        );
    for (k, (factor, meaning)) in FACTOR_NAMES.into_iter().enumerate() {
        let drawn = rows.iter().map(|r| r.latents.factors[k]);
        sheet = sheet.number(&format!("factor_{factor}"), None, meaning, NumberFormat::Fixed(6), drawn);
    }
    sheet = sheet
        .number(
            "density_kg_per_l",
            None,
            "Density of the body",
            NumberFormat::Fixed(5),
            rows.iter().map(|r| r.latents.density_kg_per_l),
        )
        .number(
            "volume",
            Some("l"),
            "Volume of the body",
            NumberFormat::Fixed(4),
            rows.iter().map(|r| r.litres),
        )
        .number(
            "stature",
            Some("mm"),
            "Stature of the body",
            NumberFormat::Fixed(2),
            rows.iter().map(|r| r.stature_mm),
        );
    let aimed = |name: &str| rows.first().and_then(|r| r.latents.aimed_at(name)).is_some();
    for name in NAMES.into_iter().filter(|n| *n != "stature" && aimed(n)) {
        let values = rows.iter().map(|r| r.latents.aimed_at(name));
        let meaning = format!("{name} that was aimed at");
        sheet = sheet.optional_number(name, Some("mm"), &meaning, NumberFormat::Fixed(2), values);
    }
    sheet
}
