//! What is in a space: an object for programs, lines for a terminal.

use formkin_report::format::counted;
use formkin_shape::criteria::stability::STABLE;
use formkin_shape::merge::LOST;
use formkin_shape::{ModeCriteria, Quality, Space};
use serde_json::{Value, json};

use super::moments_section;

/// Modes in the table of a terminal.
const SHOWN: usize = 10;

/// What is in a space, for programs.
#[must_use]
pub fn facts(space: &Space) -> Value {
    json!({
        "people": space.people,
        "items": space.items,
        "vertices": space.mean.len(),
        "triangles": space.triangles.len(),
        "modes": space.modes.len(),
        "removes": space.removes,
        "weighting": space.weighting,
        "variances_mm2": space.variances_mm2,
        "total_variance_mm2": space.total_variance_mm2,
        "explained": space.explained(),
        "cross_validation": space.cross_validation,
        "cross_validation_refused": space.cross_validation_refused,
        "criteria": space.criteria,
        "criteria_caution": space.criteria_caution(),
        "quality": space.quality,
        "unstable_modes": space.criteria.as_ref().map(unstable),
        "stability_asked_modes": space.stability_asked_modes(),
        "predicts_from": space.regression.as_ref().map(|r| r.variables.iter().map(|v| &v.name).collect::<Vec<_>>()),
        "prediction_people": space.regression.as_ref().map(|r| r.people),
        "prediction_errors": space.regression.as_ref().and_then(|r| r.errors.as_ref()),
        "template_hash": space.template_hash,
        "seed": space.seed,
    })
}

/// What is in a space, for a terminal.
#[must_use]
pub fn lines(space: &Space) -> Vec<String> {
    let mut lines = described(space);
    lines.extend(mode_lines(space));
    lines.extend(quality_lines(space));
    lines.extend(space.regression.iter().flat_map(moments_section::lines));
    lines
}

/// Whose shapes it is of, and how far they lie from the mean.
#[must_use]
pub fn described(space: &Space) -> Vec<String> {
    vec![
        format!(
            "{}, {} items; {} vertices, {} triangles; {} weights",
            counted(space.people, "person", "people"),
            space.items,
            space.mean.len(),
            space.triangles.len(),
            space.weighting
        ),
        format!(
            "a surface point lies {:.1} mm (RMS) from the mean; {} of {} modes kept",
            space.total_variance_mm2.sqrt(),
            space.modes.len(),
            space.variances_mm2.len()
        ),
    ]
}

/// The modes, and how many are enough.
pub(super) fn mode_lines(space: &Space) -> Vec<String> {
    let explained = space.explained();
    let held_out = |modes: usize| {
        space.cross_validation.as_ref().and_then(|c| c.errors.iter().find(|e| e.modes == modes))
    };
    let mut lines = vec!["mode    SD mm   explained   held-out error mm   stable".to_owned()];
    for (k, variance) in space.variances_mm2.iter().take(SHOWN.min(space.modes.len())).enumerate() {
        let error = held_out(k + 1).map_or_else(|| "-".to_owned(), |e| format!("{:.2}", e.rms_mm));
        let line = format!(
            "{:>4} {:>8.2} {:>9.1} % {error:>12}          {}",
            k + 1,
            variance.sqrt(),
            100.0 * explained[k],
            stable(space, k)
        );
        lines.push(line.trim_end().to_owned());
    }
    match (&space.cross_validation, &space.cross_validation_refused) {
        (Some(c), _) => lines.push(match c.chosen_modes {
            Some(modes) => format!("{modes} modes are enough: {}", c.rule),
            None => format!("no number of modes is enough: {}", c.rule),
        }),
        (None, Some(reason)) => lines.push(format!("no held-out error: {reason}")),
        (None, None) => {}
    }
    lines.extend(space.criteria.iter().flat_map(criteria_lines));
    lines.extend(space.criteria.as_ref().map(|c| drawn(space, c)));
    lines.extend(space.criteria_caution().map(|caution| format!("caution: {caution}")));
    lines
}

/// Whether a mode, from 0, is stable.
fn stable(space: &Space, k: usize) -> String {
    let Some(s) = space.criteria.as_ref().and_then(|c| c.stability.get(k)) else {
        return "not asked".to_owned();
    };
    let group = if s.group.0 == s.group.1 {
        String::new()
    } else {
        format!(" (modes {} to {} are near equal: {:.2} as a group)", s.group.0, s.group.1, s.group_cos)
    };
    format!("{} {:.2}{group}", if s.stable { "yes" } else { "NO " }, s.cos)
}

