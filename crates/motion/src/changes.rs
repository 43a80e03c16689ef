//! Dimensions over captures, cycles and people: how much they change, when, and what a garment must allow for.
//!
//! A curve is laid on an even step, low-passed without lag, and cut into cycles ([`DimensionCourse`]). Over captures and people a table sorted by
//! range says reference, change, phase and noise floor ([`change_table`]). The dynamic allowance is the distribution over people of the greatest
//! increase and decrease of each dimension in any of a person's captures ([`allowances`]).

use std::collections::{BTreeMap, BTreeSet};

use formkin_stats::quantile::quantile;
use serde::{Deserialize, Serialize};

use crate::cycles::band::{Band, OverCycles};
use crate::cycles::cycle::Cycles;
use crate::signal::filter::cutoff_or;
use crate::signal::gaps::{LONGEST_GAP_S, Pieces};
use crate::signal::noise::noise_floor;
use crate::{Curve, MotionError};

/// The cutoff for dimensions, in Hz (common practice: 6 walking, 8 to 12 running).
pub(crate) const CUTOFF_HZ: f64 = 8.0;
/// Fewest people for a 95th percentile.
const FEWEST_FOR_P95: usize = 60;

/// A dimension of one capture, smoothed and over its cycles.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct DimensionCourse {
    /// Name of the dimension.
    pub dimension: String,
    /// Its unit.
    pub unit: String,
    /// The value of the reference pose.
    pub reference: Option<f64>,
    /// Smallest value of the smoothed curve.
    pub min: f64,
    /// Largest value of the smoothed curve.
    pub max: f64,
    /// The cutoff that was applied, in Hz.
    pub cutoff_hz: Option<f64>,
    /// Share of the record in gaps.
    pub missing_share: f64,
    /// SD of the noise of a single value, an upper bound; `None` where the step is uneven or there are too few values.
    pub noise_floor: Option<f64>,
    /// Over the cycles; `None` where there are none, with the reason in `no_band`.
    pub band: Option<Band>,
    /// Why there is no band.
    pub no_band: Option<String>,
}

impl DimensionCourse {
    /// Smooths a curve and lays it over the cycles. `cutoff_hz`: `None` for 8 Hz, lowered to two fifths of a slow sampling rate.
    ///
    /// # Errors
    /// Those of [`Pieces::of`]: too few values; those of [`cutoff_or`] for a cutoff that the rate does not allow.
    pub fn of(curve: &Curve, cycles: Option<&Cycles>, cutoff_hz: Option<f64>) -> Result<Self, MotionError> {
        let pieces = Pieces::of(&curve.times_s, &curve.values, LONGEST_GAP_S)?;
        let raw = pieces.longest().and_then(|p| noise_floor(&p.values));
        let cutoff = cutoff_or(cutoff_hz, CUTOFF_HZ, 1.0 / pieces.step_s)?;
        let pieces = pieces.low_passed(cutoff)?;
        let all = pieces.pieces.iter().flat_map(|p| &p.values);
        let (min, max) = all.fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), &v| (l.min(v), h.max(v)));
        let (band, no_band) = match cycles.map(|c| Band::of(&pieces, c)) {
            Some(Ok(band)) => (Some(band), None),
            Some(Err(why)) => (None, Some(why.to_string())),
            None => (None, Some("no cycles were found".to_owned())),
        };
        Ok(Self {
            dimension: curve.dimension.clone(),
            unit: curve.unit.clone(),
            reference: curve.reference,
            min,
            max,
            cutoff_hz: pieces.cutoff_hz,
            missing_share: pieces.missing_share,
            noise_floor: raw,
            band,
            no_band,
        })
    }

    /// Largest less smallest value: the mean over cycles where there are, else of the record.
    #[must_use]
    pub fn range(&self) -> f64 {
        self.band.as_ref().and_then(|b| b.range).map_or(self.max - self.min, |r| r.mean)
    }
}

/// A person's capture with its dimensions.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct CaptureCourses {
    /// Who.
    pub participant: String,
    /// Which capture.
    pub capture: String,
    /// The dimensions.
    pub courses: Vec<DimensionCourse>,
}

