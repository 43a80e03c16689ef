//! The course of one dimension through a movement.

use serde::{Deserialize, Serialize};

use crate::{Reference, Timing, dominant_frequency};

/// The course of one dimension. Change is 100 (d - d_reference) / d_reference, in %.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Curve {
    /// Name of the dimension.
    pub dimension: String,
    /// Its unit.
    pub unit: String,
    /// The time stamps, in s.
    pub times_s: Vec<f64>,
    /// One value a frame; `None` where it could not be taken.
    pub values: Vec<Option<f64>>,
    /// How many frames have no value.
    pub missing: usize,
    /// Why the first missing value is missing, where that is known.
    pub reason_missing: Option<String>,
    /// Number of people: one.
    pub people: usize,
    /// The value in the reference pose; `None` where it could not be taken.
    pub reference: Option<f64>,
    /// Which pose that is: "frame 0" or "mean of the values of all frames".
    pub reference_pose: String,
    /// On what the dimension was taken: whether its ring was kept or it was taken anew in each frame.
    pub taken_on: String,
    /// The smallest value; this and what follows is `None` where no frame has a value.
    pub min: Option<f64>,
    /// The largest value.
    pub max: Option<f64>,
    /// max - min.
    pub range: Option<f64>,
    /// Change from the reference at the smallest value, in %.
    pub change_min_percent: Option<f64>,
    /// Change from the reference at the largest value, in %.
    pub change_max_percent: Option<f64>,
    /// When it is smallest (first such frame), in s.
    pub time_at_min_s: Option<f64>,
    /// When it is largest (first such frame), in s.
    pub time_at_max_s: Option<f64>,
    /// Where in `phase_of` it is smallest, in %.
    pub phase_at_min_percent: Option<f64>,
    /// Where in `phase_of` it is largest, in %.
    pub phase_at_max_percent: Option<f64>,
    /// What phases are a part of.
    pub phase_of: PhaseOf,
}

/// What a phase is a part of.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(tag = "kind", rename_all = "kebab-case")]
pub enum PhaseOf {
    /// Cycles of 1 / hz counted from the first time stamp, of a frequency that the caller gave.
    GivenCycle {
        /// Cycles a second.
        hz: f64,
    },
    /// Cycles of 1 / hz counted from the first time stamp, hz the dominant frequency of the curve itself.
    OwnCycle {
        /// Cycles a second.
        hz: f64,
    },
    /// The whole record, first to last time stamp: no cycle was found.
    Record,
}

impl Curve {
    /// Describes the values of a dimension over time, however they were taken; [`crate::curves()`] takes them. `cycle_hz`: the movement's frequency where it is known, else it is
    /// looked for in the values. There are as many values as times.
    #[must_use]
    pub fn of(
        dimension: &str,
        unit: &str,
        (times_s, timing): (&[f64], &Timing),
        values: Vec<Option<f64>>,
        reference: Reference,
        cycle_hz: Option<f64>,
    ) -> Self {
        let present: Vec<f64> = values.iter().flatten().copied().collect();
        let missing = values.len() - present.len();
        let (reference_value, reference_pose) = match reference {
            Reference::Frame(f) => (values.get(f).copied().flatten(), format!("frame {f}")),
            Reference::Mean => (
                (!present.is_empty()).then(|| present.iter().sum::<f64>() / present.len() as f64),
                "mean of the values of all frames".to_owned(),
            ),
        };
        let phase_of = match (cycle_hz, timing.fps) {
            (Some(hz), _) if hz > 0.0 => PhaseOf::GivenCycle { hz },
            (_, Some(fps)) if missing == 0 => match dominant_frequency(&present, fps) {
                Ok(f) => PhaseOf::OwnCycle { hz: f.hz },
                Err(_) => PhaseOf::Record,
            },
            _ => PhaseOf::Record,
        };
        let start = times_s.first().copied().unwrap_or(0.0);
        let phase = |t: f64| match phase_of {
            PhaseOf::GivenCycle { hz } | PhaseOf::OwnCycle { hz } => Some(100.0 * ((t - start) * hz).fract()),
            PhaseOf::Record => (timing.duration_s > 0.0).then(|| 100.0 * (t - start) / timing.duration_s),
        };
        // the first frame of the smallest of sign x value
        let extreme = |sign: f64| {
            let mut found: Option<(usize, f64)> = None;
            for (i, v) in values.iter().enumerate().filter_map(|(i, v)| v.map(|v| (i, v))) {
                if found.is_none_or(|(_, best)| sign * v < sign * best) {
                    found = Some((i, v));
                }
            }
            found
        };
        let change = |v: f64| reference_value.filter(|r| *r != 0.0).map(|r| 100.0 * (v - r) / r);
        let (low, high) = (extreme(1.0), extreme(-1.0));
        let time = |e: Option<(usize, f64)>| e.and_then(|(i, _)| times_s.get(i).copied());
        Self {
            dimension: dimension.to_owned(),
            unit: unit.to_owned(),
            times_s: times_s.to_vec(),
            missing,
            people: 1,
            reference: reference_value,
            reference_pose,
            taken_on: "values as given".to_owned(),
            reason_missing: None,
            min: low.map(|e| e.1),
            max: high.map(|e| e.1),
            range: low.zip(high).map(|(l, h)| h.1 - l.1),
            change_min_percent: low.and_then(|e| change(e.1)),
            change_max_percent: high.and_then(|e| change(e.1)),
            time_at_min_s: time(low),
            time_at_max_s: time(high),
            phase_at_min_percent: time(low).and_then(phase),
            phase_at_max_percent: time(high).and_then(phase),
            phase_of,
            values,
        }
    }
}

