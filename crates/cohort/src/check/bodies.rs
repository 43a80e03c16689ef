//! Unit, height axis, mirror images, floor, damaged triangles and spikes.

use std::collections::BTreeMap;

use formkin_stats::quantile::median_of;

use super::look::Look;
use super::params::CheckParams;
use super::reference::Reference;
use crate::cohort::Cohort;
use crate::finding::{Finding, FindingKind, Severity};
use crate::frame;
use crate::params::Up;

/// The bends of a mirror image correlate with the usual ones below this; those of a body in any pose, well above 0.
const MIRRORED: f64 = -0.3;
/// A still pose stands on its head above this angle.
const UPSIDE_DOWN_DEG: f64 = 120.0;

/// What is said about one kind of fault.
struct Rule {
    kind: FindingKind,
    severity: Severity,
    unit: &'static str,
    advice: &'static str,
}

pub(crate) fn findings(
    cohort: &Cohort,
    reference: &Reference,
    looks: &[Look],
    params: &CheckParams,
) -> Vec<Finding> {
    let mut all = Vec::new();
    all.extend(height_axis(cohort, reference));
    let inside_out = looks.iter().filter(|l| l.volume_mm3.is_some_and(|v| v < 0.0)).count();
    let all_inside_out = 2 * inside_out > looks.len();
    if all_inside_out {
        all.push(finding(
            "",
            &INSIDE_OUT,
            Some(inside_out as f64),
            format!(
                "the signed volume of {inside_out} of {} items is negative: their triangles look inward",
                looks.len()
            ),
        ));
    }
    let stills = cohort.stills();
    let tilted = |l: &Look| l.fit.tilt_deg > params.tilt_deg;
    let tilted_stills = stills.iter().filter(|&&i| tilted(&looks[i])).count();
    // where most are tilted against the template it is the template that lies otherwise
    let template_lies = 2 * tilted_stills > stills.len() && tilted_stills > 1;
    let upright = median(stills.iter().map(|&i| looks[i].principal_deg)) <= params.tilt_deg;
    let floor = median(stills.iter().map(|&i| looks[i].floor_mm));
    let on_floor = stills.len() >= 3
        && 2 * stills.iter().filter(|&&i| (looks[i].floor_mm - floor).abs() <= params.floor_drift_mm).count()
            > stills.len();
    let mut in_captures: BTreeMap<&str, Vec<usize>> = BTreeMap::new();
    for (i, (item, look)) in cohort.accepted().iter().zip(looks).enumerate() {
        if item.frame.is_some() {
            in_captures.entry(&item.capture).or_default().push(i);
            continue;
        }
        let name = item.item.as_str();
        all.extend(one(name, look, params, all_inside_out));
        if look.not_finite.is_some() {
            continue;
        }
        all.extend(unit(name, look.height_mm, params));
        let off = if template_lies { 0.0 } else { look.fit.tilt_deg };
        if off > UPSIDE_DOWN_DEG {
            let message = format!("it stands on its head: {off:.0} degrees against the template");
            all.push(finding(name, &UPSIDE_DOWN, Some(off), message));
        } else if off > params.tilt_deg || (upright && look.principal_deg > params.tilt_deg) {
            let off = off.max(look.principal_deg);
            let message = format!("it is tilted by {off:.0} degrees against the height axis");
            all.push(finding(name, &HEIGHT_AXIS, Some(off), message));
        }
        let above = look.floor_mm - floor;
        if on_floor && above.abs() > params.floor_drift_mm {
            let message = format!("its lowest point is {above:+.1} mm off the floor of the others");
            all.push(finding(name, &FLOOR, Some(above), message));
        }
    }
    for (capture, frames) in in_captures {
        all.extend(sequence(cohort, capture, &frames, looks, params, all_inside_out));
    }
    all
}

/// Faults of the frames of a sequence, one finding a kind: how many frames, and the worst.
fn sequence(
    cohort: &Cohort,
    capture: &str,
    frames: &[usize],
    looks: &[Look],
    params: &CheckParams,
    all_inside_out: bool,
) -> Vec<Finding> {
    let mut by_kind: BTreeMap<FindingKind, (usize, Finding)> = BTreeMap::new();
    for &i in frames {
        for found in one(&cohort.items()[i].item, &looks[i], params, all_inside_out) {
            match by_kind.get_mut(&found.kind) {
                None => {
                    by_kind.insert(found.kind, (1, found));
                }
                Some((count, worst)) => {
                    *count += 1;
                    if found.amount.unwrap_or(0.0) > worst.amount.unwrap_or(0.0) {
                        *worst = found;
                    }
                }
            }
        }
    }
    let mut all: Vec<Finding> = by_kind
        .into_values()
        .map(|(count, mut worst)| {
            if count > 1 {
                worst.message = format!(
                    "{}; {count} of {} frames of `{capture}` have this fault, this one most",
                    worst.message,
                    frames.len()
                );
            }
            worst
        })
        .collect();
    let tallest = frames.iter().map(|&i| looks[i].height_mm).fold(0.0, f64::max);
    all.extend(unit(capture, tallest, params));
    all
}

