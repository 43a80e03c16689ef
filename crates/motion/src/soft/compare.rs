//! Conditions compared: how much a garment reduces a movement of soft tissue.
//!
//! Reduction = 100 (1 - mean_B / mean_A) in %, A the reference and B the garment, of a measure of each cycle (a range in mm), per person. Within a
//! person the interval is a bootstrap over the cycles of both conditions, drawn apart. Over people the mean of the persons' reductions has
//! a bootstrap interval over people, and the persons' differences of means (A - B) are tested by Student's t and Wilcoxon's signed ranks.

use formkin_stats::bootstrap::percentile_interval;
use formkin_stats::paired::{PairedTest, paired_test};
use formkin_stats::random::stream;
use rand::Rng;
use serde::{Deserialize, Serialize};

use crate::MotionError;
use crate::fault::CyclesFault;

/// Cycles of two conditions that differ by more than this part in their length are not at the same speed (chosen, no source).
const SAME_SPEED: f64 = 0.05;

/// How conditions are compared.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct CompareParams {
    /// Level of the intervals.
    pub level: f64,
    /// Bootstrap resamples.
    pub resamples: usize,
    /// Seed of the bootstrap.
    pub seed: u64,
}

impl Default for CompareParams {
    fn default() -> Self {
        Self { level: 0.95, resamples: 2000, seed: 1 }
    }
}

/// A person's cycles in both conditions.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct PersonCycles {
    /// Who.
    pub participant: String,
    /// One value a cycle without the garment (or in the reference garment).
    pub reference: Vec<f64>,
    /// One value a cycle with it.
    pub garment: Vec<f64>,
    /// Mean length of a cycle in each condition, in s, where known.
    pub cycle_s: Option<(f64, f64)>,
}

/// The reduction in one person.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct PersonReduction {
    /// Who.
    pub participant: String,
    /// Mean over cycles in the reference condition.
    pub reference: f64,
    /// Mean over cycles with the garment.
    pub garment: f64,
    /// Cycles in each.
    pub cycles: (usize, usize),
    /// Reduction, in %.
    pub reduction_percent: f64,
    /// Bootstrap interval over cycles; `None` under two cycles in a condition.
    pub interval_percent: Option<(f64, f64)>,
    /// What to be careful about.
    pub caution: Option<String>,
}

/// Two conditions compared.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Comparison {
    /// What was measured, with its unit.
    pub measure: String,
    /// Number of people.
    pub people: usize,
    /// Person by person.
    pub persons: Vec<PersonReduction>,
    /// The mean of the persons' reductions, in %.
    pub reduction_percent: f64,
    /// Bootstrap interval over people; `None` under two people.
    pub interval_percent: Option<(f64, f64)>,
    /// The level of all intervals.
    pub level: f64,
    /// Tests of the persons' differences reference - garment; `None` under two people.
    pub test: Option<PairedTest>,
    /// What to be careful about.
    pub cautions: Vec<String>,
}

