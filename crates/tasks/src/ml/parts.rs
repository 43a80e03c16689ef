//! The rows, and how their parts came out: what the modes leave of their people, and how coefficients are spread in them.

use std::collections::BTreeMap;

use formkin_stats::bootstrap::bootstrap;
use serde::{Deserialize, Serialize};

use super::split::Part;

/// Fewest people for an interval of the residual: resamples of fewer hardly differ.
pub(crate) const PEOPLE_FOR_INTERVAL: usize = 10;
/// Fewest people for mean and SD of their coefficients: of fewer, single people could be told.
pub(crate) const PEOPLE_FOR_SPREAD: usize = 5;
/// Resamples of people.
const RESAMPLES: usize = 1000;
/// Bins of a spread are half an SD of the training rows wide; the outermost two take all beyond.
pub(crate) const BINS: usize = 12;

/// A row of the data set.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct MlRow {
    /// The cohort's item.
    pub index: usize,
    /// Its name; mirrored copies end with `~mirrored`.
    pub item: String,
    /// Whose it is.
    pub participant: String,
    /// Where it belongs.
    pub part: Part,
    /// Whether it is a mirrored copy.
    pub mirrored: bool,
    /// Coefficients in mm.
    pub coefficients: Vec<f64>,
    /// What the modes leave, RMS in mm.
    pub residual_rms_mm: f64,
    /// From the body as captured to the frame of the space: rotation by rows, translation in mm, scale.
    pub pose: [f64; 13],
    /// SHA-256 of the positions as 32-bit floats.
    pub positions_sha256: String,
}

/// How a part came out.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct PartFacts {
    /// Which.
    pub part: Part,
    /// How many people.
    pub people: usize,
    /// How many rows, mirrored copies included.
    pub rows: usize,
    /// What the modes leave of them: root of the mean square, in mm.
    pub residual_rms_mm: Option<f64>,
    /// Its 95 % interval: percentile bootstrap, whole people drawn; none under 10 people.
    pub residual_interval_mm: Option<(f64, f64)>,
}

/// People as numbers, for resampling.
fn people_of(rows: &[&MlRow]) -> (usize, Vec<usize>) {
    let mut numbers: BTreeMap<&str, usize> = BTreeMap::new();
    for row in rows {
        let next = numbers.len();
        numbers.entry(&row.participant).or_insert(next);
    }
    (numbers.len(), rows.iter().map(|r| numbers[r.participant.as_str()]).collect())
}

fn rms(squares: impl ExactSizeIterator<Item = f64>) -> Option<f64> {
    let n = squares.len();
    (n > 0).then(|| (squares.sum::<f64>() / n as f64).sqrt())
}

/// The facts of one part.
#[must_use]
pub(crate) fn part_facts(part: Part, rows: &[MlRow], seed: u64) -> PartFacts {
    let of: Vec<&MlRow> = rows.iter().filter(|r| r.part == part).collect();
    let (people, groups) = people_of(&of);
    let squares: Vec<f64> = of.iter().map(|r| r.residual_rms_mm.powi(2)).collect();
    let residual_interval_mm = (people >= PEOPLE_FOR_INTERVAL)
        .then(|| {
            bootstrap(&groups, RESAMPLES, 0.95, seed, |drawn| rms(drawn.iter().map(|&i| squares[i]))).ok()
        })
        .flatten()
        .map(|b| (b.low, b.high));
    PartFacts {
        part,
        people,
        rows: of.len(),
        residual_rms_mm: rms(squares.iter().copied()),
        residual_interval_mm,
    }
}

/// What is left of the rows where only the first modes are kept.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub(crate) struct ModesKept {
    /// How many modes.
    pub modes: usize,
    /// Root of the mean square over the rows of each part, by its name, in mm; none where the part is empty.
    pub rms_mm: BTreeMap<&'static str, Option<f64>>,
}

/// Numbers of modes that are told, and all.
const KEPT: [usize; 6] = [1, 2, 5, 10, 20, 50];

/// What is left of the rows of each part by the number of modes kept, of `modes` in all. Modes are orthonormal under the vertex weights, so that the square of what the first k leave is that of what
/// all leave plus the squares of the coefficients beyond k (Pythagoras).
#[must_use]
pub(crate) fn residuals_by_modes(rows: &[MlRow], modes: usize) -> Vec<ModesKept> {
    let kept = KEPT.into_iter().filter(|k| *k < modes).chain([modes]);
    kept.map(|k| {
        let left = |r: &&MlRow| {
            r.residual_rms_mm.powi(2) + r.coefficients.iter().skip(k).map(|c| c * c).sum::<f64>()
        };
        let of = |part: Part| {
            let squares: Vec<f64> = rows.iter().filter(|r| r.part == part).map(|r| left(&r)).collect();
            rms(squares.into_iter())
        };
        ModesKept { modes: k, rms_mm: Part::ALL.into_iter().map(|p| (p.name(), of(p))).collect() }
    })
    .collect()
}

