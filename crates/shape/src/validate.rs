//! Cross-validation by participant: alignment and components refitted in every fold.
//!
//! People are dealt into folds; a person's scans and frames stay together. In every fold the shapes of the others are aligned and decomposed anew, and the
//! shapes held out are laid on that mean and described with 0, 1, 2, .. of those modes. All of it follows exactly from the cross moments of the cohort
//! ([`formkin_align::CrossMoments`]), so the meshes are read once; the vertex weights are those of the whole cohort.

use std::collections::BTreeMap;

use formkin_align::CrossMoments;
use formkin_geometry::{ShapeSource, Subset};
use formkin_stats::folds::{Fold, grouped_folds};
use formkin_stats::random::stream;
use formkin_stats::symmetric::symmetric_eigen;
use rand::seq::SliceRandom;
use rayon::prelude::*;

use crate::gram::rank;
pub use crate::held_out::{CrossValidation, ModeError};
use crate::{ShapeError, SpaceParams};

/// Shapes that a cross-validation uses at most: 3 n x 3 n moments of so many take 288 MB.
pub(crate) const MOST_ITEMS: usize = 2000;

/// A further mode must lower the error by this to be worth having, in mm (common practice, no source).
pub(crate) const LEAST_GAIN_MM: f64 = 0.1;

/// Cross-validates a space of the shapes of `source` under fixed vertex weights. `people[i]` is the participant of shape i. `progress` hears (steps done, of).
///
/// # Errors
/// [`ShapeError::TooFewPeople`] under three people; [`ShapeError::Align`] where a fold cannot be aligned.
pub fn cross_validate(
    source: &dyn ShapeSource,
    weights: &[f64],
    people: &[usize],
    params: &SpaceParams,
    progress: &(dyn Fn(usize, usize) + Sync),
) -> Result<CrossValidation, ShapeError> {
    params.check()?;
    if people.len() != source.shapes() {
        return Err(ShapeError::Count {
            what: "participants of the shapes",
            expected: source.shapes(),
            found: people.len(),
        });
    }
    let persons = distinct(people);
    if persons < 3 {
        return Err(ShapeError::TooFewPeople { people: persons });
    }
    let items = thin(people, MOST_ITEMS, params.seed);
    let people: Vec<usize> = items.iter().map(|&i| people[i]).collect();
    let persons = distinct(&people);
    let subset = Subset::new(source, &items);
    let moments = CrossMoments::of(&subset, weights, params.align.removes, progress)?;
    let folds = grouped_folds(&people, params.folds, params.seed)?;
    let residuals: Vec<_> = folds
        .par_iter()
        .map(|fold| residuals(&moments, fold, params))
        .collect::<Vec<Result<_, ShapeError>>>();
    let mut by_person: BTreeMap<usize, Vec<Vec<f64>>> = BTreeMap::new();
    let mut most = params.max_modes.unwrap_or(usize::MAX);
    for (fold, found) in folds.iter().zip(residuals) {
        for (&i, squares) in fold.test.iter().zip(found?) {
            most = most.min(squares.len() - 1);
            by_person.entry(people[i]).or_default().push(squares);
        }
    }
    let errors: Vec<ModeError> = (0..=most).map(|k| mode_error(k, &by_person)).collect();
    let mut rule = format!(
        "the smallest number of modes with which people left out are described within {} mm RMS, or after which no further mode lowers that error by \
         {LEAST_GAIN_MM} mm; {} folds by participant, alignment and modes refitted in every fold, vertex weights fixed",
        params.target_mm,
        folds.len()
    );
    if items.len() < source.shapes() {
        rule += &format!("; on {} of {} shapes, drawn evenly over people", items.len(), source.shapes());
    }
    Ok(CrossValidation {
        folds: folds.len(),
        people: persons,
        items: items.len(),
        chosen_modes: choose(&errors, params.target_mm),
        errors,
        rule,
        target_mm: params.target_mm,
    })
}

fn distinct(people: &[usize]) -> usize {
    let mut sorted = people.to_vec();
    sorted.sort_unstable();
    sorted.dedup();
    sorted.len()
}

/// At most `most` items, ascending: one of every person in a random order of people, then a second, and so on.
pub(crate) fn thin(people: &[usize], most: usize, seed: u64) -> Vec<usize> {
    if people.len() <= most {
        return (0..people.len()).collect();
    }
    let mut rng = stream(seed, "cross-validation items");
    let mut of: BTreeMap<usize, Vec<usize>> = BTreeMap::new();
    for (i, &p) in people.iter().enumerate() {
        of.entry(p).or_default().push(i);
    }
    let mut piles: Vec<Vec<usize>> = of.into_values().collect();
    piles.shuffle(&mut rng);
    for pile in &mut piles {
        pile.shuffle(&mut rng);
    }
    let mut kept = Vec::with_capacity(most);
    while kept.len() < most {
        for pile in &mut piles {
            if kept.len() < most {
                kept.extend(pile.pop());
            }
        }
    }
    kept.sort_unstable();
    kept
}

/// For each shape held out, its mean square error with 0, 1, 2, .. modes, in mm2.
fn residuals(moments: &CrossMoments, fold: &Fold, params: &SpaceParams) -> Result<Vec<Vec<f64>>, ShapeError> {
    let alignment = moments.align(&fold.train, &params.align)?;
    let eigen = symmetric_eigen(&alignment.gram())?;
    // inner products of whole shapes were subtracted from each other: rounding is a few 2^-52 of the square size
    let modes =
        rank(&eigen.values, alignment.mean_square_mm2(), 16.0 * fold.train.len() as f64 * f64::EPSILON)
            .min(params.max_modes.unwrap_or(usize::MAX));
    fold.test
        .par_iter()
        .map(|&i| {
            let held = alignment.hold_out(i)?;
            let mut left = held.square_mm2;
            let mut squares = Vec::with_capacity(modes + 1);
            squares.push(left);
            for k in 0..modes {
                let dot: f64 =
                    eigen.vectors.column(k).iter().zip(&held.products_mm2).map(|(u, x)| u * x).sum();
                left = (left - dot * dot / eigen.values[k]).max(0.0);
                squares.push(left);
            }
            Ok(squares)
        })
        .collect()
}

fn mode_error(modes: usize, by_person: &BTreeMap<usize, Vec<Vec<f64>>>) -> ModeError {
    let squares: Vec<f64> = by_person
        .values()
        .map(|items| items.iter().map(|s| s[modes]).sum::<f64>() / items.len() as f64)
        .collect();
    let n = squares.len() as f64;
    let mean = squares.iter().sum::<f64>() / n;
    let variance = squares.iter().map(|s| (s - mean).powi(2)).sum::<f64>() / (n - 1.0);
    let rms_mm = mean.sqrt();
    let se_mm = if rms_mm > 0.0 { (variance / n).sqrt() / (2.0 * rms_mm) } else { 0.0 };
    ModeError { modes, rms_mm, se_mm, worst_mm: squares.iter().copied().fold(0.0, f64::max).sqrt() }
}

/// The rule, as its text says.
fn choose(errors: &[ModeError], target_mm: f64) -> Option<usize> {
    let within = errors.iter().find(|e| e.rms_mm <= target_mm).map(|e| e.modes);
    let last = errors.len().checked_sub(1)?;
    let gains = errors.windows(2).rposition(|w| w[0].rms_mm - w[1].rms_mm >= LEAST_GAIN_MM);
    let flat = gains.map_or(0, |g| g + 1);
    let flat = (flat < last).then_some(flat);
    match (within, flat) {
        (Some(a), Some(b)) => Some(a.min(b)),
        (a, b) => a.or(b),
    }
}
