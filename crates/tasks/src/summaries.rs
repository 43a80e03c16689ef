//! The figures of results for programs. Keys are snake case with the unit as suffix, and the same in every output.

use formkin_sizing::SizeSystem;
use serde_json::{Value, json};

use crate::job::deep_files::deep_summary;
use crate::job::mannequin::Mannequins;
use crate::job::movement::MovementOutcome;

/// The figures of mannequins for programs: how near each is to its targets, not the bodies.
#[must_use]
pub fn mannequin_summary(mannequins: &Mannequins) -> Value {
    let of = |m: &crate::job::mannequin::Mannequin| {
        json!({
            "size": m.size,
            "group": m.group,
            "rounds": m.rounds,
            "largest_miss_mm": m.largest_miss_mm,
            "on_target": m.on_target,
            "mahalanobis": m.mahalanobis,
            "outside_99": m.outside,
            "dimensions": m.dimensions,
        })
    };
    json!({ "bodies": mannequins.bodies.iter().map(of).collect::<Vec<_>>(), "notes": mannequins.notes })
}

/// The figures of a size system for programs: held-out coverage first.
#[must_use]
pub fn size_summary(system: &SizeSystem) -> Value {
    json!({
        "coverage_held_out": system.coverage_held_out,
        "coverage_held_out_interval": system.held_out_interval,
        "coverage_in_sample": system.coverage_in_sample,
        "coverage_in_sample_interval": system.coverage_in_sample_interval,
        "interval_level": system.interval_level,
        "given": system.given,
        "sized_people": system.people,
        "dropped": system.dropped,
        "sizes": system.groups.iter().flat_map(|g| &g.sizes).collect::<Vec<_>>(),
        "groups": system.groups.iter().map(|g| json!({
            "group": g.group,
            "people": g.people,
            "sizes": g.sizes.len(),
            "coverage_held_out": g.coverage_held_out,
            "coverage_held_out_interval": g.held_out_interval,
            "coverage_in_sample": g.coverage_in_sample,
            "coverage_in_sample_interval": g.coverage_in_sample_interval,
            "ceiling": g.ceiling,
            "method_bound": g.method_bound,
            "search_nodes": g.search_nodes,
            "rules": g.rules,
            "resampled": g.resampled,
            "grading": g.grading,
            "one_more": g.one_more,
            "shift": g.shift,
            "coverage_shifted": g.coverage_shifted,
            "gaps": g.gaps,
            "aggregate_loss_mm": g.aggregate_loss_mm,
            "effective_people": g.effective_people,
        })).collect::<Vec<_>>(),
        "left_out": system.left_out,
        "curve": system.curve,
        "knee": system.knee,
        "compared": system.compared,
        "chosen": system.chosen,
        "ceiling": system.ceiling,
        "resampled": system.resampled,
        "coverage_all_dimensions": system.coverage_all_dimensions,
        "people_needed": system.people_needed,
        "effective_people": system.effective_people,
        "design_effect": system.design_effect,
        "raking": system.raking,
        "movement": system.movement,
        "plan": system.plan,
        "notes": system.notes,
        "cautions": system.cautions,
    })
}

/// The figures of a movement for programs.
#[must_use]
pub fn motion_summary(movement: &MovementOutcome) -> Value {
    let motion = &movement.motion;
    json!({
        "capture": movement.capture,
        "participant": movement.participant,
        "people": motion.people,
        "frames": motion.frames,
        "uniform": motion.uniform,
        "fps": motion.timing.fps,
        "duration_s": motion.timing.duration_s,
        "frozen_frames": motion.frozen_frames,
        "variances_mm2": motion.variances_mm2,
        "total_variance_mm2": motion.total_variance_mm2,
        "explained": motion.explained(),
        "errors": motion.errors,
        "frequencies": motion.frequencies,
        "no_frequency": motion.no_frequency,
        "curves": movement.curves.iter().map(curve_summary).collect::<Vec<_>>(),
        "findings": motion.findings,
        "deep": deep_summary(&movement.deep),
    })
}

fn curve_summary(curve: &formkin_motion::Curve) -> Value {
    let mut value = serde_json::to_value(curve).unwrap_or_default();
    if let Some(object) = value.as_object_mut() {
        object.remove("values");
        object.remove("times_s");
    }
    value
}
