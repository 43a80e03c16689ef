//! Conditions compared: a garment against the reference condition, over cycles and people, and over the surface.

use formkin_motion::changes::DimensionCourse;
use formkin_motion::soft::compare::{CompareParams, Comparison, PersonCycles, compare};
use formkin_motion::soft::tissue::{Tissue, TissueCycle};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::TaskError;

/// Two captures of one person: without and with the garment.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Pair {
    /// The capture in the reference condition
    pub reference: String,
    /// The capture with the garment
    pub garment: String,
}

/// Conditions compared.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct Conditions {
    /// One comparison a region or dimension and measure.
    pub comparisons: Vec<Comparison>,
    /// How much less every vertex moves vertically with the garment, the mean over people, in mm. Empty for points.
    pub reduction_mm: Vec<f64>,
    /// How far every vertex moves vertically in the reference condition, the mean over people, in mm.
    pub reference_mm: Vec<f64>,
    /// How many people the map is of.
    pub map_people: usize,
}

/// What a capture brings to a comparison.
#[derive(Debug, Clone, Copy)]
pub struct Compared<'a> {
    /// The capture.
    pub capture: &'a str,
    /// Who.
    pub participant: &'a str,
    /// Its soft tissue.
    pub tissue: &'a [Tissue],
    /// Its dimensions over the cycle.
    pub courses: &'a [DimensionCourse],
    /// Mean length of its cycles, in s.
    pub cycle_s: Option<f64>,
    /// The vertical range of every vertex in the body frame, in mm.
    pub vertical_ranges_mm: &'a [f64],
}

/// What is compared: its name, its unit, and its value in a cycle.
type Measure = (&'static str, &'static str, fn(&TissueCycle) -> f64);

const MEASURES: [Measure; 7] = [
    ("vertical range", "mm", |c| c.vertical_mm),
    ("lateral range", "mm", |c| c.lateral_mm),
    ("fore-aft range", "mm", |c| c.fore_aft_mm),
    ("resultant range", "mm", |c| c.resultant_mm),
    ("path", "mm", |c| c.path_mm),
    ("greatest speed", "mm/s", |c| c.speed_mm_s),
    ("greatest acceleration", "mm/s2", |c| c.acceleration_mm_s2),
];

/// Pairs captures by their names.
///
/// # Errors
/// [`TaskError::Setting`] for a capture that is not there, or a pair of two people.
pub fn paired<'a>(
    captures: &[Compared<'a>],
    pairs: &[Pair],
) -> Result<Vec<(Compared<'a>, Compared<'a>)>, TaskError> {
    let of = |name: &str| {
        captures.iter().find(|m| m.capture == name).copied().ok_or_else(|| TaskError::Setting {
            setting: "a capture to compare",
            value: name.to_owned(),
            known: captures.iter().map(|m| m.capture).collect::<Vec<_>>().join(", "),
        })
    };
    pairs
        .iter()
        .map(|pair| {
            let (a, b) = (of(&pair.reference)?, of(&pair.garment)?);
            if a.participant != b.participant {
                return Err(TaskError::Nothing {
                    what: format!("{} and {} are captures of two people", pair.reference, pair.garment),
                    advice: "compare captures of one person".to_owned(),
                });
            }
            Ok((a, b))
        })
        .collect()
}

