//! Proportions of bodies beside those of handbooks: heights of joints and lengths of segments over stature, shares of mass, area of the skin.
//!
//! Handbooks speak of joints of bone and of other people than those measured. Joints here are means of rings on the skin; the differences
//! are shown, not judged.

use formkin_geometry::vector::distance;
use formkin_geometry::{Point, Template};
use serde::{Deserialize, Serialize};

use crate::segments::Segments;
use crate::{Segment, SegmentParams, basic, joint_centres};

/// Where the fractions of stature come from.
pub(crate) const LENGTHS: &str = "Drillis & Contini 1966 as printed by Winter 2009";
/// Where the shares of mass come from.
pub(crate) const MASSES: &str = "Dempster 1955 as printed by Winter 2009";
/// Where the formula of the skin's area comes from.
pub(crate) const SKIN: &str =
    "DuBois & DuBois 1916: 0.007184 W^0.425 H^0.725, W the mass from volumes and densities";

/// Heights of joints over stature.
const HEIGHTS: [(&str, f64); 4] = [("ankle", 0.039), ("knee", 0.285), ("hip", 0.530), ("shoulder", 0.818)];
/// Lengths between joints over stature.
const SPANS: [(&str, &str, &str, f64); 4] = [
    ("upper_arm", "shoulder", "elbow", 0.186),
    ("forearm", "elbow", "wrist", 0.146),
    ("thigh", "hip", "knee", 0.245),
    ("shank", "knee", "ankle", 0.246),
];

/// What a comparison needs of one body.
#[derive(Debug, Clone, PartialEq)]
pub struct Proportions {
    /// From the lowest to the highest vertex, in mm; `None` where no position is finite.
    stature_mm: Option<f64>,
    floor_mm: f64,
    joints: Vec<Option<Point>>,
    segments: Vec<Segment>,
    area_mm2: Option<f64>,
}

impl Proportions {
    /// Of one body. Segments are left out where there are none, as where the template's regions do not give them.
    #[must_use]
    pub fn of(template: &Template, segments: Option<&Segments>, positions: &[Point]) -> Self {
        let heights = || positions.iter().map(|p| p[2]).filter(|z| z.is_finite());
        let low = heights().min_by(f64::total_cmp);
        let high = heights().max_by(f64::total_cmp);
        Self {
            stature_mm: low.zip(high).map(|(low, high)| high - low).filter(|s| *s > 0.0),
            floor_mm: low.unwrap_or(0.0),
            joints: joint_centres(template, positions),
            segments: segments.and_then(|s| s.take(positions).ok()).unwrap_or_default(),
            area_mm2: basic(template.mesh.topology(), positions).area_mm2,
        }
    }
}

/// What a figure is a fraction of.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum HandbookKind {
    /// Height of a joint over stature.
    HeightOverStature,
    /// Length of a segment over stature.
    LengthOverStature,
    /// Share of the body's mass.
    ShareOfMass,
    /// Area of the skin over what the formula gives.
    AreaOverFormula,
}

/// One figure beside the handbook's.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct HandbookRow {
    /// The joint or segment; `skin` for the area.
    pub name: String,
    /// What it is a fraction of.
    pub kind: HandbookKind,
    /// Bodies that have it.
    pub n: usize,
    /// Their mean; left and right count alike.
    pub mean: f64,
    /// Their standard deviation, divisor n - 1; `None` for one body.
    pub sd: Option<f64>,
    /// The handbook's figure.
    pub handbook: f64,
    /// 100 (mean / handbook - 1).
    pub difference_percent: f64,
    /// The handbook.
    pub source: String,
}

