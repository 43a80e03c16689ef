//! The object for programs, the meshes, the coefficients, the dimensions.

use formkin_cohort::{MeshWriting, ply_bytes};
use formkin_shape::Space;
use formkin_table::NumberFormat::Shortest;
use formkin_table::Sheet;
use serde_json::{Value, json};

use super::{SampleInputs, SampleOutcome, SampleSettings, body_name};
use crate::Delivery;
use crate::bodies::{topology, up, upright};

pub(super) fn object(settings: &SampleSettings, inputs: &SampleInputs, found: &SampleOutcome) -> Value {
    json!({
        "bodies": found.samples.coefficients.len(),
        "people": found.report.people,
        "tries": found.samples.tries,
        "refused": found.samples.refused,
        "modes": found.modes,
        "settings": found.samples.params,
        "by": settings.by,
        "group": settings.group,
        "density": found.density,
        "report": found.report,
        "closest": found.closest,
        "dimensions": found.marginals,
        "correlations": found.correlations,
        "crossings": found.crossings,
        "target": found.target,
        "pool": inputs.target.as_ref().map(|_| settings.pool()),
        "limits": inputs.limits,
        "notes": found.notes,
    })
}

/// A mesh a body where they are asked for, the coefficients, and the dimensions where they were taken.
pub(super) fn files<'a>(
    settings: &SampleSettings,
    space: &'a Space,
    found: &'a SampleOutcome,
) -> Delivery<'a> {
    let mut delivery = Delivery::new();
    if settings.meshes {
        for (i, c) in found.samples.coefficients.iter().enumerate() {
            delivery = delivery.made(format!("{}.ply", body_name(i)), "A drawn body", move || {
                Ok(ply_bytes(&topology(space)?, &upright(space, c, up(space)), &MeshWriting::default())?)
            });
        }
    }
    delivery = delivery.sheet("samples.csv", "The coefficients of the drawn bodies", coefficients(found));
    match &found.table {
        Some(table) => delivery.sheet("dimensions.csv", "Dimensions of the drawn bodies", table.into()),
        None => delivery,
    }
}

fn coefficients(found: &SampleOutcome) -> Sheet {
    let bodies = &found.samples.coefficients;
    let mut sheet = Sheet::new().text("body", "The body", (0..bodies.len()).map(body_name)).text(
        "from",
        "The group or component that it was drawn from",
        found.origins.iter().cloned(),
    );
    for k in 0..found.modes {
        let name = format!("mode_{:03}", k + 1);
        let column = bodies.iter().map(|c| c[k]);
        sheet = sheet.number(&name, Some("mm"), "Coefficient of a mode", Shortest, column);
    }
    sheet
}
