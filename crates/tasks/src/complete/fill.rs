//! A cohort with holes to the same cohort without: vertices that are marked or not finite are completed, everything else stays as it was captured.

use std::collections::{BTreeMap, BTreeSet};

use formkin_cohort::{Cohort, Item, Status};
use formkin_geometry::{Point, Subset};
use formkin_shape::complete::{Calibration, Completer, calibrate};
use formkin_shape::{ShapeError, Space};
use formkin_stats::interval::normal_quantile;
use rayon::prelude::*;
use serde::{Deserialize, Serialize};

use super::CompleteSettings;
use super::holes::{FilledItem, Holed, Patterns, holed, refused};
use crate::bodies::same_triangles;
use crate::{Progress, TaskError};

/// Patterns of holes that are calibrated; others take the factor of the pattern most like them.
const MOST_PATTERNS: usize = 5;
/// Whole people that a calibration needs.
const LEAST_PEOPLE: usize = 20;

/// A pattern of holes with its calibration.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct PatternCalibration {
    /// How many vertices are missing.
    pub missing: usize,
    /// How many items have it.
    pub items: usize,
    /// How intervals fared on people left out.
    pub calibration: Calibration,
}

/// What came out.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub struct FillOutcome {
    /// New positions of every item that was filled, in mm, z up.
    #[serde(skip)]
    pub positions: BTreeMap<String, Vec<Point>>,
    /// Every item with holes.
    pub items: Vec<FilledItem>,
    /// Calibrations.
    pub calibrations: Vec<PatternCalibration>,
    /// Participants among the items of the cohort without holes.
    pub people: usize,
    /// Items of it.
    pub accepted: usize,
    /// Items that are still set aside.
    pub quarantined: usize,
    /// What a reader must know.
    pub notes: Vec<String>,
}

/// Fills what `holes` names of the items of a cohort, and the vertices that are not finite of items that were set aside for them. Seen vertices keep their places. Intervals are calibrated on the
/// whole bodies of the cohort.
///
/// # Errors
/// [`TaskError::Nothing`] for other triangles and where there is nothing to fill; what completing refuses for all items alike.
pub fn fill_holes(
    space: &Space,
    cohort: &Cohort,
    holes: &BTreeMap<String, Vec<u32>>,
    settings: &CompleteSettings,
    progress: Progress<'_>,
) -> Result<FillOutcome, TaskError> {
    same_triangles(space, cohort, "only shapes on the same template can be completed by it")?;
    let params = settings.params();
    let mut notes = Vec::new();
    let Holed { patterns, mut items } = holed(cohort, holes)?;
    let calibrations = calibrations(space, cohort, holes, &patterns, settings, &mut notes)?;
    let mut positions = BTreeMap::new();
    let of = patterns.len();
    for (done, (missing, bodies)) in patterns.iter().enumerate() {
        let factor = factor(missing, &calibrations);
        let seen = others(space, missing);
        let made: Vec<(FilledItem, Option<Vec<Point>>)> = match Completer::new(space, &seen, &params) {
            Ok(completer) => {
                bodies.par_iter().map(|(item, p)| one(&completer, item, p, &seen, missing, factor)).collect()
            }
            Err(e @ ShapeError::Setting { .. }) => return Err(e.into()),
            Err(e) => bodies
                .iter()
                .map(|(i, _)| (refused(i.clone(), missing.clone(), e.to_string()), None))
                .collect(),
        };
        for (item, filled) in made {
            if let Some(p) = filled {
                positions.insert(item.item.clone(), p);
            }
            items.push(item);
        }
        progress(done + 1, of);
    }
    items.sort_by(|a, b| a.item.cmp(&b.item));
    let outside = items.iter().filter(|i| i.outside).count();
    if outside > 0 {
        notes.push(format!("{outside} completed bodies lie further out than 99 % of people: look at them."));
    }
    let there = |i: &&Item| i.status == Status::Accepted || positions.contains_key(&i.item);
    let accepted: Vec<&Item> = cohort.items().iter().filter(there).collect();
    Ok(FillOutcome {
        people: accepted.iter().map(|i| &i.participant).collect::<BTreeSet<_>>().len(),
        quarantined: cohort.items().len() - accepted.len(),
        accepted: accepted.len(),
        positions,
        items,
        calibrations: calibrations.into_iter().map(|(_, c)| c).collect(),
        notes,
    })
}