/// How a coefficient is spread in a part, in SDs of the training rows from their mean.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub(crate) struct Spread {
    /// Which part.
    pub part: Part,
    /// People in it.
    pub people: usize,
    /// Mean.
    pub mean: f64,
    /// SD, divisor n - 1.
    pub sd: f64,
    /// Share of the rows in each of [`BINS`] bins: under -2.5, then half an SD each, then from 2.5 on.
    pub shares: Vec<f64>,
}

/// The spread of a coefficient in each part that has [`PEOPLE_FOR_SPREAD`] people or more. `mode` counts from 0; `mean` and `sd` are those of the training rows.
#[must_use]
pub(crate) fn spreads(rows: &[MlRow], mode: usize, mean: f64, sd: f64) -> Vec<Spread> {
    let mut out = Vec::new();
    for part in Part::ALL {
        let of: Vec<&MlRow> = rows.iter().filter(|r| r.part == part).collect();
        let (people, _) = people_of(&of);
        if people < PEOPLE_FOR_SPREAD || sd <= 0.0 {
            continue;
        }
        let values: Vec<f64> =
            of.iter().filter_map(|r| r.coefficients.get(mode)).map(|c| (c - mean) / sd).collect();
        let n = values.len() as f64;
        let own = values.iter().sum::<f64>() / n;
        let squares: f64 = values.iter().map(|v| (v - own).powi(2)).sum();
        let mut shares = vec![0.0; BINS];
        for v in &values {
            // -2.5 is the lower edge of the second bin
            let bin = ((v + 3.0) / 0.5).floor().clamp(0.0, (BINS - 1) as f64);
            shares[bin as usize] += 1.0 / n;
        }
        out.push(Spread { part, people, mean: own, sd: (squares / (n - 1.0)).sqrt(), shares });
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    fn row(person: usize, residual: f64, coefficient: f64) -> MlRow {
        MlRow {
            index: 0,
            item: String::new(),
            participant: format!("P{person}"),
            part: Part::Test,
            mirrored: false,
            coefficients: vec![coefficient],
            residual_rms_mm: residual,
            pose: [0.0; 13],
            positions_sha256: String::new(),
        }
    }

    #[test]
    fn the_interval_is_of_people_and_holds_the_residual() {
        let rows: Vec<MlRow> = (0..40).map(|i| row(i / 2, 1.0 + (i % 7) as f64 / 10.0, 0.0)).collect();
        let facts = part_facts(Part::Test, &rows, 3);
        assert_eq!((facts.people, facts.rows), (20, 40));
        let (low, high) = facts.residual_interval_mm.unwrap();
        let rms = facts.residual_rms_mm.unwrap();
        assert!(low < rms && rms < high && high - low < 0.5, "{low} {rms} {high}");
        // too few people, however many rows
        let few: Vec<MlRow> = (0..40).map(|i| row(i % 9, 1.0, 0.0)).collect();
        assert_eq!(part_facts(Part::Test, &few, 3).residual_interval_mm, None);
        assert_eq!(part_facts(Part::Train, &rows, 3).residual_rms_mm, None);
    }

    #[test]
    fn what_fewer_modes_leave_is_what_all_leave_and_the_rest() {
        let mut one = row(1, 2.0, 3.0);
        one.coefficients = vec![3.0, 6.0, 2.0];
        let found = residuals_by_modes(&[one], 3);
        let of = |part| found.iter().map(|k| (k.modes, k.rms_mm[part])).collect::<Vec<_>>();
        assert_eq!(of("test"), [(1, Some(44.0f64.sqrt())), (2, Some(8.0f64.sqrt())), (3, Some(2.0))]);
        assert!(of("train").iter().all(|k| k.1.is_none()));
    }

    #[test]
    fn spreads_are_in_training_sds_and_hide_a_few_people() {
        let rows: Vec<MlRow> = (0..6).map(|i| row(i, 1.0, 10.0 + 2.0 * i as f64)).collect();
        let found = spreads(&rows, 0, 10.0, 4.0);
        assert_eq!(found.len(), 1);
        // 0, 0.5, 1, 1.5, 2, 2.5
        assert!((found[0].mean - 1.25).abs() < 1e-12);
        assert_eq!(found[0].shares.iter().filter(|s| **s > 0.0).count(), 6);
        assert!((found[0].shares[BINS - 1] - 1.0 / 6.0).abs() < 1e-12);
        assert!(spreads(&rows[..4], 0, 10.0, 4.0).is_empty());
    }
}
