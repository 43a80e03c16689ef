//! The figures of all movements together, for programs.

use serde_json::{Value, json};

use super::run::{MovementsInputs, MovementsOutcome};
use crate::signals::object::components_object;

pub(super) fn object(inputs: &MovementsInputs, made: &MovementsOutcome) -> Value {
    let shared = made.shared.as_ref().map(|s| {
        let courses: Vec<Value> = s
            .courses
            .iter()
            .map(|c| {
                json!({ "capture": c.capture, "participant": c.participant, "frames": c.frames.len(), "rms_mm": c.rms_mm, "explained": c.explained })
            })
            .collect();
        json!({
            "people": s.people, "captures": s.captures, "frames": s.frames, "variances_mm2": s.variances_mm2,
            "total_variance_mm2": s.total_variance_mm2, "left_out": s.left_out, "courses": courses,
        })
    });
    json!({
        "captures": inputs.motions.len(),
        "sequences_left_out": inputs.left_out,
        "changes": made.changes,
        "allowances": made.allowances,
        "comparisons": made.conditions.as_ref().map(|c| &c.comparisons),
        "components": components_object(&made.components),
        "shared": shared,
    })
}