/// A row of the table of changes.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct DimensionChange {
    /// Name of the dimension.
    pub dimension: String,
    /// Its unit.
    pub unit: String,
    /// Number of people.
    pub people: usize,
    /// Number of captures.
    pub captures: usize,
    /// Cycles over all captures.
    pub cycles: usize,
    /// Mean over people of the reference value.
    pub reference: Option<f64>,
    /// Mean over people (each the mean of their captures) of the range.
    pub range: f64,
    /// SD of that over people; `None` for one.
    pub range_sd_people: Option<f64>,
    /// Mean SD over cycles within a capture.
    pub range_sd_cycles: Option<f64>,
    /// Mean over people of the change at the smallest value, in %.
    pub change_min_percent: Option<f64>,
    /// Mean over people of the change at the largest value, in %.
    pub change_max_percent: Option<f64>,
    /// Circular mean over captures of the phase of the largest value, in % of the cycle.
    pub phase_of_max_percent: Option<f64>,
    /// The same of the smallest value.
    pub phase_of_min_percent: Option<f64>,
    /// The largest noise floor of a capture.
    pub noise_floor: Option<f64>,
    /// Whether the range is more than five noise floors, about what noise alone gives a record.
    pub above_noise: Option<bool>,
}

/// The table of all dimensions, the largest range first.
#[must_use]
pub fn change_table(captures: &[CaptureCourses]) -> Vec<DimensionChange> {
    let mut rows: Vec<DimensionChange> = names(captures)
        .into_iter()
        .map(|name| {
            let found: Vec<(&str, &DimensionCourse)> = of_name(captures, &name).collect();
            let per_person = |f: &dyn Fn(&DimensionCourse) -> Option<f64>| -> Vec<f64> {
                let mut map: BTreeMap<&str, Vec<f64>> = BTreeMap::new();
                for (who, c) in &found {
                    if let Some(v) = f(c) {
                        map.entry(who).or_default().push(v);
                    }
                }
                map.values().map(|v| v.iter().sum::<f64>() / v.len() as f64).collect()
            };
            let mean =
                |f: &dyn Fn(&DimensionCourse) -> Option<f64>| OverCycles::of(&per_person(f)).map(|o| o.mean);
            let change =
                |c: &DimensionCourse, v: f64| c.reference.filter(|r| *r != 0.0).map(|r| 100.0 * (v - r) / r);
            let bands = || found.iter().filter_map(|(_, c)| c.band.as_ref());
            let phases = |f: fn(&Band) -> Option<OverCycles>| {
                OverCycles::of_phases(&bands().filter_map(f).map(|o| o.mean).collect::<Vec<_>>())
                    .map(|o| o.mean)
            };
            let range = OverCycles::of(&per_person(&|c| Some(c.range())));
            let sds: Vec<f64> = bands().filter_map(|b| b.range.and_then(|r| r.sd)).collect();
            let noise_floor = found.iter().filter_map(|(_, c)| c.noise_floor).max_by(f64::total_cmp);
            let range_mean = range.map_or(0.0, |r| r.mean);
            DimensionChange {
                unit: found.first().map(|(_, c)| c.unit.clone()).unwrap_or_default(),
                people: found.iter().map(|(who, _)| *who).collect::<BTreeSet<_>>().len(),
                captures: found.len(),
                cycles: bands().map(|b| b.curves.len()).sum(),
                reference: mean(&|c| c.reference),
                range: range_mean,
                range_sd_people: range.and_then(|r| r.sd),
                range_sd_cycles: OverCycles::of(&sds).map(|o| o.mean),
                change_min_percent: mean(&|c| change(c, c.min)),
                change_max_percent: mean(&|c| change(c, c.max)),
                phase_of_max_percent: phases(|b| b.phase_of_max_percent),
                phase_of_min_percent: phases(|b| b.phase_of_min_percent),
                noise_floor,
                above_noise: noise_floor.map(|n| range_mean > 5.0 * n),
                dimension: name,
            }
        })
        .collect();
    rows.sort_by(|a, b| b.range.total_cmp(&a.range).then(a.dimension.cmp(&b.dimension)));
    rows
}

/// The greatest changes of a dimension from the reference pose over people.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Allowance {
    /// Name of the dimension.
    pub dimension: String,
    /// Its unit.
    pub unit: String,
    /// Number of people.
    pub people: usize,
    /// The greatest increase over the reference pose: one value a person, 0 where it only decreases.
    pub increase: Spread,
    /// The greatest decrease, as a positive number.
    pub decrease: Spread,
    /// Person by person: greatest increase and decrease.
    pub persons: Vec<(String, f64, f64)>,
}

/// A distribution over people.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Spread {
    /// Mean.
    pub mean: f64,
    /// SD; `None` for one person.
    pub sd: Option<f64>,
    /// Median.
    pub p50: f64,
    /// 95th percentile; `None` under 60 people.
    pub p95: Option<f64>,
    /// Largest.
    pub max: f64,
}

