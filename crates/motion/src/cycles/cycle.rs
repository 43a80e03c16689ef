//! Cycles between events, and which are set aside.
//!
//! A cycle runs from one event to the next. It is set aside where the signal has a gap in it that was not interpolated, or where its
//! length is further from the median length than three times 1.4826 MAD, the estimate of the SD by the median absolute deviation
//! (common practice). Lengths that agree to a sampling step are never outliers. A cycle of fewer than ten frames has no course that could be
//! drawn to 101 points (chosen, no source): it is set aside too, and where that leaves none the events are refused.

use formkin_stats::quantile::{MAD_TO_SD, mad, median};
use serde::{Deserialize, Serialize};

use super::events::{Event, events};
use crate::fault::CyclesFault;
use crate::signal::gaps::{LONGEST_GAP_S, Pieces};
use crate::{MotionError, Timing};

/// How cycles are found.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct CycleParams {
    /// What begins a cycle.
    pub event: Event,
    /// The cycles' frequency, in Hz; looked for in the signal where absent.
    pub hz: Option<f64>,
    /// Gaps up to so many seconds are interpolated.
    pub longest_gap_s: f64,
    /// A cycle is set aside when it is further than so many 1.4826 MAD from the median.
    pub reject_beyond: f64,
}

impl Default for CycleParams {
    fn default() -> Self {
        Self { event: Event::default(), hz: None, longest_gap_s: LONGEST_GAP_S, reject_beyond: 3.0 }
    }
}

/// Why a cycle is set aside.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(tag = "reason", rename_all = "kebab-case")]
pub enum SetAside {
    /// Frames are missing in it.
    Gap,
    /// It holds too few frames.
    Short {
        /// Frames in it.
        frames: usize,
        /// Fewest that will do.
        needed: usize,
    },
    /// Its length is out of the way.
    Length {
        /// Its length, in s.
        seconds: f64,
        /// The median length, in s.
        median_s: f64,
        /// How far from the median the farthest that is kept is, in s.
        allowed_s: f64,
    },
    /// Its curve is out of the way.
    Curve {
        /// The root mean square distance of its curve from the median curve, in the curve's unit.
        distance: f64,
        /// The largest distance that is kept.
        allowed: f64,
    },
}

/// A cycle.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Cycle {
    /// When it begins, in s.
    pub start_s: f64,
    /// When it ends, in s.
    pub end_s: f64,
    /// Why it does not count; `None` where it does.
    pub set_aside: Option<SetAside>,
}

/// The cycles of a record.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Cycles {
    /// In what they were found.
    pub found_in: String,
    /// What begins a cycle; `None` where the events were given.
    pub event: Option<Event>,
    /// The frequency that events were looked for with, in Hz.
    pub hz: f64,
    /// All cycles in order, those set aside among them.
    pub cycles: Vec<Cycle>,
    /// How many count.
    pub kept: usize,
    /// Mean length of those, in s.
    pub mean_s: Option<f64>,
    /// SD of their lengths, in s; `None` for one.
    pub sd_s: Option<f64>,
    /// What to be careful about.
    pub caution: Option<String>,
}

/// Fewest cycles for a statement about a person (common practice: five, ten when running).
const FEWEST: usize = 5;
/// Fewest frames of a cycle (chosen, no source).
pub(crate) const FEWEST_FRAMES: usize = 10;

impl Cycles {
    /// Finds the cycles of a signal.
    ///
    /// # Errors
    /// [`MotionError::NoCycles`] where there are not two events; [`MotionError::ShortCycles`] where every cycle is too short for its frames; those of
    /// [`Pieces::of`].
    pub fn find(
        name: &str,
        times_s: &[f64],
        values: &[Option<f64>],
        params: &CycleParams,
    ) -> Result<Self, MotionError> {
        let signal = Pieces::of(times_s, values, params.longest_gap_s)?;
        let (found, hz) = events(&signal, params.event, params.hz)?;
        let step_s = signal.step_s;
        let judge = |a, b| short(times_s, step_s, a, b).or((!signal.together(a, b)).then_some(SetAside::Gap));
        let mut cycles = Self::judged(&found, times_s, judge, params.reject_beyond)?;
        cycles.found_in = name.to_owned();
        cycles.event = Some(params.event);
        cycles.hz = hz;
        Ok(cycles)
    }

