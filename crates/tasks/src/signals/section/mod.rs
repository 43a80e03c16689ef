//! What a reader is shown of signals: curves, cycles, soft tissue, what captures say together, conditions compared.

pub mod compared;
pub mod curves;
mod cycles;
mod tissue;
pub mod together;

use formkin_motion::soft::tissue::Tissue;
use formkin_report::document::Body;
use formkin_report::format::capital;

use super::Signals;

/// Adds cycles, curves over them and soft tissue. `index` keeps charts apart, `id` is the view that a line in the charts runs along with.
pub fn signals(body: &mut Body, index: &str, id: &str, signals: &Signals, times_s: &[f64]) {
    cycles::cycles(body, index, signals);
    tissue::tissue(body, index, id, signals, times_s);
}

/// Adds what could not be done.
pub fn remarks(body: &mut Body, signals: &Signals) {
    body.cautions(&signals.remarks.iter().map(|r| format!("{}.", capital(r))).collect::<Vec<_>>());
}

/// Soft tissue in a line for a terminal; none without cycles.
#[must_use]
pub fn tissue_line(tissue: &Tissue) -> Option<String> {
    let s = tissue.summary.as_ref()?;
    let late =
        tissue.lag.and_then(|l| l.degrees).map_or_else(String::new, |d| format!(", {d:.0} degrees late"));
    Some(format!(
        "{} against the body: vertical {:.1} mm, lateral {:.1}, fore-aft {:.1} (mean of {} cycles){late}",
        tissue.name, s.vertical_mm.mean, s.lateral_mm.mean, s.fore_aft_mm.mean, s.vertical_mm.cycles
    ))
}