impl Spread {
    fn of(values: &[f64]) -> Result<Self, MotionError> {
        let over =
            OverCycles::of(values).ok_or(MotionError::Count { what: "people", expected: 1, found: 0 })?;
        Ok(Self {
            mean: over.mean,
            sd: over.sd,
            p50: quantile(values, None, 0.5)?,
            p95: if values.len() >= FEWEST_FOR_P95 { Some(quantile(values, None, 0.95)?) } else { None },
            max: values.iter().copied().fold(f64::NEG_INFINITY, f64::max),
        })
    }
}

/// The dynamic allowance of every dimension that has a reference value, in the order of their names.
///
/// # Errors
/// [`MotionError::Stats`] for values that are not finite.
pub fn allowances(captures: &[CaptureCourses]) -> Result<Vec<Allowance>, MotionError> {
    let mut made = Vec::new();
    for name in names(captures) {
        let mut persons: BTreeMap<&str, (f64, f64)> = BTreeMap::new();
        let mut unit = String::new();
        for (who, c) in of_name(captures, &name) {
            if let Some(r) = c.reference {
                let slot = persons.entry(who).or_default();
                *slot = (slot.0.max(c.max - r), slot.1.max(r - c.min));
                unit.clone_from(&c.unit);
            }
        }
        if persons.is_empty() {
            continue;
        }
        made.push(Allowance {
            unit,
            people: persons.len(),
            increase: Spread::of(&persons.values().map(|p| p.0).collect::<Vec<_>>())?,
            decrease: Spread::of(&persons.values().map(|p| p.1).collect::<Vec<_>>())?,
            persons: persons.into_iter().map(|(who, (up, down))| (who.to_owned(), up, down)).collect(),
            dimension: name,
        });
    }
    Ok(made)
}

fn names(captures: &[CaptureCourses]) -> BTreeSet<String> {
    captures.iter().flat_map(|c| c.courses.iter().map(|d| d.dimension.clone())).collect()
}

fn of_name<'a>(
    captures: &'a [CaptureCourses],
    name: &'a str,
) -> impl Iterator<Item = (&'a str, &'a DimensionCourse)> {
    captures.iter().flat_map(move |c| {
        c.courses.iter().filter(move |d| d.dimension == name).map(move |d| (c.participant.as_str(), d))
    })
}

#[cfg(test)]
mod tests {
    use std::f64::consts::TAU;

    use super::*;
    use crate::{CycleParams, Reference, Timing};

    fn capture(who: &str, half_range: f64) -> CaptureCourses {
        let t: Vec<f64> = (0..500).map(|i| f64::from(i) * 0.01).collect();
        let timing = Timing::of(&t, t.len()).unwrap();
        let swing: Vec<Option<f64>> =
            t.iter().map(|t| Some(1000.0 + half_range * (TAU * 1.5 * t).sin())).collect();
        let still: Vec<Option<f64>> = t.iter().map(|_| Some(800.0)).collect();
        let cycles = Cycles::find("swing", &t, &swing, &CycleParams::default()).unwrap();
        let course = |name: &str, v: Vec<Option<f64>>| {
            let curve = Curve::of(name, "mm", (&t, &timing), v, Reference::Frame(0), None);
            DimensionCourse::of(&curve, Some(&cycles), None).unwrap()
        };
        CaptureCourses {
            participant: who.to_owned(),
            capture: format!("{who} walk"),
            courses: vec![course("hip_girth", still), course("chest_girth", swing)],
        }
    }

    #[test]
    fn the_table_is_sorted_by_range_and_counts_people_and_cycles() {
        let table = change_table(&[capture("a", 20.0), capture("b", 30.0), capture("b", 30.0)]);
        assert_eq!(table[0].dimension, "chest_girth");
        assert_eq!((table[0].people, table[0].captures), (2, 3));
        assert!((table[0].range - 50.0).abs() < 0.5 && table[0].cycles >= 15, "{:?}", table[0]);
        assert!((table[0].change_max_percent.unwrap() - 2.5).abs() < 0.05);
        assert!(table[1].range < 1e-6 && table[0].above_noise == Some(true));
    }

    #[test]
    fn allowances_are_over_people() {
        let captures: Vec<_> = (0..4).map(|i| capture(&format!("p{i}"), 20.0 + 5.0 * f64::from(i))).collect();
        let found = allowances(&captures).unwrap();
        let chest = &found[0];
        assert!((chest.increase.mean - 27.5).abs() < 0.5 && (chest.increase.max - 35.0).abs() < 0.5);
        assert!(chest.increase.p95.is_none() && chest.people == 4);
    }
}