    /// Cycles of a record with these time stamps between given events, both in s and ascending. Gaps are left to the signals that are laid over them.
    ///
    /// # Errors
    /// [`MotionError::NoCycles`] under two events, or where they do not ascend; [`MotionError::ShortCycles`] where every cycle is too short for its
    /// frames, as where seconds were meant to be something else.
    pub fn given(events_s: &[f64], times_s: &[f64], reject_beyond: f64) -> Result<Self, MotionError> {
        let step_s = Timing::of(times_s, times_s.len())?.step_s.unwrap_or(f64::INFINITY);
        Self::judged(events_s, times_s, |a, b| short(times_s, step_s, a, b), reject_beyond)
    }

    /// As [`Cycles::of`], unless all are too short.
    fn judged(
        events_s: &[f64],
        times_s: &[f64],
        judge: impl Fn(f64, f64) -> Option<SetAside>,
        reject_beyond: f64,
    ) -> Result<Self, MotionError> {
        let made = Self::of(events_s, judge, reject_beyond)?;
        let longest = made.cycles.iter().map(|c| match c.set_aside {
            Some(SetAside::Short { frames, .. }) => Some(frames),
            _ => None,
        });
        match longest.collect::<Option<Vec<usize>>>().and_then(|frames| frames.into_iter().max()) {
            Some(frames) => Err(MotionError::ShortCycles {
                cycles: made.cycles.len(),
                frames,
                needed: FEWEST_FRAMES,
                length_s: made.cycles.iter().map(|c| c.end_s - c.start_s).fold(0.0, f64::max),
                record: times_s.len(),
            }),
            None => Ok(made),
        }
    }

    /// Cycles between given events, in s, ascending. `whole` says whether there is no gap between two times.
    ///
    /// # Errors
    /// [`MotionError::NoCycles`] under two events, or where they do not ascend.
    pub fn between(
        events_s: &[f64],
        whole: impl Fn(f64, f64) -> bool,
        reject_beyond: f64,
    ) -> Result<Self, MotionError> {
        Self::of(events_s, |a, b| (!whole(a, b)).then_some(SetAside::Gap), reject_beyond)
    }

    /// Cycles between events; `judge` says why one does not count.
    fn of(
        events_s: &[f64],
        judge: impl Fn(f64, f64) -> Option<SetAside>,
        reject_beyond: f64,
    ) -> Result<Self, MotionError> {
        if events_s.len() < 2 {
            return Err(CyclesFault::FewEvents { events: events_s.len() }.into());
        }
        if let Some(w) = events_s.windows(2).find(|w| w[1] <= w[0] || w[1].is_nan() || w[0].is_nan()) {
            return Err(CyclesFault::EventsDescend { earlier_s: w[0], later_s: w[1] }.into());
        }
        let mut cycles: Vec<Cycle> = events_s
            .windows(2)
            .map(|w| Cycle { start_s: w[0], end_s: w[1], set_aside: judge(w[0], w[1]) })
            .collect();
        let lengths: Vec<f64> =
            cycles.iter().filter(|c| c.set_aside.is_none()).map(|c| c.end_s - c.start_s).collect();
        if lengths.len() > 2 {
            let median_s = median(&lengths, None)?;
            // lengths are known to a part of a step only: under 2 % nothing is an outlier
            let allowed_s = (reject_beyond * MAD_TO_SD * mad(&lengths, None)?).max(0.02 * median_s);
            for cycle in cycles.iter_mut().filter(|c| c.set_aside.is_none()) {
                let seconds = cycle.end_s - cycle.start_s;
                if (seconds - median_s).abs() > allowed_s {
                    cycle.set_aside = Some(SetAside::Length { seconds, median_s, allowed_s });
                }
            }
        }
        let mut made = Self {
            found_in: "events as given".to_owned(),
            event: None,
            hz: 0.0,
            cycles,
            kept: 0,
            mean_s: None,
            sd_s: None,
            caution: None,
        };
        made.count();
        if let Some(mean) = made.mean_s {
            made.hz = 1.0 / mean;
        }
        Ok(made)
    }

    /// The cycles that count.
    pub fn counting(&self) -> impl Iterator<Item = &Cycle> {
        self.cycles.iter().filter(|c| c.set_aside.is_none())
    }

    /// Counts anew after cycles were set aside.
    pub(crate) fn count(&mut self) {
        let lengths: Vec<f64> = self.counting().map(|c| c.end_s - c.start_s).collect();
        self.kept = lengths.len();
        let n = lengths.len() as f64;
        let mean = lengths.iter().sum::<f64>() / n;
        self.mean_s = (self.kept > 0).then_some(mean);
        self.sd_s = (self.kept > 1)
            .then(|| (lengths.iter().map(|l| (l - mean) * (l - mean)).sum::<f64>() / (n - 1.0)).sqrt());
        self.caution = (self.kept < FEWEST)
            .then(|| format!("{} cycles count; at least {FEWEST} are usual, ten when running", self.kept));
    }
}

