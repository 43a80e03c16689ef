//! The answer in lines for a terminal.

use crate::motion::MotionOutcome;
use crate::signals::object::cycles_line;
use crate::signals::section as signals;

/// Modes, dimensions, and what lies deeper.
pub(super) fn answer(made: &MotionOutcome) -> Vec<String> {
    let motion = &made.motion;
    let mut lines = vec![format!(
        "{}: {} frames of one person ({}) over {:.2} s; the skin moves {:.1} mm (RMS) about its mean",
        made.capture,
        motion.frames,
        made.participant,
        motion.timing.duration_s,
        motion.total_variance_mm2.sqrt()
    )];
    lines.push("mode    SD mm   explained   frequency Hz   error mm (in sample)".to_owned());
    let explained = motion.explained();
    for (k, variance) in motion.variances_mm2.iter().take(motion.modes.len()).enumerate() {
        let hz = motion.frequencies[k].as_ref().map_or_else(|| "-".to_owned(), |f| format!("{:.2}", f.hz));
        let error = motion.errors.iter().find(|e| e.modes == k + 1);
        let error = error.map_or_else(|| "-".to_owned(), |e| format!("{:.2}", e.rms_mm));
        let share = 100.0 * explained[k];
        lines.push(format!("{:>4} {:>8.2} {share:>9.1} % {hz:>14} {error:>10}", k + 1, variance.sqrt()));
    }
    for c in &made.curves {
        let number = |x: Option<f64>| x.map_or_else(|| "-".to_owned(), |x| format!("{x:.1}"));
        lines.push(format!(
            "{} [{}]: {} to {}, range {}; {} at {}; smallest at {} %, largest at {} % of the cycle or record",
            c.dimension,
            c.unit,
            number(c.min),
            number(c.max),
            number(c.range),
            number(c.reference),
            c.reference_pose,
            number(c.phase_at_min_percent),
            number(c.phase_at_max_percent)
        ));
    }
    for finding in &motion.findings {
        lines.push(format!("noticed: {}", finding.message));
    }
    lines.extend(deep_answer(made));
    lines.extend(made.conditions.iter().flat_map(signals::compared::lines));
    lines
}

fn deep_answer(made: &MotionOutcome) -> Vec<String> {
    let deep = &made.deep;
    let mut lines = Vec::new();
    lines.extend(deep.signals.cycles.iter().map(cycles_line));
    if let Some(held) = &deep.cycles_left_out
        && let Some(e) = held.errors.last()
    {
        lines.push(format!(
            "{} cycles left out in turn: {:.2} mm (RMS) with {} modes of the others",
            held.cycles, e.rms_mm, e.modes
        ));
    }
    lines.extend(deep.signals.tissue.iter().filter_map(signals::tissue_line));
    if let Some(s) = &deep.strain {
        let floor = s.noise_floor.map_or_else(String::new, |n| format!("; noise floor {:.2} %", 100.0 * n));
        lines.push(format!("{}{floor}", s.name));
        let mut regions: Vec<_> = s.regions.iter().filter(|r| r.triangles > 0).collect();
        regions.sort_by(|a, b| b.peak.total_cmp(&a.peak));
        for r in regions.iter().take(5) {
            lines.push(format!(
                "  {}: mean stretch up to {:.1} % in frame {}",
                r.region,
                100.0 * r.peak,
                r.peak_frame
            ));
        }
    }
    if let Some(d) = &deep.dynamics {
        for m in d.modes.iter().take(4) {
            lines.push(format!(
                "dynamic mode: {:.2} Hz, growth {:+.3} 1/s, {:.1} mm",
                m.hz, m.growth_per_s, m.rms_mm
            ));
        }
    }
    if let Some(p) = &deep.posture {
        lines.push(format!(
            "posture from {}: unposed bodies agree within {:.1} mm (RMS)",
            p.rest, p.posture.unposed_rms_mm
        ));
    }
    lines.extend(deep.signals.remarks.iter().map(|r| format!("noticed: {r}")));
    lines
}
