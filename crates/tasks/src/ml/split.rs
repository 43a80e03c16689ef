//! Who trains and who is held out: whole people, evenly over a column, and a check that nobody is on both sides.

use std::collections::{BTreeMap, BTreeSet};

use formkin_cohort::Cohort;
use formkin_stats::random::stream;
use formkin_table::near::advice;
use rand::seq::SliceRandom;
use serde::{Deserialize, Serialize};

use crate::TaskError;

/// A part of a data set for machine learning.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Part {
    /// Everything is fitted on it: space, scalers, models.
    Train,
    /// For choices between models.
    Validation,
    /// For the last figure, once.
    Test,
}

impl Part {
    /// All parts, in order.
    pub const ALL: [Self; 3] = [Self::Train, Self::Validation, Self::Test];

    /// Its name in the files.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Train => "train",
            Self::Validation => "validation",
            Self::Test => "test",
        }
    }

    /// The part of this name.
    #[must_use]
    pub fn named(name: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|p| p.name() == name.trim())
    }
}

/// Deals people to the parts. `people` holds each person once with the stratum they belong to. Within every stratum people are shuffled by a stream of `seed`; then
/// the parts are filled along all strata, each person going to the part furthest behind its share, so that each part's count is within a person or two of its share
/// of every stratum and within one of the whole.
///
/// # Errors
/// [`TaskError::Split`] where shares are not shares, or where a part that is asked for would be empty.
pub(crate) fn deal(
    people: &BTreeMap<String, String>,
    validation: f64,
    test: f64,
    seed: u64,
) -> Result<BTreeMap<String, Part>, TaskError> {
    if !(validation >= 0.0 && test >= 0.0 && validation + test < 1.0) {
        return Err(TaskError::Split {
            reason: format!(
                "the shares held out are {validation} and {test}; they must be 0 or more and leave some people to train on"
            ),
        });
    }
    let mut strata: BTreeMap<&str, Vec<&str>> = BTreeMap::new();
    for (person, stratum) in people {
        strata.entry(stratum).or_default().push(person);
    }
    let shares = [1.0 - validation - test, validation, test];
    let mut given = [0usize; 3];
    let mut out = BTreeMap::new();
    for (stratum, mut members) in strata {
        members.shuffle(&mut stream(seed, &format!("split {stratum}")));
        for person in members {
            let part = next(&shares, &given);
            given[part] += 1;
            out.insert(person.to_owned(), Part::ALL[part]);
        }
    }
    for (p, part) in Part::ALL.into_iter().enumerate() {
        if shares[p] > 0.0 && given[p] == 0 {
            return Err(TaskError::Split {
                reason: format!(
                    "no person is left for `{}`: a share of {} needs {} people and there are {}; hold out a larger share, or set it to 0",
                    part.name(),
                    shares[p],
                    needed(&shares, p).map_or_else(|| "more than a million".to_owned(), |n| n.to_string()),
                    people.len()
                ),
            });
        }
    }
    Ok(out)
}

/// The part that is furthest behind its share with one person more; training first where two are even.
fn next(shares: &[f64; 3], given: &[usize; 3]) -> usize {
    let seen = given.iter().sum::<usize>() + 1;
    let behind = |p: usize| shares[p] * seen as f64 - given[p] as f64;
    (1..3).fold(0, |part, p| if shares[p] > 0.0 && behind(p) > behind(part) + 1e-9 { p } else { part })
}

/// How many people there must be for one of them to come into a part.
fn needed(shares: &[f64; 3], wanted: usize) -> Option<usize> {
    let mut given = [0usize; 3];
    (1..=1_000_000).find(|_| {
        let part = next(shares, &given);
        given[part] += 1;
        part == wanted
    })
}

/// The part of every item as it was given; all of them must be there, and no others.
///
/// # Errors
/// [`TaskError::Split`] with the first name that is not in the cohort, or has no part.
pub(crate) fn placed(
    cohort: &Cohort,
    items: &[usize],
    given: &BTreeMap<String, Part>,
) -> Result<BTreeMap<usize, Part>, TaskError> {
    let all = cohort.items();
    let known: BTreeSet<&str> = all.iter().map(|i| i.item.as_str()).collect();
    let unknown: Vec<&String> = given.keys().filter(|k| !known.contains(k.as_str())).collect();
    if let Some(first) = unknown.first() {
        return Err(TaskError::Split {
            reason: format!(
                "{} of the {} items that are given parts are not in {}, first `{first}`; {}",
                unknown.len(),
                given.len(),
                cohort.path().display(),
                advice(first, known.into_iter())
            ),
        });
    }
    let without: Vec<&str> =
        items.iter().map(|i| all[*i].item.as_str()).filter(|i| !given.contains_key(*i)).collect();
    if let Some(first) = without.first() {
        return Err(TaskError::Split {
            reason: format!(
                "{} of {} items have no part, first `{first}`; give every item one, or leave the parts to be dealt",
                without.len(),
                items.len()
            ),
        });
    }
    let parts: BTreeMap<usize, Part> = items.iter().map(|i| (*i, given[&all[*i].item])).collect();
    if !parts.values().any(|p| *p == Part::Train) {
        return Err(TaskError::Split {
            reason: "nobody is in `train`; the space is fitted on those people alone".into(),
        });
    }
    Ok(parts)
}