/// Compares reference and garment, pair by pair; several pairs of a person are taken together.
///
/// # Errors
/// [`TaskError::Nothing`] where a capture has neither soft tissue nor dimensions over cycles; those of [`compare`].
pub fn conditions(
    pairs: &[(Compared<'_>, Compared<'_>)],
    params: &CompareParams,
) -> Result<Conditions, TaskError> {
    let empty = |c: &Compared<'_>| c.tissue.is_empty() && c.courses.iter().all(|d| d.band.is_none());
    if let Some(without) = pairs.iter().flat_map(|(a, b)| [a, b]).find(|c| empty(c)) {
        return Err(TaskError::Nothing {
            what: format!("`{}` has nothing with cycles to compare", without.capture),
            advice: "name a signal with cycles or give events, and soft tissue with its frame or dimensions to follow".to_owned(),
        });
    }
    let mut comparisons = Vec::new();
    for region in names(pairs.iter().flat_map(|(a, _)| a.tissue).map(|t| t.name.as_str())) {
        for (what, unit, value) in MEASURES {
            let values = |c: &Compared<'_>| {
                let tissue = c.tissue.iter().find(|t| t.name == region);
                tissue.map_or_else(Vec::new, |t| t.cycles.iter().map(value).collect())
            };
            push(&mut comparisons, &format!("{region}: {what}, {unit}"), pairs, params, values)?;
        }
    }
    for name in names(pairs.iter().flat_map(|(a, _)| a.courses).map(|d| d.dimension.as_str())) {
        let mut unit = String::new();
        for course in pairs.iter().flat_map(|(a, _)| a.courses).filter(|d| d.dimension == name) {
            unit.clone_from(&course.unit);
        }
        let values = |c: &Compared<'_>| {
            let band = c.courses.iter().find(|d| d.dimension == name).and_then(|d| d.band.as_ref());
            band.map_or_else(Vec::new, |b| b.curves.iter().map(|c| extent(c)).collect())
        };
        push(&mut comparisons, &format!("{name}: range, {unit}"), pairs, params, values)?;
    }
    let (reference_mm, reduction_mm, map_people) = maps(pairs);
    Ok(Conditions { comparisons, reduction_mm, reference_mm, map_people })
}

fn names<'a>(all: impl Iterator<Item = &'a str>) -> Vec<&'a str> {
    let mut found: Vec<&str> = Vec::new();
    for name in all {
        if !found.contains(&name) {
            found.push(name);
        }
    }
    found
}

fn extent(curve: &[f64]) -> f64 {
    let (low, high) =
        curve.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), &v| (l.min(v), h.max(v)));
    high - low
}

/// Adds the comparison of a measure, of those people who have it in both conditions and move in the reference one.
fn push(
    comparisons: &mut Vec<Comparison>,
    measure: &str,
    pairs: &[(Compared<'_>, Compared<'_>)],
    params: &CompareParams,
    values: impl Fn(&Compared<'_>) -> Vec<f64>,
) -> Result<(), TaskError> {
    let mut people: Vec<PersonCycles> = Vec::new();
    for (a, b) in pairs {
        let (reference, garment) = (values(a), values(b));
        let moves = reference.iter().sum::<f64>() > 1e-9 * reference.len() as f64;
        if garment.is_empty() || !moves {
            continue;
        }
        match people.iter_mut().find(|p| p.participant == a.participant) {
            Some(person) => {
                person.reference.extend(reference);
                person.garment.extend(garment);
            }
            None => people.push(PersonCycles {
                participant: a.participant.to_owned(),
                reference,
                garment,
                cycle_s: a.cycle_s.zip(b.cycle_s),
            }),
        }
    }
    if !people.is_empty() {
        comparisons.push(compare(measure, &people, params)?);
    }
    Ok(())
}

/// The vertical range in the reference condition and its reduction of every vertex, means over people, and the number of people.
fn maps(pairs: &[(Compared<'_>, Compared<'_>)]) -> (Vec<f64>, Vec<f64>, usize) {
    let mapped: Vec<_> = pairs
        .iter()
        .filter(|(a, b)| {
            !a.vertical_ranges_mm.is_empty() && a.vertical_ranges_mm.len() == b.vertical_ranges_mm.len()
        })
        .collect();
    let people = names(mapped.iter().map(|(a, _)| a.participant));
    let vertices = mapped.first().map_or(0, |(a, _)| a.vertical_ranges_mm.len());
    let (mut reference, mut reduction) = (vec![0.0; vertices], vec![0.0; vertices]);
    for (a, b) in &mapped {
        // several pairs of a person count as one person
        let own = mapped.iter().filter(|(o, _)| o.participant == a.participant).count();
        let part = 1.0 / (own * people.len()) as f64;
        let ranges = a.vertical_ranges_mm.iter().zip(b.vertical_ranges_mm);
        for ((r, d), (x, y)) in reference.iter_mut().zip(&mut reduction).zip(ranges) {
            *r += part * x;
            *d += part * (x - y);
        }
    }
    (reference, reduction, people.len())
}