/// Faults that an item can have by itself.
fn one(name: &str, look: &Look, params: &CheckParams, all_inside_out: bool) -> Vec<Finding> {
    if let Some(vertex) = look.not_finite {
        return vec![finding(
            name,
            &NOT_FINITE,
            None,
            format!("the position of vertex {vertex} is not finite"),
        )];
    }
    let mut all = Vec::new();
    let (plain, reflected) = (look.fit.rms_mm, look.fit.reflected_rms_mm);
    let mirrored = look.bend < MIRRORED;
    if mirrored {
        let message = format!(
            "it is a mirror image: bumps of the template are hollows seen along its triangles; as a mirror image it fits to \
             {reflected:.1} mm root mean square, as it is to {plain:.1} mm"
        );
        all.push(finding(name, &MIRROR_IMAGE, Some(plain - reflected), message));
    }
    if let Some(v) = look.volume_mm3.filter(|v| *v < 0.0 && !mirrored && !all_inside_out) {
        let message =
            format!("its signed volume is negative, {:.1} litres: its triangles look inward", v * 1e-6);
        all.push(finding(name, &INSIDE_OUT, Some(v * 1e-6), message));
    }
    if look.edge_ratio > params.edge_ratio {
        let message = format!(
            "1 % of its edges differ from their usual length by a factor of {:.1} and more: the vertices may be permuted or \
             the registration lost",
            look.edge_ratio
        );
        all.push(finding(name, &STRETCHED, Some(look.edge_ratio), message));
    }
    if look.flipped > 0 {
        let message = format!(
            "{} turned over against {} surroundings",
            are(look.flipped),
            if look.flipped == 1 { "its" } else { "their" }
        );
        all.push(finding(name, &FLIPPED, Some(look.flipped as f64), message));
    }
    if look.collapsed > 0 {
        let message = match look.collapsed {
            1 => "1 triangle has no area left".to_owned(),
            n => format!("{n} triangles have no area left"),
        };
        all.push(finding(name, &COLLAPSED, Some(look.collapsed as f64), message));
    }
    if let Some((count, vertex, off)) = look.spikes {
        let message =
            format!("{count} vertices stick out; vertex {vertex} is {off:.1} mm off its neighbours");
        all.push(finding(name, &SPIKE, Some(off), message));
    }
    all
}

fn unit(name: &str, height_mm: f64, params: &CheckParams) -> Option<Finding> {
    let [low, high] = params.height_m;
    let height = height_mm / 1000.0;
    (!(low..=high).contains(&height)).then(|| {
        let message =
            format!("it is {height:.3} m tall; bodies are {low} to {high} m: its unit may be wrong");
        finding(name, &UNIT, Some(height), message)
    })
}

/// Whether the stored items stand along z by the rule that tells the axis of files.
fn height_axis(cohort: &Cohort, reference: &Reference) -> Option<Finding> {
    let (up, reason) = frame::tell_up(&reference.sample).ok()?;
    (up != Up::Z).then(|| {
        let message = format!(
            "the bodies seem to stand along {} and not along the height axis z: {reason} (the files were read with {} up)",
            up.name(),
            cohort.info().source_up.name()
        );
        finding("", &HEIGHT_AXIS, None, message)
    })
}

fn median(values: impl Iterator<Item = f64>) -> f64 {
    median_of(&mut values.collect::<Vec<f64>>()).unwrap_or(0.0)
}

fn finding(item: &str, rule: &Rule, amount: Option<f64>, message: String) -> Finding {
    Finding {
        item: item.to_owned(),
        kind: rule.kind,
        severity: rule.severity,
        message,
        amount,
        unit: amount.map(|_| rule.unit.to_owned()),
        advice: rule.advice.to_owned(),
    }
}

const NOT_FINITE: Rule = Rule {
    kind: FindingKind::NotFinite,
    severity: Severity::Error,
    unit: "vertices",
    advice: "import the cohort again; the stored positions are damaged",
};
const UNIT: Rule = Rule {
    kind: FindingKind::Unit,
    severity: Severity::Error,
    unit: "m",
    advice: "import again with the right unit",
};
const HEIGHT_AXIS: Rule = Rule {
    kind: FindingKind::HeightAxis,
    severity: Severity::Error,
    unit: "deg",
    advice: "import again with the right axis up, or leave out items captured otherwise",
};
const UPSIDE_DOWN: Rule = Rule {
    kind: FindingKind::UpsideDown,
    severity: Severity::Error,
    unit: "deg",
    advice: "turn the item and import again",
};
const MIRROR_IMAGE: Rule = Rule {
    kind: FindingKind::Mirrored,
    severity: Severity::Error,
    unit: "mm",
    advice: "look whether left and right are exchanged; register the scan again",
};
const INSIDE_OUT: Rule = Rule {
    kind: FindingKind::InsideOut,
    severity: Severity::Warning,
    unit: "l",
    advice: "turn the triangles of the template so that they look outward",
};
const STRETCHED: Rule = Rule {
    kind: FindingKind::StretchedEdges,
    severity: Severity::Error,
    unit: "ratio",
    advice: "leave the item out and register the scan again",
};
const FLIPPED: Rule = Rule {
    kind: FindingKind::FlippedTriangles,
    severity: Severity::Warning,
    unit: "triangles",
    advice: "look at the registration there, often armpits, hands and feet; mask the region where it is hopeless",
};
const COLLAPSED: Rule = Rule {
    kind: FindingKind::CollapsedTriangles,
    severity: Severity::Warning,
    unit: "triangles",
    advice: "look at the registration there; mask the region where it is hopeless",
};
const SPIKE: Rule = Rule {
    kind: FindingKind::Spike,
    severity: Severity::Warning,
    unit: "mm",
    advice: "look at the scan there; register it again or leave the item out",
};
const FLOOR: Rule = Rule {
    kind: FindingKind::FloorDrift,
    severity: Severity::Warning,
    unit: "mm",
    advice: "heights of this item are off by as much; put it on the floor and import again",
};

fn are(triangles: usize) -> String {
    if triangles == 1 { "1 triangle is".to_owned() } else { format!("{triangles} triangles are") }
}