/// Why a cycle is too short for its frames: those from its beginning to before its end are counted. A gap is no reason here: frames that a
/// record should have had are counted too, by its step.
fn short(times_s: &[f64], step_s: f64, start_s: f64, end_s: f64) -> Option<SetAside> {
    let within = times_s.partition_point(|&t| t < end_s) - times_s.partition_point(|&t| t < start_s);
    let due = ((end_s - start_s) / step_s).round() as usize;
    let frames = within.max(due);
    (frames < FEWEST_FRAMES).then_some(SetAside::Short { frames, needed: FEWEST_FRAMES })
}

#[cfg(test)]
mod tests {
    use std::f64::consts::TAU;

    use super::*;

    #[test]
    fn a_cycle_that_is_too_long_and_one_with_a_gap_are_set_aside() {
        // ten cycles of 0.8 s, the sixth takes 1.1 s; frames are missing in the third
        let mut phase = 0.0_f64;
        let (mut times, mut values) = (Vec::new(), Vec::new());
        for i in 0..830 {
            let t = f64::from(i) * 0.01;
            let number = phase.floor();
            if !(210..230).contains(&i) {
                times.push(t);
                values.push(Some(-(TAU * phase).cos()));
            }
            phase += 0.01 / if number == 5.0 { 1.1 } else { 0.8 };
        }
        let params = CycleParams { hz: Some(1.25), ..CycleParams::default() };
        let found = Cycles::find("swing", &times, &values, &params).unwrap();
        let aside: Vec<_> = found.cycles.iter().filter_map(|c| c.set_aside.as_ref()).collect();
        assert_eq!(aside.len(), 2, "{found:?}");
        assert_eq!(aside[0], &SetAside::Gap);
        assert!(matches!(aside[1], SetAside::Length { seconds, .. } if (seconds - 1.1).abs() < 0.03));
        assert!((found.mean_s.unwrap() - 0.8).abs() < 0.01);
    }

    #[test]
    fn cycles_of_a_few_frames_are_set_aside_and_nothing_but_such_is_refused() {
        let times: Vec<f64> = (0..400).map(|i| f64::from(i) * 0.01).collect();
        // one of 50 ms among those of half a second
        let mut events: Vec<f64> = (0..7).map(|i| 0.25 + 0.5 * f64::from(i)).collect();
        events.insert(4, 1.80);
        let found = Cycles::given(&events, &times, 3.0).unwrap();
        assert!(
            matches!(found.cycles[3].set_aside, Some(SetAside::Short { frames: 5, needed: 10 })),
            "{found:?}"
        );
        // what is left of the cycle that it was cut from is out of the way by its length
        assert!(matches!(found.cycles[4].set_aside, Some(SetAside::Length { .. })));
        assert!(found.kept == 5 && (found.mean_s.unwrap() - 0.5).abs() < 1e-9);
        let ms: Vec<f64> = (0..20).map(|i| 1.0 + 0.001 * f64::from(i)).collect();
        let refused = Cycles::given(&ms, &times, 3.0).unwrap_err();
        assert!(matches!(refused, MotionError::ShortCycles { cycles: 19, needed: 10, .. }), "{refused:?}");
        // nine frames are too few and ten are enough
        assert!(
            Cycles::given(&[0.0, 0.09], &times, 3.0).is_err()
                && Cycles::given(&[0.0, 0.1], &times, 3.0).is_ok()
        );
        // a gap is told as a gap
        let swing: Vec<Option<f64>> = times.iter().map(|t| Some((TAU * 25.0 * t).sin())).collect();
        let params = CycleParams { hz: Some(25.0), ..CycleParams::default() };
        assert!(matches!(
            Cycles::find("swing", &times, &swing, &params),
            Err(MotionError::ShortCycles { .. })
        ));
    }

    #[test]
    fn events_that_make_no_cycle_are_an_error() {
        assert!(Cycles::between(&[1.0], |_, _| true, 3.0).is_err());
        assert!(Cycles::between(&[1.0, 0.5], |_, _| true, 3.0).is_err());
        let few = Cycles::between(&[0.0, 1.0, 2.0], |_, _| true, 3.0).unwrap();
        assert!(few.kept == 2 && few.caution.is_some());
    }
}
