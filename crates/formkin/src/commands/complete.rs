//! `formkin complete`: the body that goes with a part of a surface.

use std::collections::BTreeMap;
use std::path::Path;

use anyhow::{Context, bail};
use formkin_cohort::{revise, vertex_ranges};
use formkin_geometry::{Point, Topology};
use formkin_shape::complete::{Calibration, CalibrationParams, calibrate};
use formkin_shape::{CompleteParams, Space};
use formkin_tasks::choose::{Items, people_of};
use formkin_tasks::job::complete::{
    CompleteJob, complete_shape, seen_of_landmarks, seen_of_mesh, seen_of_regions,
};
use formkin_tasks::job::fill::{fill_holes, filled_csv, filled_vertices_csv, holes_of_table};
use formkin_tasks::job::measuring::Measuring;
use formkin_tasks::reading::read_table;
use serde_json::json;

use super::body;
use crate::args::CompleteArgs;
use crate::output::{Exit, Output};
use crate::progress::Bars;
use crate::resolve::{free, open_cohort, open_space, read_shape, write};

pub(crate) fn run(args: &CompleteArgs, output: &Output) -> anyhow::Result<Exit> {
    free(args.into.iter().chain(&args.intervals).map(AsRef::as_ref), args.force)?;
    let space = open_space(&args.space)?;
    let params =
        CompleteParams { modes: args.modes, noise_mm: args.noise_mm, error_mm: args.error_mm, white: false };
    if let Some(cohort) = &args.cohort {
        return fill(args, &space, cohort, &params, output);
    }
    let seen = seen(args, &space)?;
    let calibration = args.calibrate.as_deref().map(|path| calibration(path, &space, &seen, &params));
    let job = CompleteJob { params, keep_seen: args.keep_seen, calibration: calibration.transpose()? };
    let found = complete_shape(&space, &seen, &job)?;
    let done = &found.completed;
    let mut outputs = Vec::new();
    if let Some(path) = &args.into {
        write(path, &body::mesh_bytes(path, &space, &done.positions)?, args.force)?;
        outputs.push(path);
    }
    if let Some(path) = &args.intervals {
        let text = body::intervals_csv(&done.positions, &done.sd_mm, done.z_95)?;
        write(path, text.as_bytes(), args.force)?;
        outputs.push(path);
    }
    let object = json!({
        "vertices": done.positions.len(),
        "people": space.people,
        "seen": done.seen,
        "missing": found.missing.len(),
        "independent_observations": done.independent,
        "residual_rms_mm": done.residual_rms_mm,
        "noise_mm": done.noise_mm,
        "error_mm": done.error_mm,
        "missing_half_width_95_mm": found.half_width_95_mm,
        "missing_vertices": vertex_ranges(&found.missing),
        "calibration": job.calibration,
        "coefficients_mm": done.coefficients_mm,
        "transform": done.transform,
        "rounds": done.rounds,
        "mahalanobis": done.mahalanobis,
        "mahalanobis_limit_99": done.limit,
        "outside_99": done.outside,
        "keep_seen": job.keep_seen,
        "notes": found.notes,
        "outputs": outputs,
    });
    let mut lines = vec![
        format!(
            "{} vertices seen, {} completed, with {} modes of {} people; the seen ones lie {:.2} mm (RMS) from the completed body",
            done.seen,
            found.missing.len(),
            done.coefficients_mm.len(),
            space.people,
            done.residual_rms_mm
        ),
        format!("{:.2} SD from the mean (99 % of people are within {:.2})", done.mahalanobis, done.limit),
    ];
    lines.extend(
        found
            .half_width_95_mm
            .map(|h| format!("completed vertices: within +- {h:.1} mm a coordinate (95 %, RMS)")),
    );
    lines.extend(found.notes.iter().map(|n| format!("note: {n}")));
    lines.extend(outputs.iter().map(|p| format!("written: {}", p.display())));
    output.result(&object, lines.join("\n"))?;
    Ok(if done.outside { Exit::Findings } else { Exit::Done })
}

/// How completions from these vertices fare on the people of a cohort, held out.
fn calibration(
    path: &Path,
    space: &Space,
    seen: &[(u32, Point)],
    params: &CompleteParams,
) -> anyhow::Result<Calibration> {
    let cohort = open_cohort(path)?;
    if cohort.info().template_hash != space.template_hash {
        bail!("{} has other triangles than the space", path.display());
    }
    let items = Items::Stills.of(&cohort)?;
    let people = people_of(&cohort, &items);
    let vertices: Vec<u32> = seen.iter().map(|(v, _)| *v).collect();
    let settings = CalibrationParams { seed: space.seed, ..CalibrationParams::default() };
    Ok(calibrate(&cohort.select(items), &people, space, &vertices, params, &settings)?)
}

