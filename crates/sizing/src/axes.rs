//! The control dimensions as axes: how far a person is from a size, over the tolerances.

use std::cmp::Ordering;

use formkin_table::Table;

use crate::length::mm_per;
use crate::{Control, ControlInfo, Loss, SizingError, Types};

/// Room for rounding, over the tolerance: a person exactly at a limit is within it.
const ROUNDING: f64 = 1e-9;

/// A control dimension in the unit of its column.
#[derive(Debug, Clone)]
pub(crate) struct Axis {
    pub(crate) info: ControlInfo,
    /// Millimetres in a unit, for lengths of a known unit.
    pub(crate) mm: Option<f64>,
    /// Ascending bounds of the intervals of a grid, if the plan gives them.
    pub(crate) bounds: Option<Vec<f64>>,
    /// What too small and too large garments cost.
    pub(crate) loss: Option<Loss>,
    /// How much the dimension grows and shrinks in movement.
    pub(crate) allowance: (f64, f64),
    /// Values of a size type, in nested sizes.
    pub(crate) types: Option<Types>,
}

impl Axis {
    /// Brings the plan's tolerance, step and scale into the column's unit.
    pub(crate) fn of(control: &Control, table: &Table) -> Result<Self, SizingError> {
        let column = table
            .number(&control.dimension)
            .map_err(|source| SizingError::Column { role: "control dimension", source })?;
        let factor = match (&column.unit, &control.unit) {
            (Some(column_unit), Some(unit)) if column_unit != unit => {
                match (mm_per(column_unit), mm_per(unit)) {
                    (Some(own), Some(given)) => given / own,
                    _ => {
                        return Err(SizingError::Unit {
                            dimension: control.dimension.clone(),
                            column: column_unit.clone(),
                            unit: unit.clone(),
                        });
                    }
                }
            }
            _ => 1.0,
        };
        let unit = column.unit.clone().or_else(|| control.unit.clone());
        let (below, above) = (control.tolerance.below * factor, control.tolerance.above * factor);
        let bounds = control
            .intervals
            .as_ref()
            .map(|i| i.bounds(&control.dimension, column.unit.as_deref(), factor))
            .transpose()?;
        let allowance = control.allowance.unwrap_or_default();
        Ok(Self {
            bounds,
            loss: control.loss.map(|l| Loss {
                free_below: l.free_below * factor,
                free_above: l.free_above * factor,
                ..l
            }),
            allowance: (allowance.grows * factor, allowance.shrinks * factor),
            types: control.types,
            mm: unit.as_deref().and_then(mm_per),
            info: ControlInfo {
                dimension: column.name.clone(),
                unit,
                below,
                above,
                step: control.step.map(|s| s * factor),
                scale: control.scale.map_or((below + above) / 2.0, |s| s * factor),
            },
        })
    }

    /// Rounds a size's value to the step.
    pub(crate) fn round(&self, value: f64) -> f64 {
        // Adding 0 turns -0 into 0.
        self.info.step.map_or(value, |step| (value / step).round() * step) + 0.0
    }
}

/// A size on the axes: its value and how far a wearer may be from it. Most methods give every size the tolerances of the plan; intervals and charts have their own.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Place {
    pub(crate) centre: Vec<f64>,
    pub(crate) below: Vec<f64>,
    pub(crate) above: Vec<f64>,
    /// Whether the upper limits belong to the next size.
    pub(crate) half_open: bool,
}

impl Place {
    /// With the tolerances of the axes.
    pub(crate) fn of(centre: Vec<f64>, axes: &[Axis]) -> Self {
        Self {
            centre,
            below: axes.iter().map(|a| a.info.below).collect(),
            above: axes.iter().map(|a| a.info.above).collect(),
            half_open: false,
        }
    }

    /// The same size elsewhere.
    pub(crate) fn moved(&self, by: &[f64]) -> Self {
        Self { centre: self.centre.iter().zip(by).map(|(c, b)| c + b).collect(), ..self.clone() }
    }

    /// A person's deviation from the value, over the tolerance on its side: 0 to 1 where the size covers.
    fn deviation(&self, axis: usize, person: f64) -> f64 {
        let away = person - self.centre[axis];
        if away < 0.0 {
            -away / self.below[axis]
        } else if self.half_open && away >= self.above[axis] {
            (away / self.above[axis]).max(1.0 + 2.0 * ROUNDING)
        } else {
            away / self.above[axis]
        }
    }

    /// Above 0: larger than the upper limit by so much; under 0: smaller than the lower one; None within.
    pub(crate) fn miss(&self, axis: usize, person: f64) -> Option<f64> {
        let away = person - self.centre[axis];
        if self.deviation(axis, person) <= 1.0 + ROUNDING {
            None
        } else if away > 0.0 {
            Some(away - self.above[axis])
        } else {
            Some(away + self.below[axis])
        }
    }

    /// Distance from the nearer limit, inside or outside.
    pub(crate) fn to_limit(&self, axis: usize, person: f64) -> f64 {
        let away = person - self.centre[axis];
        (away + self.below[axis]).abs().min((away - self.above[axis]).abs())
    }

    /// Largest distance of another size's value, over the tolerance on its side.
    pub(crate) fn apart(&self, other: &Self) -> f64 {
        (0..self.centre.len()).map(|j| self.deviation(j, other.centre[j])).fold(0.0, f64::max)
    }
}

/// How far a person is from a size.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Misfit {
    /// Largest deviation over its tolerance: 1 is the limit.
    pub(crate) largest: f64,
    /// Root of the sum of squared deviations over their tolerances.
    pub(crate) together: f64,
}