#[cfg(test)]
mod tests {
    use std::f64::consts::TAU;

    use super::*;

    fn times(n: usize, fps: f64) -> (Vec<f64>, Timing) {
        let t: Vec<f64> = (0..n).map(|i| 10.0 + i as f64 / fps).collect();
        let timing = Timing::of(&t, n).unwrap();
        (t, timing)
    }

    #[test]
    fn a_sine_gives_its_range_change_and_phases() {
        let (t, timing) = times(400, 100.0);
        let v = t.iter().map(|t| Some(1000.0 + 50.0 * (TAU * 2.0 * (t - 10.0)).sin())).collect();
        let c = Curve::of("chest_girth", "mm", (&t, &timing), v, Reference::Frame(0), None);
        assert!((c.range.unwrap() - 100.0).abs() < 0.5 && (c.change_max_percent.unwrap() - 5.0).abs() < 0.05);
        assert!((c.change_min_percent.unwrap() + 5.0).abs() < 0.05);
        let PhaseOf::OwnCycle { hz } = c.phase_of else { panic!("{:?}", c.phase_of) };
        assert!((hz - 2.0).abs() < 0.02);
        assert!((c.phase_at_max_percent.unwrap() - 25.0).abs() < 3.0, "{:?}", c.phase_at_max_percent);
        // of several equal minima the first in floating point is named: its phase is what counts
        assert!((c.phase_at_min_percent.unwrap() - 75.0).abs() < 5.0, "{:?}", c.phase_at_min_percent);
    }

    #[test]
    fn without_a_cycle_the_phase_is_of_the_record() {
        let (t, timing) = times(11, 10.0);
        let v: Vec<Option<f64>> = (0..11).map(|i| (i != 3).then(|| f64::from(i))).collect();
        let c = Curve::of("reach", "mm", (&t, &timing), v, Reference::Mean, None);
        assert_eq!((c.missing, c.phase_of), (1, PhaseOf::Record));
        assert_eq!((c.phase_at_min_percent, c.phase_at_max_percent), (Some(0.0), Some(100.0)));
        assert!((c.reference.unwrap() - 5.2).abs() < 1e-12);
        let given = Curve::of("reach", "mm", (&t, &timing), c.values.clone(), Reference::Frame(3), Some(4.0));
        assert_eq!((given.reference, given.change_max_percent), (None, None));
        assert_eq!(given.phase_of, PhaseOf::GivenCycle { hz: 4.0 });
    }

    #[test]
    fn a_dimension_that_was_never_taken_has_no_numbers() {
        let (t, timing) = times(5, 10.0);
        let c = Curve::of("reach", "mm", (&t, &timing), vec![None; 5], Reference::Mean, None);
        assert_eq!((c.missing, c.min, c.reference, c.phase_at_max_percent), (5, None, None, None));
    }
}
