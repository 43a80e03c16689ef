//! Functional components of dimensions over all cycles of all captures and people.
//!
//! Curves are taken as changes from the reference pose of their capture where all captures have one: else the components would be those of how large
//! people are.

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
    /// Whether the curves are changes from the reference pose.
    pub changes: bool,
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
        let with_bands = captures.iter().flat_map(|c| &c.courses);
        let mut with_bands = with_bands.filter(|c| c.dimension == name && c.band.is_some());
        let changes = with_bands.all(|c| c.reference.is_some());
        for capture in captures {
            let named = capture.courses.iter().filter(|c| c.dimension == name);
            for (course, band) in named.filter_map(|c| c.band.as_ref().map(|b| (c, b))) {
                let from = course.reference.filter(|_| changes).unwrap_or(0.0);
                for (curve, cycle) in band.curves.iter().zip(&band.cycles) {
                    curves.push(curve.iter().map(|v| v - from).collect::<Vec<f64>>());
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
            changes,
            captures: of.iter().map(|c| &c.capture).collect::<BTreeSet<_>>().len(),
            components: curve_components(&curves, most)?,
            curves: of,
        });
    }
    Ok(made)
}

#[cfg(test)]
mod tests {
    use std::f64::consts::TAU;

    use super::*;
    use crate::changes::DimensionCourse;
    use crate::cycles::cycle::Cycles;
    use crate::{Curve, Reference, Timing};

    /// A person of this size whose dimension swings by a size that differs from cycle to cycle.
    fn capture(who: &str, size: f64, swing: f64) -> CaptureCourses {
        let t: Vec<f64> = (0..601).map(|i| f64::from(i) * 0.01).collect();
        let timing = Timing::of(&t, t.len()).unwrap();
        let cycles = Cycles::between(&[0.0, 1.0, 2.0, 3.0, 4.0, 5.0, 6.0], |_, _| true, 3.0).unwrap();
        let v = t
            .iter()
            .map(|t| Some(size + swing * (1.0 + 0.02 * t.floor()) * (1.0 - (TAU * t).cos())))
            .collect();
        let curve = Curve::of("chest_girth", "mm", (&t, &timing), v, Reference::Frame(0), None);
        CaptureCourses {
            participant: who.to_owned(),
            capture: format!("{who}_walk"),
            courses: vec![DimensionCourse::of(&curve, Some(&cycles), None).unwrap()],
        }
    }

    #[test]
    fn how_large_people_are_is_no_component() {
        let all = [capture("a", 900.0, 10.0), capture("b", 1100.0, 14.0)];
        let found = dimension_components(&all, 5).unwrap();
        let d = &found[0];
        assert!(d.changes && (d.people, d.captures, d.curves.len()) == (2, 2, 12), "{d:?}");
        // the swing alone: its mean is that of both, its SD a few mm
        assert!(d.components.mean[0].abs() < 0.5 && (d.components.mean[50] - 24.0).abs() < 2.0);
        assert!(d.components.total_variance.sqrt() < 6.0);
        assert_eq!((d.curves[7].participant.as_str(), d.curves[7].cycle), ("b", 2));
    }
}
