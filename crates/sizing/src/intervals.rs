//! Intervals of a control dimension: steps and bounds of the plan, or those remembered of EN 13402-3.

use serde::{Deserialize, Serialize};

use crate::SizingError;
use crate::length::mm_per;

/// Most intervals of a dimension.
const MOST: usize = 1000;

/// The intervals of a grid on one control dimension. They are half open: the lower bound belongs to the interval, the upper one to the next.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(
    untagged,
    expecting = "it must be { from = 80, to = 120, step = 4 }, a list of ascending bounds, or the name of a standard's steps in quotation marks"
)]
pub enum Intervals {
    /// From a bound to a bound by a step, in the control's unit.
    Steps {
        /// The lowest bound.
        from: f64,
        /// The highest bound.
        to: f64,
        /// Width of an interval.
        step: f64,
    },
    /// Ascending bounds, in the control's unit.
    Bounds(Vec<f64>),
    /// The steps of a standard by name, in cm: see [`STANDARD`].
    Standard(String),
}

/// Size values from, to, by a step.
pub type Run = (f64, f64, f64);

/// Steps of EN 13402-3 by name, in cm: size values from, to, by; the intervals end half way between values. From memory of the tables of 2004/05; the edition of 2017 may differ:
/// check them against the edition that applies before use. They are not a claim of conformity.
pub const STANDARD: [(&str, &[Run]); 6] = [
    ("EN 13402-3 women bust", &[(76.0, 104.0, 4.0), (110.0, 152.0, 6.0)]),
    ("EN 13402-3 women waist", &[(60.0, 88.0, 4.0), (94.0, 136.0, 6.0)]),
    ("EN 13402-3 women hip", &[(84.0, 112.0, 4.0), (117.0, 152.0, 5.0)]),
    ("EN 13402-3 men chest", &[(84.0, 120.0, 4.0), (126.0, 144.0, 6.0)]),
    ("EN 13402-3 men waist", &[(72.0, 108.0, 4.0), (114.0, 132.0, 6.0)]),
    ("EN 13402-3 height", &[(156.0, 204.0, 8.0)]),
];

impl Intervals {
    /// Ascending bounds in the column's unit; `factor` turns the control's unit into it.
    pub(crate) fn bounds(
        &self,
        dimension: &str,
        column_unit: Option<&str>,
        factor: f64,
    ) -> Result<Vec<f64>, SizingError> {
        let wrong = |reason: String| SizingError::Intervals { dimension: dimension.to_owned(), reason };
        let bounds: Vec<f64> = match self {
            Self::Steps { from, to, step } => {
                if !(from.is_finite() && to.is_finite() && *step > 0.0 && to > from) {
                    return Err(wrong(format!(
                        "from {from} to {to} by {step} holds none; `from` must be below `to` and `step` above 0"
                    )));
                }
                let steps = ((to - from) / step).round();
                if ((to - from) / step - steps).abs() > 1e-6 || steps > MOST as f64 {
                    return Err(wrong(format!(
                        "from {from} to {to} is not a whole number of steps of {step} (at most {MOST}); change one of them"
                    )));
                }
                (0..=steps as usize).map(|s| (from + s as f64 * step) * factor).collect()
            }
            Self::Bounds(bounds) => bounds.iter().map(|b| b * factor).collect(),
            Self::Standard(name) => {
                let Some((_, runs)) = STANDARD.iter().find(|(n, _)| n == name) else {
                    let known: Vec<&str> = STANDARD.iter().map(|(n, _)| *n).collect();
                    return Err(wrong(format!("`{name}` is not known; known are {}", known.join(", "))));
                };
                let Some(mm) = column_unit.and_then(mm_per) else {
                    return Err(wrong(
                        "the steps are in cm, and the column is not a length in mm, cm or m".to_owned(),
                    ));
                };
                standard(runs).into_iter().map(|b| b * 10.0 / mm).collect()
            }
        };
        if bounds.len() < 2
            || bounds.iter().any(|b| !b.is_finite())
            || bounds.windows(2).any(|b| b[0] >= b[1])
        {
            return Err(wrong("bounds must be at least two, and ascending".to_owned()));
        }
        Ok(bounds)
    }

    /// What must be known of them, where they are a standard's.
    pub(crate) fn note(&self) -> Option<String> {
        match self {
            Self::Standard(name) => Some(format!(
                "Intervals `{name}` are from memory of the tables of 2004/05: check them against the edition that applies. No conformity is claimed."
            )),
            _ => None,
        }
    }
}

/// Bounds half way between the values of runs.
fn standard(runs: &[Run]) -> Vec<f64> {
    let values: Vec<f64> = runs
        .iter()
        .flat_map(|(from, to, by)| {
            (0..=((to - from) / by).round() as usize).map(move |s| from + s as f64 * by)
        })
        .collect();
    let mut bounds: Vec<f64> = values.windows(2).map(|v| (v[0] + v[1]) / 2.0).collect();
    if let ([first, .., last], [.., (_, _, by)]) = (values.as_slice(), runs) {
        bounds.insert(0, first - runs[0].2 / 2.0);
        bounds.push(last + by / 2.0);
    }
    bounds
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn steps_and_standards() {
        let steps = Intervals::Steps { from: 80.0, to: 92.0, step: 4.0 };
        assert_eq!(steps.bounds("d", Some("mm"), 10.0).unwrap(), [800.0, 840.0, 880.0, 920.0]);
        assert!(Intervals::Steps { from: 80.0, to: 91.0, step: 4.0 }.bounds("d", None, 1.0).is_err());
        let chest =
            Intervals::Standard("EN 13402-3 men chest".to_owned()).bounds("d", Some("mm"), 1.0).unwrap();
        assert_eq!((chest[0], chest[1], chest[chest.len() - 1]), (820.0, 860.0, 1470.0));
        assert_eq!(chest.len(), 15);
        let unknown = Intervals::Standard("nothing".to_owned()).bounds("d", Some("mm"), 1.0).unwrap_err();
        assert!(unknown.to_string().contains("EN 13402-3 men waist"));
        assert!(Intervals::Bounds(vec![2.0, 1.0]).bounds("d", None, 1.0).is_err());
    }
}