/// Compares two conditions.
///
/// # Errors
/// [`MotionError::NoCycles`] where a person lacks cycles in a condition, or the mean of the reference is not above 0; [`MotionError::Count`]
/// without a person.
pub fn compare(
    measure: &str,
    people: &[PersonCycles],
    params: &CompareParams,
) -> Result<Comparison, MotionError> {
    if people.is_empty() {
        return Err(MotionError::Count { what: "people to compare", expected: 1, found: 0 });
    }
    let mean = |v: &[f64]| v.iter().sum::<f64>() / v.len() as f64;
    let mut persons = Vec::new();
    for person in people {
        let who = &person.participant;
        if person.reference.is_empty() || person.garment.is_empty() {
            return Err(CyclesFault::OneCondition { participant: who.clone() }.into());
        }
        let (a, b) = (mean(&person.reference), mean(&person.garment));
        if a.is_nan() || a <= 0.0 {
            return Err(CyclesFault::ReferenceStill { participant: who.clone() }.into());
        }
        let caution = person
            .cycle_s
            .filter(|(a, b)| ((a - b) / a).abs() > SAME_SPEED)
            .map(|(a, b)| format!("not at the same speed: cycles of {a:.2} s and {b:.2} s"));
        let mut rng = stream(params.seed, &format!("conditions {who}"));
        let enough = person.reference.len() > 1 && person.garment.len() > 1;
        let mut draw =
            |v: &[f64]| (0..v.len()).map(|_| v[rng.gen_range(0..v.len())]).sum::<f64>() / v.len() as f64;
        let interval_percent = if enough {
            let drawn: Vec<f64> = (0..params.resamples)
                .map(|_| 100.0 * (1.0 - draw(&person.garment) / draw(&person.reference)))
                .collect();
            Some(percentile_interval(&drawn, params.level)?)
        } else {
            None
        };
        persons.push(PersonReduction {
            participant: who.clone(),
            reference: a,
            garment: b,
            cycles: (person.reference.len(), person.garment.len()),
            reduction_percent: 100.0 * (1.0 - b / a),
            interval_percent,
            caution,
        });
    }
    let reductions: Vec<f64> = persons.iter().map(|p| p.reduction_percent).collect();
    let n = reductions.len();
    let (interval_percent, test) = if n > 1 {
        let mut rng = stream(params.seed, "conditions over people");
        let drawn: Vec<f64> = (0..params.resamples)
            .map(|_| (0..n).map(|_| reductions[rng.gen_range(0..n)]).sum::<f64>() / n as f64)
            .collect();
        let differences: Vec<f64> = persons.iter().map(|p| p.reference - p.garment).collect();
        (Some(percentile_interval(&drawn, params.level)?), Some(paired_test(&differences, params.level)?))
    } else {
        (None, None)
    };
    let mut cautions = Vec::new();
    if n == 1 {
        cautions.push("one person: nothing is said about other people".to_owned());
    } else if n < 10 {
        cautions.push(format!("{n} people are few: intervals over people are rough"));
    }
    Ok(Comparison {
        measure: measure.to_owned(),
        people: n,
        reduction_percent: mean(&reductions),
        persons,
        interval_percent,
        level: params.level,
        test,
        cautions,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn person(who: usize, a: f64, b: f64) -> PersonCycles {
        let wobble = |m: f64| (0..12).map(|i| m * (1.0 + 0.05 * (f64::from(i) * 1.9).sin())).collect();
        PersonCycles {
            participant: format!("p{who}"),
            reference: wobble(a),
            garment: wobble(b),
            cycle_s: Some((0.7, if who == 3 { 0.8 } else { 0.7 })),
        }
    }

    #[test]
    fn a_planted_reduction_of_forty_percent_is_inside_its_interval() {
        let people: Vec<_> = (0..12)
            .map(|i| person(i, 40.0 + i as f64, (40.0 + i as f64) * (0.6 + 0.02 * (i as f64).sin())))
            .collect();
        let found = compare("vertical_mm", &people, &CompareParams::default()).unwrap();
        assert!((found.reduction_percent - 40.0).abs() < 1.5);
        let (low, high) = found.interval_percent.unwrap();
        assert!(low < found.reduction_percent && found.reduction_percent < high && high - low < 4.0);
        assert!(found.test.unwrap().p_t.unwrap() < 1e-6);
        for p in &found.persons {
            let (low, high) = p.interval_percent.unwrap();
            assert!(low < p.reduction_percent && p.reduction_percent < high);
        }
        assert!(found.persons[3].caution.as_ref().unwrap().contains("speed"));
        assert_eq!(found, compare("vertical_mm", &people, &CompareParams::default()).unwrap());
    }

    #[test]
    fn one_person_has_no_interval_over_people() {
        let found = compare("vertical_mm", &[person(0, 40.0, 30.0)], &CompareParams::default()).unwrap();
        assert!(found.test.is_none() && found.interval_percent.is_none() && !found.cautions.is_empty());
        assert!(compare("m", &[], &CompareParams::default()).is_err());
    }
}
