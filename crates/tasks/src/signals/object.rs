//! The figures of signals for programs: no series.

use formkin_motion::cycles::pooled::DimensionComponents;
use formkin_motion::{Curve, Cycles};
use serde_json::{Value, json};

use super::run::Signals;

/// Cycles, dimensions or signals over them, the body frame, soft tissue, cutoffs and remarks.
#[must_use]
pub fn signals_object(signals: &Signals) -> Value {
    let tissue: Vec<Value> = signals
        .tissue
        .iter()
        .map(|t| {
            json!({
                "region": t.name, "vertices": t.vertices, "people": t.people, "cycles": t.cycles.len(),
                "summary": t.summary, "lag": t.lag, "noise_mm": t.noise_mm, "cutoff_hz": t.cutoff_hz,
                "missing_share": t.missing_share,
            })
        })
        .collect();
    let courses: Vec<Value> = signals
        .courses
        .iter()
        .map(|c| {
            json!({
                "dimension": c.dimension, "unit": c.unit, "reference": c.reference, "min": c.min, "max": c.max,
                "range": c.range(), "noise_floor": c.noise_floor, "cutoff_hz": c.cutoff_hz,
                "cycles": c.band.as_ref().map(|b| b.curves.len()),
                "set_aside": c.band.as_ref().map(|b| b.set_aside.clone()),
                "range_over_cycles": c.band.as_ref().and_then(|b| b.range),
                "phase_of_min_percent": c.band.as_ref().and_then(|b| b.phase_of_min_percent),
                "phase_of_max_percent": c.band.as_ref().and_then(|b| b.phase_of_max_percent),
                "no_cycles": c.no_band,
            })
        })
        .collect();
    json!({
        "cycles": signals.cycles, "dimensions": courses, "frame": signals.frame, "tissue": tissue,
        "residual_cutoffs": signals.residuals, "remarks": signals.remarks,
    })
}

/// Components of curves in figures: shares, no curves.
#[must_use]
pub fn components_object(components: &[DimensionComponents]) -> Value {
    let one = |d: &DimensionComponents| {
        json!({
            "dimension": d.dimension, "unit": d.unit, "people": d.people, "captures": d.captures,
            "cycles": d.curves.len(), "variances": d.components.variances, "total_variance": d.components.total_variance,
            "explained": d.components.variances.iter().map(|v| v / d.components.total_variance).collect::<Vec<_>>(),
        })
    };
    components.iter().map(one).collect()
}

/// A curve in figures.
#[must_use]
pub fn curve_object(curve: &Curve) -> Value {
    let mut value = serde_json::to_value(curve).unwrap_or_default();
    if let Some(object) = value.as_object_mut() {
        object.remove("values");
        object.remove("times_s");
    }
    value
}

/// Cycles in a line for a terminal.
#[must_use]
pub fn cycles_line(cycles: &Cycles) -> String {
    let aside = cycles.cycles.len() - cycles.kept;
    let length = cycles.mean_s.map_or_else(String::new, |s| format!(" of {s:.3} s"));
    format!("{} cycles{length} in {}; {aside} set aside", cycles.kept, cycles.found_in)
}