/// The figures that bodies have of those in handbooks, each beside the handbook's. Joints are found by their names on the template (`ankle`,
/// `knee`, `hip`, `shoulder`, `elbow`, `wrist`, with `_left` and `_right`); what a template does not have is left out.
#[must_use]
pub fn beside_handbooks(
    template: &Template,
    params: &SegmentParams,
    bodies: &[Proportions],
) -> Vec<HandbookRow> {
    let joint = |body: &Proportions, name: &str, side: &str| {
        let name = format!("{name}_{side}");
        let at = template.joints.iter().position(|j| j.name == name)?;
        body.joints.get(at).copied().flatten()
    };
    // the mean of both sides, over stature
    let both = |body: &Proportions, value: &dyn Fn(&str) -> Option<f64>| {
        Some(0.5 * (value("left")? + value("right")?) / body.stature_mm?)
    };
    let mut rows = Vec::new();
    let mut put =
        |name: &str, kind, handbook: f64, source: &str, value: &dyn Fn(&Proportions) -> Option<f64>| {
            let values: Vec<f64> = bodies.iter().filter_map(value).filter(|v| v.is_finite()).collect();
            if values.is_empty() {
                return;
            }
            let n = values.len() as f64;
            let mean = values.iter().sum::<f64>() / n;
            let squares: f64 = values.iter().map(|v| (v - mean).powi(2)).sum();
            rows.push(HandbookRow {
                name: name.to_owned(),
                kind,
                n: values.len(),
                mean,
                sd: (values.len() > 1).then(|| (squares / (n - 1.0)).sqrt()),
                handbook,
                difference_percent: 100.0 * (mean / handbook - 1.0),
                source: source.to_owned(),
            });
        };
    for (name, handbook) in HEIGHTS {
        put(name, HandbookKind::HeightOverStature, handbook, LENGTHS, &|b| {
            both(b, &|side| Some(joint(b, name, side)?[2] - b.floor_mm))
        });
    }
    for (name, from, to, handbook) in SPANS {
        put(name, HandbookKind::LengthOverStature, handbook, LENGTHS, &|b| {
            both(b, &|side| Some(distance(joint(b, from, side)?, joint(b, to, side)?)))
        });
    }
    let mut seen: Vec<&str> = Vec::new();
    for definition in &params.segments {
        let bare = definition.name.trim_end_matches("_left").trim_end_matches("_right");
        let Some(handbook) = definition.handbook_share.filter(|_| !seen.contains(&bare)) else { continue };
        seen.push(bare);
        put(bare, HandbookKind::ShareOfMass, handbook, MASSES, &|b| {
            let of = |s: &&Segment| s.name.trim_end_matches("_left").trim_end_matches("_right") == bare;
            let shares: Vec<f64> = b.segments.iter().filter(of).map(|s| s.share).collect();
            (!shares.is_empty()).then(|| shares.iter().sum::<f64>() / shares.len() as f64)
        });
    }
    put("skin", HandbookKind::AreaOverFormula, 1.0, SKIN, &|b| {
        let mass: f64 = b.segments.iter().map(|s| s.mass_kg).sum();
        let stature_cm = 0.1 * b.stature_mm?;
        let formula = 0.007184 * mass.powf(0.425) * stature_cm.powf(0.725);
        (mass > 0.0).then_some(b.area_mm2? * 1e-6 / formula)
    });
    rows
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::doll::doll;
    use formkin_geometry::template::Joint;

    #[test]
    fn a_body_of_the_handbooks_proportions_differs_by_nothing() {
        let mut template = doll();
        let mut p = template.mesh.positions().to_vec();
        let low = p.iter().map(|q| q[2]).fold(f64::INFINITY, f64::min);
        let stature = p.iter().map(|q| q[2]).fold(f64::NEG_INFINITY, f64::max) - low;
        let heights = [("ankle", 0.039), ("knee", 0.285), ("hip", 0.530)];
        for (k, (name, fraction)) in heights.iter().enumerate() {
            for (s, side) in ["left", "right"].iter().enumerate() {
                let v = 2 * k + s;
                p[v] = [if s == 0 { 90.0 } else { -90.0 }, 0.0, low + fraction * stature];
                template.joints.push(Joint {
                    name: format!("{name}_{side}"),
                    parent: None,
                    ring: vec![v as u32],
                });
            }
        }
        let params = SegmentParams { segments: Vec::new(), source: String::new() };
        let mut broken = p.clone();
        broken[0][0] = f64::NAN;
        let bodies = [&p, &broken].map(|p| Proportions::of(&template, None, p));
        let rows = beside_handbooks(&template, &params, &bodies);
        let row = |name: &str| rows.iter().find(|r| r.name == name).unwrap();
        assert!((row("knee").difference_percent).abs() < 1e-9 && row("knee").n == 2);
        // the broken body has no left ankle
        assert_eq!((row("ankle").n, row("ankle").sd), (1, None));
        // knee to hip is exactly the handbook's thigh, knee to ankle its shank
        assert!((row("thigh").mean - 0.245).abs() < 1e-12 && (row("shank").mean - 0.246).abs() < 1e-12);
        assert!(rows.iter().all(|r| r.kind != HandbookKind::ShareOfMass && r.name != "shoulder"));
    }
}
