//! The object for programs, the completed body or cohort, the tables.

use std::path::Path;

use formkin_cohort::{revise, vertex_ranges, write_whole};
use formkin_geometry::Point;
use formkin_shape::Space;
use formkin_stats::interval::normal_quantile;
use formkin_table::NumberFormat::Fixed;
use formkin_table::Sheet;
use serde_json::{Value, json};

use super::fill::FillOutcome;
use super::part::CompletedBody;
use super::run::Of;
use super::{CompleteInputs, CompleteOutcome, CompleteSettings, CompleteSources};
use crate::bodies::{check_mesh_name, intervals, mesh_bytes, with_intervals};
use crate::{Delivery, Problems};

/// What goes to `--into`: the body, or the cohort without holes.
pub(super) const BODY: &str = "body.ply";
/// The delivered table of intervals.
pub(super) const INTERVALS: &str = "intervals.csv";
/// The table of what was filled, within the cohort without holes.
const FILLED: &str = "filled.csv";

pub(super) fn object(settings: &CompleteSettings, inputs: &CompleteInputs, made: &CompleteOutcome) -> Value {
    match made {
        CompleteOutcome::Body(found) => {
            let keep = matches!(inputs.of, Of::Shape { keep_seen: true, .. });
            body(&inputs.space, found, keep)
        }
        CompleteOutcome::Filled(found) => json!({
            "people": found.people,
            "items": found.accepted,
            "quarantined": found.quarantined,
            "filled": found.items.len() - found.refused(),
            "refused": found.refused(),
            "holes": found.items,
            "calibrations": found.calibrations,
            "notes": found.notes,
        }),
        CompleteOutcome::HeldOut(calibration) => {
            json!({ "hidden": settings.label(), "calibration": calibration })
        }
    }
}

fn body(space: &Space, found: &CompletedBody, keep_seen: bool) -> Value {
    let done = &found.completed;
    json!({
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
        "calibration": found.calibration,
        "coefficients_mm": done.coefficients_mm,
        "transform": done.transform,
        "rounds": done.rounds,
        "mahalanobis": done.mahalanobis,
        "mahalanobis_limit_99": done.limit,
        "outside_99": done.outside,
        "keep_seen": keep_seen,
        "notes": found.notes,
    })
}

/// The body or the cohort, and the intervals of its vertices; nothing of people held out.
pub(super) fn files<'a>(inputs: &'a CompleteInputs, made: &'a CompleteOutcome) -> Delivery<'a> {
    match (made, &inputs.of) {
        (CompleteOutcome::Body(found), _) => {
            let done = &found.completed;
            Delivery::new()
                .named(BODY, "The completed body", |name| mesh_bytes(name, &inputs.space, &done.positions))
                .sheet(
                    INTERVALS,
                    "Intervals of the vertices",
                    intervals(&done.positions, &done.sd_mm, done.z_95),
                )
        }
        (CompleteOutcome::Filled(found), Of::Cohort { cohort, .. }) => Delivery::new()
            .folder(BODY, "The cohort without holes", move |into, force| {
                let table = filled(found).to_csv()?;
                revise(cohort, into, &found.positions, force)?;
                let path = into.join(FILLED);
                write_whole(&path, &table, true)?;
                Ok(vec![into.to_owned(), path])
            })
            .sheet(INTERVALS, "Intervals of the filled vertices", filled_vertices(found)),
        _ => Delivery::new(),
    }
}

/// What was filled: one row an item.
fn filled(made: &FillOutcome) -> Sheet {
    let items = &made.items;
    let yes = |yes: bool| if yes { "yes" } else { "no" };
    Sheet::new()
        .text("item", "The item", items.iter().map(|i| i.item.clone()))
        .text("filled", "Whether it was filled", items.iter().map(|i| yes(i.refused.is_none())))
        .whole("missing", None, "Vertices that were missing", items.iter().map(|i| i.missing.len()))
        .optional_number(
            "half_width_95",
            Some("mm"),
            "Half the width of the 95 % intervals of filled coordinates, root mean square",
            Fixed(4),
            items.iter().map(|i| i.half_width_95_mm),
        )
        .optional_number(
            "residual_rms",
            Some("mm"),
            "Distance of the seen vertices from the completed body, root mean square",
            Fixed(4),
            items.iter().map(|i| i.residual_rms_mm),
        )
        .optional_number(
            "mahalanobis",
            None,
            "Distance of the completed body from the mean, in SDs",
            Fixed(4),
            items.iter().map(|i| i.mahalanobis),
        )
        .text(
            "outside_99",
            "Whether 99 % of people are nearer to the mean",
            items.iter().map(|i| yes(i.outside)),
        )
        .number(
            "interval_factor",
            None,
            "What SDs were multiplied by; 1 where nothing was calibrated",
            Fixed(4),
            items.iter().map(|i| i.factor),
        )
        .text("refused", "Why it was not filled", items.iter().map(|i| i.refused.clone().unwrap_or_default()))
        .text("vertices", "The vertices that were missing", items.iter().map(|i| vertex_ranges(&i.missing)))
}

/// One row a filled vertex: position and half-widths of 95 % intervals.
fn filled_vertices(made: &FillOutcome) -> Sheet {
    let z = normal_quantile(0.95);
    let (mut names, mut vertices): (Vec<&str>, Vec<usize>) = Default::default();
    let (mut positions, mut widths): (Vec<Point>, Vec<Point>) = Default::default();
    for item in &made.items {
        let Some(own) = made.positions.get(&item.item) else { continue };
        for (v, sd) in item.missing.iter().zip(&item.sd_mm) {
            names.push(&item.item);
            vertices.push(*v as usize);
            positions.push(own[*v as usize]);
            widths.push(sd.map(|s| z * s));
        }
    }
    let sheet = Sheet::new().text("item", "The item", names).whole(
        "vertex",
        None,
        "Number of the vertex, from 0",
        vertices,
    );
    with_intervals(sheet, positions, widths)
}

/// Whether anything must be looked at.
pub(super) fn finds(made: &CompleteOutcome) -> bool {
    match made {
        CompleteOutcome::Body(found) => found.completed.outside,
        CompleteOutcome::Filled(found) => found.refused() > 0 || found.items.iter().any(|i| i.outside),
        CompleteOutcome::HeldOut(_) => false,
    }
}

/// What is wrong with where the command writes.
pub(super) fn check_targets(sources: &CompleteSources, into: Option<&Path>, problems: &mut Problems) {
    match (&sources.cohort, into) {
        (Some(_), None) => problems.wrong(
            "into",
            "the cohort without holes has no name",
            "name the cohort to write: --into NEW.cohort",
        ),
        (Some(cohort), Some(into)) => {
            let there = std::fs::canonicalize(into).ok();
            if there.is_some() && there == std::fs::canonicalize(cohort).ok() {
                problems.wrong(
                    "into",
                    format!("{} is the cohort that is filled", into.display()),
                    "its measured points are kept: name another cohort to write",
                );
            }
        }
        (None, Some(into)) => check_mesh_name("into", into, problems),
        (None, None) => {}
    }
}