/// Refuses rows of one person in two parts, and the same scan in two parts under two names. A row is (item, person, hash of the positions, part).
///
/// # Errors
/// [`TaskError::Leak`] and [`TaskError::SameScan`] with the names of both sides.
pub(crate) fn check_leak(rows: &[(String, String, String, Part)]) -> Result<(), TaskError> {
    let mut persons: BTreeMap<&str, (&str, Part)> = BTreeMap::new();
    let mut scans: BTreeMap<&str, (&str, Part)> = BTreeMap::new();
    for (item, person, hash, part) in rows {
        let (first, there) = *persons.entry(person).or_insert((item, *part));
        if there != *part {
            return Err(TaskError::Leak {
                participant: person.clone(),
                first: format!("{first} in {}", there.name()),
                second: format!("{item} in {}", part.name()),
            });
        }
        let (first, there) = *scans.entry(hash).or_insert((item, *part));
        if there != *part {
            return Err(TaskError::SameScan {
                first: format!("{first} in {}", there.name()),
                second: format!("{item} in {}", part.name()),
            });
        }
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn people(count: usize) -> BTreeMap<String, String> {
        (0..count).map(|i| (format!("P{i:03}"), if i % 3 == 0 { "f" } else { "m" }.to_owned())).collect()
    }

    #[test]
    fn shares_hold_in_every_stratum() {
        let people = people(150);
        let dealt = deal(&people, 0.1, 0.2, 5).unwrap();
        assert_eq!(dealt.len(), 150);
        for stratum in ["f", "m"] {
            let of: Vec<Part> = people.iter().filter(|(_, s)| *s == stratum).map(|(p, _)| dealt[p]).collect();
            for (part, share) in Part::ALL.into_iter().zip([0.7, 0.1, 0.2]) {
                let found = of.iter().filter(|p| **p == part).count() as f64;
                assert!((found - share * of.len() as f64).abs() <= 2.0, "{stratum} {part:?} {found}");
            }
        }
        assert_eq!(dealt, deal(&people, 0.1, 0.2, 5).unwrap());
        assert_ne!(dealt, deal(&people, 0.1, 0.2, 6).unwrap());
    }

    #[test]
    fn shares_that_cannot_be_met_are_refused() {
        assert!(matches!(deal(&people(2), 0.1, 0.1, 1), Err(TaskError::Split { .. })));
        // the number that is told is enough, and one fewer is not
        for (validation, test) in [(0.1, 0.1), (0.0, 0.15), (0.05, 0.2), (0.01, 0.0)] {
            let told = deal(&people(2), validation, test, 1).unwrap_err().to_string();
            let needs: usize =
                told.split("needs ").nth(1).unwrap().split(' ').next().unwrap().parse().unwrap();
            assert!(told.contains("there are 2"), "{told}");
            let part = if told.contains("`validation`") { Part::Validation } else { Part::Test };
            let there = |n: usize| {
                deal(&people(n), validation, test, 1).is_ok_and(|d| d.values().any(|p| *p == part))
            };
            assert!(!there(needs - 1), "{told}");
            assert!(
                there(needs) || deal(&people(needs), validation, test, 1).unwrap_err().to_string() != told,
                "{told}"
            );
        }
        assert!(matches!(deal(&people(20), 0.6, 0.4, 1), Err(TaskError::Split { .. })));
        assert!(deal(&people(2), 0.0, 0.0, 1).is_ok());
    }

    #[test]
    fn a_person_on_both_sides_is_refused() {
        let row = |item: &str, person: &str, hash: &str, part| {
            (item.to_owned(), person.to_owned(), hash.to_owned(), part)
        };
        let mut rows = vec![row("A_1", "A", "h1", Part::Train), row("B_1", "B", "h2", Part::Test)];
        assert!(check_leak(&rows).is_ok());
        rows.push(row("A_2", "A", "h3", Part::Test));
        let error = check_leak(&rows).unwrap_err();
        assert!(matches!(&error, TaskError::Leak { participant, .. } if participant == "A"));
        assert!(error.to_string().contains("A_2 in test"), "{error}");
        rows[2] = row("C_1", "C", "h1", Part::Validation);
        assert!(matches!(check_leak(&rows), Err(TaskError::SameScan { .. })));
    }
}