/// The quality of the space, and what merging took from it.
pub(super) fn quality_lines(space: &Space) -> Vec<String> {
    let mut lines: Vec<String> = space.quality.iter().flat_map(quality_of).collect();
    if space.is_merged() {
        lines.extend(LOST.iter().map(|lost| format!("lost in merging: {lost}")));
    }
    lines
}

/// The modes, from 1, that must not be named.
fn unstable(criteria: &ModeCriteria) -> Vec<usize> {
    criteria.stability.iter().filter(|s| !s.stable).map(|s| s.mode).collect()
}

/// How nulls and draws were made, and of which modes stability is known.
fn drawn(space: &Space, criteria: &ModeCriteria) -> String {
    let (asked, kept) = (space.stability_asked_modes(), space.modes.len());
    let draws = if asked == 0 {
        format!("stability was asked of none of {kept} modes")
    } else {
        format!(
            "stability is of {} draws of people, for the first {asked} of {kept} modes{}: from a median |cos| of {STABLE} on a mode is stable",
            criteria.draws,
            if asked < kept { " (of the others it is not known)" } else { "" }
        )
    };
    format!("parallel analysis is of {} nulls; {draws}; seed {}", criteria.nulls, criteria.seed)
}

/// Variances of modes that stand apart, with their intervals.
fn own_variances(criteria: &ModeCriteria) -> Option<String> {
    let shown: Vec<String> = criteria
        .variances
        .iter()
        .filter_map(|v| {
            let (low, high) = v.interval_95_mm2?;
            Some(format!("{}: {:.3} ({low:.3} to {high:.3})", v.mode, v.corrected_mm2?))
        })
        .take(5)
        .collect();
    (!shown.is_empty()).then(|| {
        format!(
            "variances without what noise lends them, mm2, with 95 % intervals, by mode: {}",
            shown.join("; ")
        )
    })
}

fn criteria_lines(criteria: &ModeCriteria) -> Vec<String> {
    let mut lines = vec!["how many modes:".to_owned()];
    for c in &criteria.criteria {
        let modes = c.modes.map_or_else(|| "-".to_owned(), |m| m.to_string());
        let primary = if c.name == criteria.primary { "  <- primary" } else { "" };
        lines.push(format!("{:>5}  {}{primary}", modes, c.name.replace('_', " ")));
    }
    lines.push(format!("the primary one is {}: {}", criteria.primary.replace('_', " "), criteria.reason));
    if let Some(e) = &criteria.vertex_errors {
        lines.push(format!(
            "vertices of people held out, {} modes: RMS {:.2}, 95th percentile {:.2}, largest {:.1} mm",
            e.modes, e.rms_mm, e.p95_mm, e.max_mm
        ));
        let mut regions: Vec<_> = e.regions.iter().collect();
        regions.sort_by(|a, b| b.rms_mm.total_cmp(&a.rms_mm));
        for r in regions.iter().take(3) {
            lines.push(format!(
                "  {}: RMS {:.2}, 95th percentile {:.2}, largest {:.1} mm",
                r.region, r.rms_mm, r.p95_mm, r.max_mm
            ));
        }
    }
    lines.extend(own_variances(criteria));
    let unstable = unstable(criteria);
    if !unstable.is_empty() {
        let list: Vec<String> = unstable.iter().map(usize::to_string).collect();
        lines.push(format!(
            "not stable under resampling of people, and not to be named: modes {}",
            list.join(", ")
        ));
    }
    lines
}

fn quality_of(quality: &Quality) -> Vec<String> {
    let mut lines = vec![format!(
        "quality: {} shapes drawn, seed {}; generalisation leaves each of {} people out\nmodes   generalisation mm   specificity mm   compactness mm2",
        quality.samples, quality.seed, quality.people
    )];
    for s in quality.specificity.iter().take(10) {
        let g = quality.generalisation.iter().find(|e| e.modes == s.modes);
        let g = g.map_or_else(|| "-".to_owned(), |e| format!("{:.2} (SE {:.2})", e.rms_mm, e.se_mm));
        lines.push(format!(
            "{:>5} {g:>19} {:>9.2} (SE {:.2}) {:>12.1}",
            s.modes,
            s.mean_mm,
            s.se_mm,
            quality.compactness_mm2[s.modes - 1]
        ));
    }
    for s in &quality.surface {
        lines.push(format!(
            "between surfaces, {} modes: generalisation {:.2} mm (SE {:.2}), specificity {:.2} mm (SE {:.2})",
            s.modes, s.generalisation_mm, s.generalisation_se_mm, s.specificity_mm, s.specificity_se_mm
        ));
    }
    lines.extend(quality.flaws.iter().map(|f| format!("  {f}")));
    lines
}