impl FillOutcome {
    /// Items that could not be filled.
    #[must_use]
    pub fn refused(&self) -> usize {
        self.items.iter().filter(|i| i.refused.is_some()).count()
    }
}

/// The vertices of a space but these.
fn others(space: &Space, missing: &[u32]) -> Vec<u32> {
    let missing: BTreeSet<u32> = missing.iter().copied().collect();
    (0..space.mean.len() as u32).filter(|v| !missing.contains(v)).collect()
}

fn one(
    completer: &Completer<'_>,
    item: &str,
    positions: &[Point],
    seen: &[u32],
    missing: &[u32],
    factor: f64,
) -> (FilledItem, Option<Vec<Point>>) {
    let given: Vec<Point> = seen.iter().map(|v| positions[*v as usize]).collect();
    match completer.fill(&given, missing) {
        Err(e) => (refused(item.to_owned(), missing.to_vec(), e.to_string()), None),
        Ok(found) => {
            let mut whole = positions.to_vec();
            for (v, p) in missing.iter().zip(&found.positions) {
                whole[*v as usize] = *p;
            }
            let sd_mm: Vec<Point> = found.sd_mm.iter().map(|s| s.map(|x| x * factor)).collect();
            let square: f64 = sd_mm.as_flattened().iter().map(|x| x * x).sum();
            let width = normal_quantile(0.95) * (square / (3 * missing.len()) as f64).sqrt();
            let item = FilledItem {
                item: item.to_owned(),
                missing: missing.to_vec(),
                refused: None,
                residual_rms_mm: Some(found.residual_rms_mm),
                half_width_95_mm: Some(width),
                mahalanobis: Some(found.mahalanobis),
                outside: found.outside,
                factor,
                sd_mm,
            };
            (item, Some(whole))
        }
    }
}

type Calibrated = Vec<(Vec<u32>, PatternCalibration)>;

fn calibrations(
    space: &Space,
    cohort: &Cohort,
    holes: &BTreeMap<String, Vec<u32>>,
    patterns: &Patterns,
    settings: &CompleteSettings,
    notes: &mut Vec<String>,
) -> Result<Calibrated, TaskError> {
    let stills = cohort.stills();
    let whole: Vec<usize> =
        stills.into_iter().filter(|i| !holes.contains_key(&cohort.items()[*i].item)).collect();
    let people = crate::choices::people_of(cohort, &whole);
    let count = people.iter().copied().collect::<BTreeSet<usize>>().len();
    if count < LEAST_PEOPLE {
        notes.push(format!(
            "Intervals are not calibrated: {count} people of the cohort are whole, and {LEAST_PEOPLE} are needed."
        ));
        return Ok(Vec::new());
    }
    let mut order: Vec<(&Vec<u32>, usize)> = patterns.iter().map(|(p, i)| (p, i.len())).collect();
    order.sort_by(|a, b| b.1.cmp(&a.1).then(b.0.len().cmp(&a.0.len())));
    if order.len() > MOST_PATTERNS {
        notes.push(format!(
            "{} different patterns of holes: {MOST_PATTERNS} were calibrated, and every other takes the factor of the one most like it.",
            order.len()
        ));
    }
    let source = Subset::new(cohort.source(), &whole);
    let mut out = Vec::new();
    for (missing, items) in order.into_iter().take(MOST_PATTERNS) {
        let seen = others(space, missing);
        let (params, how) = (settings.params(), settings.calibration(space));
        match calibrate(&source, &people, space, &seen, &params, &how) {
            Ok(calibration) => {
                out.push((
                    missing.clone(),
                    PatternCalibration { missing: missing.len(), items, calibration },
                ));
            }
            Err(e @ ShapeError::Setting { .. }) => return Err(e.into()),
            Err(e) => {
                notes.push(format!("A pattern of {} missing vertices is not calibrated: {e}", missing.len()))
            }
        }
    }
    Ok(out)
}

/// The factor of the calibrated pattern with the largest share of vertices in common; 1 without any.
fn factor(missing: &[u32], calibrated: &Calibrated) -> f64 {
    let own: BTreeSet<u32> = missing.iter().copied().collect();
    let like = |other: &[u32]| {
        let both = other.iter().filter(|v| own.contains(v)).count() as f64;
        both / (own.len() + other.len()) as f64
    };
    calibrated
        .iter()
        .max_by(|a, b| like(&a.0).total_cmp(&like(&b.0)))
        .map_or(1.0, |(_, c)| c.calibration.factor)
}
