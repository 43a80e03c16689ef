//! A size system and a space -> the mannequin of every size: the mean body of people of its mid-point, measured again.

use std::collections::BTreeMap;

use formkin_geometry::Point;
use formkin_shape::{ShapeError, Space};
use formkin_sizing::{Range, Size, SizeSystem};
use rayon::prelude::*;
use serde::{Deserialize, Serialize};

use crate::TaskError;
use crate::predict::{Method, PredictJob, millimetres, predict};
use crate::space::levels;

/// How near to the size's mid-point the mesh must come, in mm.
const NEAR_MM: f64 = 2.0;

/// The mannequin of a size.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Mannequin {
    /// The size.
    pub size: String,
    /// Its group.
    pub group: String,
    /// Vertices in mm, z up, the lowest at 0.
    pub positions: Vec<Point>,
    /// What was given, and what came out on the mesh; given ones first.
    pub dimensions: Vec<MannequinDimension>,
    /// How often it was measured.
    pub rounds: usize,
    /// Largest distance of a given length from its target on the mesh, in mm.
    pub largest_miss_mm: Option<f64>,
    /// Whether every given length is within 2 mm of its target; None where nothing was measured.
    pub on_target: Option<bool>,
    /// Mahalanobis distance of the mid-point from the mean.
    pub mahalanobis: f64,
    /// Whether the mid-point lies further out than 99 % of people.
    pub outside: bool,
}

/// A dimension of a mannequin.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct MannequinDimension {
    /// Its name.
    pub name: String,
    /// Its unit.
    pub unit: Option<String>,
    /// Whether it was given.
    pub given: bool,
    /// The given value; else what people with the given values have on average.
    pub target: f64,
    /// What the mesh has; None where it is not taken on meshes or could not be.
    pub measured: Option<f64>,
}

/// The mannequins of a system, and what a reader must know of them.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct Mannequins {
    /// One a size, where it could be made.
    pub bodies: Vec<Mannequin>,
    /// Why some have none, and what was left out.
    pub notes: Vec<String>,
}

/// The middle of a size's range: where its wearers' middle lies.
pub(super) fn middle(range: &Range) -> f64 {
    (range.low + range.high) / 2.0
}

/// Makes the mannequin of every size: the conditional mean of the space at the middle of the size's ranges (and of its group, where the space knows the column), measured and
/// moved until every given length is within 2 mm.
///
/// # Errors
/// What the space refuses.
pub fn mannequins(space: &Space, system: &SizeSystem) -> Result<Mannequins, TaskError> {
    let mut notes = Vec::new();
    let Some(moments) = &space.regression else {
        notes.push(if space.is_merged() {
            "There are no mannequins: merged spaces hold no dimensions. Take a space built from scans with --dimensions.".to_owned()
        } else {
            "There are no mannequins: the space was built without dimensions, or of too few people, and cannot predict bodies.".to_owned()
        });
        return Ok(Mannequins { bodies: Vec::new(), notes });
    };
    let mut unknown: Vec<&str> = Vec::new();
    for control in &system.controls {
        let known = moments
            .position(&control.dimension)
            .is_some_and(|v| factor(control.unit.as_deref(), moments.variables[v].unit.as_deref()).is_some());
        if !known {
            unknown.push(&control.dimension);
        }
    }
    if unknown.len() == system.controls.len() {
        notes.push(format!("There are no mannequins: the space knows none of {}.", unknown.join(", ")));
        return Ok(Mannequins { bodies: Vec::new(), notes });
    }
    if !unknown.is_empty() {
        notes
            .push(format!("Mannequins are not those of {}: the space does not know it.", unknown.join(", ")));
    }
    if let Some(by) = &system.plan.by
        && system.groups.iter().any(|g| !levels(moments, by).iter().any(|(_, l)| *l == g.group))
    {
        notes.push(format!("Mannequins are of all people and not of their group: the space does not know all groups of `{by}`."));
    }
    let sizes: Vec<&Size> = system.groups.iter().flat_map(|g| &g.sizes).collect();
    let made: Vec<Result<Mannequin, TaskError>> =
        sizes.par_iter().map(|size| mannequin(space, system, size)).collect();
    let bodies = match made.into_iter().collect::<Result<Vec<_>, _>>() {
        Ok(bodies) => bodies,
        Err(TaskError::Shape(reason @ ShapeError::TooManyGiven { .. })) => {
            notes.push(format!("There are no mannequins: {reason}."));
            return Ok(Mannequins { bodies: Vec::new(), notes });
        }
        Err(e) => return Err(e),
    };
    let far: Vec<&str> =
        bodies.iter().filter(|b| b.on_target == Some(false)).map(|b| b.size.as_str()).collect();
    if !far.is_empty() {
        notes.push(format!(
            "On the mannequins of {} a control dimension is more than {NEAR_MM} mm from the size's mid-point.",
            far.join(", ")
        ));
    }
    let outside: Vec<&str> = bodies.iter().filter(|b| b.outside).map(|b| b.size.as_str()).collect();
    if !outside.is_empty() {
        notes.push(format!(
            "The mid-points of {} lie further out than 99 % of people: their mannequins are extrapolated.",
            outside.join(", ")
        ));
    }
    Ok(Mannequins { bodies, notes })
}

fn mannequin(space: &Space, system: &SizeSystem, size: &Size) -> Result<Mannequin, TaskError> {
    let Some(moments) = &space.regression else {
        return Err(TaskError::Space { reason: "it cannot predict bodies".to_owned() });
    };
    let mut values = BTreeMap::new();
    for range in &size.ranges {
        if let Some(v) = moments.position(&range.dimension)
            && let Some(f) = factor(range.unit.as_deref(), moments.variables[v].unit.as_deref())
        {
            values.insert(range.dimension.clone(), middle(range) * f);
        }
    }
    let mut group = BTreeMap::new();
    if let Some(by) = &system.plan.by
        && levels(moments, by).iter().any(|(_, level)| *level == size.group)
    {
        group.insert(by.clone(), size.group.clone());
    }
    let job =
        PredictJob { values, levels: group, errors: BTreeMap::new(), method: Method::ConditionalNormal };
    let found = predict(space, &job)?;
    let mut dimensions: Vec<MannequinDimension> = found
        .dimensions
        .into_iter()
        .map(|d| MannequinDimension {
            given: d.target.is_some(),
            target: d.target.unwrap_or(d.expected),
            measured: d.measured,
            name: d.name,
            unit: d.unit,
        })
        .collect();
    dimensions.sort_by_key(|d| !d.given);
    Ok(Mannequin {
        size: size.name.clone(),
        group: size.group.clone(),
        positions: found.positions,
        dimensions,
        rounds: found.rounds,
        largest_miss_mm: found.largest_miss_mm,
        on_target: found.largest_miss_mm.map(|m| m <= NEAR_MM),
        mahalanobis: found.mahalanobis,
        outside: found.outside,
    })
}

/// From one unit to another: 1 where they are the same, the ratio where both are lengths.
fn factor(from: Option<&str>, to: Option<&str>) -> Option<f64> {
    if from == to {
        return Some(1.0);
    }
    Some(millimetres(from)? / millimetres(to)?)
}
