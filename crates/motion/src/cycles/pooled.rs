//! Functional components of dimensions over all cycles of all captures and people.

use std::collections::BTreeSet;

use serde::{Deserialize, Serialize};

use super::components::{CurveComponents, curve_components};
use crate::MotionError;
use crate::changes::CaptureCourses;

/// Fewest cycles for components: with fewer they repeat the curves (chosen, no source).
const FEWEST: usize = 3;

/// Which cycle a curve is.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct CurveOf {
    /// Who.
    pub participant: String,
    /// Which capture.
    pub capture: String,
    /// Which of the capture's cycles, from 1.
    pub cycle: usize,
}

/// The functional components of a dimension's curves over the cycle.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct DimensionComponents {
    /// Name of the dimension.
    pub dimension: String,
    /// Its unit.
    pub unit: String,
    /// Number of people. Cycles are not people.
    pub people: usize,
    /// Number of captures.
    pub captures: usize,
    /// Which cycle each curve is, in the order of the scores.
    pub curves: Vec<CurveOf>,
    /// Mean, eigenfunctions, variances and scores.
    pub components: CurveComponents,
}

/// The components of every dimension with three cycles or more, in the order of the dimensions' first appearance.
///
/// # Errors
/// Those of [`curve_components`].
pub fn dimension_components(
    captures: &[CaptureCourses],
    most: usize,
) -> Result<Vec<DimensionComponents>, MotionError> {
    let mut names: Vec<(&str, &str)> = Vec::new();
    for course in captures.iter().flat_map(|c| &c.courses) {
        if !names.iter().any(|n| n.0 == course.dimension) {
            names.push((&course.dimension, &course.unit));
        }
    }
    let mut made = Vec::new();
    for (name, unit) in names {
        let (mut curves, mut of) = (Vec::new(), Vec::new());
        for capture in captures {
            for band in capture.courses.iter().filter(|c| c.dimension == name).filter_map(|c| c.band.as_ref())
            {
                for (curve, cycle) in band.curves.iter().zip(&band.cycles) {
                    curves.push(curve.clone());
                    of.push(CurveOf {
                        participant: capture.participant.clone(),
                        capture: capture.capture.clone(),
                        cycle: cycle + 1,
                    });
                }
            }
        }
        if curves.len() < FEWEST {
            continue;
        }
        made.push(DimensionComponents {
            dimension: name.to_owned(),
            unit: unit.to_owned(),
            people: of.iter().map(|c| &c.participant).collect::<BTreeSet<_>>().len(),
            captures: of.iter().map(|c| &c.capture).collect::<BTreeSet<_>>().len(),
            components: curve_components(&curves, most)?,
            curves: of,
        });
    }
    Ok(made)
}
