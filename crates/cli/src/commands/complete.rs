//! `formkin complete`: the body that goes with a part of a surface.

use std::path::Path;

use anyhow::{Context, bail};
use formkin_geometry::{Point, Topology};
use formkin_shape::{CompleteParams, Space};
use formkin_study::job::complete::{
    CompleteJob, complete_shape, seen_of_landmarks, seen_of_mesh, seen_of_regions,
};
use formkin_study::job::measuring::Measuring;
use formkin_study::run::read_table;
use serde_json::json;

use super::body;
use crate::args::CompleteArgs;
use crate::output::{Exit, Output};
use crate::resolve::{free, open_space, read_shape, write};

pub(crate) fn run(args: &CompleteArgs, output: &Output) -> anyhow::Result<Exit> {
    free(args.into.iter().chain(&args.intervals).map(AsRef::as_ref), args.force)?;
    let space = open_space(&args.space)?;
    let seen = seen(args, &space)?;
    let job = CompleteJob {
        params: CompleteParams { modes: args.modes, noise_mm: args.noise_mm, white: false },
        keep_seen: args.keep_seen,
    };
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
        "missing_half_width_95_mm": found.half_width_95_mm,
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
            "{} vertices seen, {} completed, with {} modes; the seen ones lie {:.2} mm (RMS) from the completed body",
            done.seen,
            found.missing.len(),
            done.coefficients_mm.len(),
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

fn seen(args: &CompleteArgs, space: &Space) -> anyhow::Result<Vec<(u32, Point)>> {
    let template = Measuring::read(space)?.map(|(_, template)| template);
    if let Some(path) = &args.landmarks {
        return Ok(seen_of_landmarks(&read_table(path)?, template.as_ref())?);
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
        .map(|w| w.parse().with_context(|| format!("{}: `{w}` is no number of a vertex", path.display())))
        .collect()
}