impl Misfit {
    pub(crate) fn of(person: &[f64], place: &Place) -> Self {
        let (mut largest, mut squares) = (0.0_f64, 0.0);
        for (axis, p) in person.iter().enumerate() {
            let d = place.deviation(axis, *p);
            largest = largest.max(d);
            squares += d * d;
        }
        Self { largest, together: squares.sqrt() }
    }

    pub(crate) fn covers(self) -> bool {
        self.largest <= 1.0 + ROUNDING
    }

    /// Whether this is nearer, further, or as near up to rounding: by the largest deviation, then by all together.
    pub(crate) fn compare(self, other: Self) -> Ordering {
        let close = |a: f64, b: f64| (a - b).abs() <= ROUNDING * (1.0 + a.abs().max(b.abs()));
        if !close(self.largest, other.largest) {
            self.largest.total_cmp(&other.largest)
        } else if !close(self.together, other.together) {
            self.together.total_cmp(&other.together)
        } else {
            Ordering::Equal
        }
    }
}

/// The nearest size of ascending `places`, ties to the larger: the last of those equally near. There must be one.
///
/// Nearest means the least largest deviation over its tolerance. So the nearest size covers a person if any does.
pub(crate) fn nearest(person: &[f64], places: &[Place]) -> (usize, Misfit) {
    let mut best = (0, Misfit { largest: f64::INFINITY, together: f64::INFINITY });
    for (c, place) in places.iter().enumerate() {
        let misfit = Misfit::of(person, place);
        if c == 0 || misfit.compare(best.1).is_le() {
            best = (c, misfit);
        }
    }
    best
}

/// Ascending by the first axis, then the next.
pub(crate) fn lexical(a: &[f64], b: &[f64]) -> Ordering {
    a.iter().zip(b).map(|(x, y)| x.total_cmp(y)).find(|o| o.is_ne()).unwrap_or(Ordering::Equal)
}

/// Ascending order of two sizes.
pub(crate) fn by_value(a: &Place, b: &Place) -> Ordering {
    lexical(&a.centre, &b.centre)
}

/// Axes in mm for tests: (below, above) each.
#[cfg(test)]
pub(crate) fn axes_of(tolerances: &[(f64, f64)]) -> Vec<Axis> {
    tolerances
        .iter()
        .enumerate()
        .map(|(i, &(below, above))| Axis {
            mm: Some(1.0),
            bounds: None,
            loss: None,
            allowance: (0.0, 0.0),
            types: None,
            info: ControlInfo {
                dimension: format!("d{i}"),
                unit: Some("mm".to_owned()),
                below,
                above,
                step: None,
                scale: (below + above) / 2.0,
            },
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn limits_belong_to_the_size_and_sides_differ() {
        let axes = axes_of(&[(20.0, 40.0)]);
        for (person, covered) in [(80.0, true), (79.9, false), (140.0, true), (140.1, false), (100.0, true)] {
            assert_eq!(Misfit::of(&[person], &Place::of(vec![100.0], &axes)).covers(), covered, "{person}");
        }
        assert_eq!(Place::of(vec![100.0], &axes).miss(0, 150.0), Some(10.0));
        assert_eq!(Place::of(vec![100.0], &axes).miss(0, 70.0), Some(-10.0));
        assert_eq!(Place::of(vec![100.0], &axes).miss(0, 80.0), None);
        assert_eq!(Place::of(vec![100.0], &axes).to_limit(0, 83.0), 3.0);
        assert_eq!(Place::of(vec![100.0], &axes).to_limit(0, 143.0), 3.0);
        // 1000.1 - 960.1 is a little over 40 in binary.
        assert!(Misfit::of(&[1000.1], &Place::of(vec![960.1], &axes_of(&[(40.0, 40.0)]))).covers());
    }

    #[test]
    fn ties_go_to_the_larger() {
        let axes = axes_of(&[(40.0, 40.0), (35.0, 35.0)]);
        let centres =
            [vec![900.0, 1700.0], vec![980.0, 1700.0], vec![980.0, 1770.0]].map(|c| Place::of(c, &axes));
        // Between the first two in the first dimension, at both values in the second.
        assert_eq!(nearest(&[940.0, 1700.0], &centres).0, 1);
        // In the second dimension between the last two.
        assert_eq!(nearest(&[980.0, 1735.0], &centres).0, 2);
        // The largest deviation is the same, the other is not.
        assert_eq!(nearest(&[940.0, 1720.0], &centres[..2]).0, 1);
        assert_eq!(nearest(&[941.0, 1700.0], &centres).0, 1);
        assert_eq!(nearest(&[939.0, 1700.0], &centres).0, 0);
    }

    #[test]
    fn the_nearest_covers_if_any_does() {
        let axes = axes_of(&[(40.0, 40.0), (40.0, 40.0)]);
        // By the sum of squares the second would be nearer (41 and 0 against 39 and 39), and would not cover.
        let centres = [vec![61.0, 61.0], vec![141.0, 100.0]].map(|c| Place::of(c, &axes));
        let (size, misfit) = nearest(&[100.0, 100.0], &centres);
        assert_eq!(size, 0);
        assert!(misfit.covers());
    }

    #[test]
    fn steps_round_to_multiples() {
        let mut axis = axes_of(&[(40.0, 40.0)]).remove(0);
        axis.info.step = Some(10.0);
        assert_eq!(axis.round(1034.9), 1030.0);
        assert_eq!(axis.round(1035.1), 1040.0);
    }
}