/// Fills the holes of a whole cohort.
fn fill(
    args: &CompleteArgs,
    space: &Space,
    path: &Path,
    params: &CompleteParams,
    output: &Output,
) -> anyhow::Result<Exit> {
    let Some(into) = &args.into else { bail!("name the cohort to write: --into NEW.cohort") };
    if std::fs::canonicalize(into).is_ok_and(|i| std::fs::canonicalize(path).is_ok_and(|c| c == i)) {
        bail!(
            "{} is the cohort that is filled: its measured points are kept; name another with --into",
            into.display()
        );
    }
    let cohort = open_cohort(path)?;
    let holes = match &args.holes {
        Some(table) => {
            holes_of_table(&read_table(table)?, &cohort).with_context(|| table.display().to_string())?
        }
        None => BTreeMap::new(),
    };
    let bars = Bars::new(output);
    let found = fill_holes(space, &cohort, &holes, params, &|done, of| bars.tick("fill", done, of));
    bars.clear();
    let found = found?;
    let info = revise(&cohort, into, &found.positions, args.force)?;
    let mut outputs = vec![into.clone(), into.join("filled.csv")];
    write(&outputs[1], filled_csv(&found).as_bytes(), true)?;
    if let Some(path) = &args.intervals {
        write(path, filled_vertices_csv(&found).as_bytes(), args.force)?;
        outputs.push(path.clone());
    }
    let refused = found.items.iter().filter(|i| i.refused.is_some()).count();
    let object = json!({
        "people": info.people,
        "items": info.items,
        "quarantined": info.quarantined,
        "filled": found.items.len() - refused,
        "refused": refused,
        "holes": found.items,
        "calibrations": found.calibrations,
        "notes": found.notes,
        "outputs": outputs,
    });
    let mut lines = vec![format!("{} items filled, {refused} refused", found.items.len() - refused)];
    for c in &found.calibrations {
        let k = &c.calibration;
        lines.push(format!(
            "{} missing vertices ({} items): on {} people left out they come back within {:.1} mm RMS (the mean body: {:.1}); intervals of 95 % held {:.1} %, and are multiplied by {:.2}",
            c.missing, c.items, k.people, k.rms_mm, k.mean_rms_mm, 100.0 * k.coverage_95, k.factor
        ));
    }
    for i in &found.items {
        if let Some(reason) = &i.refused {
            lines.push(format!("refused: {}: {reason}", i.item));
        }
    }
    lines.extend(found.notes.iter().map(|n| format!("note: {n}")));
    lines.extend(outputs.iter().map(|p| format!("written: {}", p.display())));
    output.result(&object, lines.join("\n"))?;
    let findings = refused > 0 || found.items.iter().any(|i| i.outside);
    Ok(if findings { Exit::Findings } else { Exit::Done })
}

fn seen(args: &CompleteArgs, space: &Space) -> anyhow::Result<Vec<(u32, Point)>> {
    let template = Measuring::read(space)?.map(|(_, template)| template);
    if let Some(path) = &args.landmarks {
        return seen_of_landmarks(&read_table(path)?, template.as_ref())
            .with_context(|| path.display().to_string());
    }
    let Some(path) = &args.mesh else {
        bail!("name a mesh of which a part is missing, or --landmarks");
    };
    let topology = Topology::new(space.mean.len(), space.triangles.clone())?;
    let positions = read_shape(path, &topology, args.frame)?;
    if !args.only.is_empty() {
        return Ok(seen_of_regions(&positions, template.as_ref(), &args.only)?);
    }
    let vertices = args.missing_vertices.as_deref().map(read_numbers).transpose()?.unwrap_or_default();
    if args.missing.is_empty() && vertices.is_empty() {
        bail!("say what is missing: --missing REGION, --missing-vertices FILE, or --only REGION");
    }
    Ok(seen_of_mesh(&positions, template.as_ref(), &args.missing, &vertices)?)
}

/// Numbers of vertices, between blanks, commas or line ends.
fn read_numbers(path: &Path) -> anyhow::Result<Vec<u32>> {
    let text = std::fs::read_to_string(path).with_context(|| format!("{} cannot be read", path.display()))?;
    text.split(|c: char| c.is_whitespace() || c == ',')
        .filter(|w| !w.is_empty())
        .map(|w| {
            w.parse().ok().with_context(|| {
                format!(
                    "{}: `{}` is no number of a vertex",
                    path.display(),
                    w.chars().take(40).collect::<String>()
                )
            })
        })
        .collect::<anyhow::Result<Vec<u32>>>()
        .and_then(|found| {
            anyhow::ensure!(
                !found.is_empty(),
                "{} holds no numbers of vertices; name those that are missing",
                path.display()
            );
            Ok(found)
        })
}
