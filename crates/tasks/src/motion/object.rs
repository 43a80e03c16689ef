//! The figures of a movement for programs: no series but errors, findings and cycles.

use formkin_geometry::Topology;
use serde_json::{Value, json};

use super::deep::Deep;
use super::run::MotionOutcome;
use crate::signals::object::{components_object, curve_object, signals_object};

pub(super) fn object(topology: &Topology, made: &MotionOutcome) -> Value {
    let motion = &made.motion;
    json!({
        "capture": made.capture,
        "participant": made.participant,
        "people": motion.people,
        "items": motion.frames,
        "frames": motion.frames,
        "vertices": topology.vertices(),
        "triangles": topology.triangles().len(),
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
        "curves": made.curves.iter().map(curve_object).collect::<Vec<_>>(),
        "findings": motion.findings,
        "deep": deep(&made.deep),
        "components": components_object(&made.components),
        "comparisons": made.conditions.as_ref().map(|c| &c.comparisons),
    })
}

fn deep(deep: &Deep) -> Value {
    let strain = deep.strain.as_ref().map(|s| {
        let largest = s.peak.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let regions: Vec<Value> = s
            .regions
            .iter()
            .map(|r| {
                json!({ "region": r.region, "triangles": r.triangles, "peak": r.peak, "peak_frame": r.peak_frame })
            })
            .collect();
        json!({
            "name": s.name, "reference_pose": s.reference_pose, "frames": s.frames, "largest": largest,
            "noise_floor": s.noise_floor, "smoothed_mm": s.smoothed_mm, "regions": regions, "caution": s.caution,
        })
    });
    let posture = deep.posture.as_ref().map(|p| {
        json!({
            "rest": p.rest, "joints": p.posture.joints, "fit_rms_mm": p.fit_rms_mm, "settled_frames": p.settled_frames,
            "unposed_rms_mm": p.posture.unposed_rms_mm, "explained": p.explained,
        })
    });
    let dynamics = deep.dynamics.as_ref().map(|d| {
        let modes: Vec<Value> = d
            .modes
            .iter()
            .map(|m| {
                json!({ "hz": m.hz, "growth_per_s": m.growth_per_s, "damping_ratio": m.damping_ratio, "rms_mm": m.rms_mm })
            })
            .collect();
        json!({ "delays": d.delays, "rank": d.rank, "error_mm": d.error_mm, "modes": modes })
    });
    let mut object = signals_object(&deep.signals);
    object["cycles_left_out"] = json!(deep.cycles_left_out);
    object["strain"] = json!(strain);
    object["dynamics"] = json!(dynamics);
    object["posture"] = json!(posture);
    object
}
