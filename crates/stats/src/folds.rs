//! Folds for cross-validation that never split a group.

use rand::seq::SliceRandom;
use serde::{Deserialize, Serialize};

use crate::StatsError;
use crate::random::stream;

/// One fold: what is fitted on and what is held out. Both ascending, together everything, with no group in both.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Fold {
    /// Items to fit on.
    pub train: Vec<usize>,
    /// Items held out.
    pub test: Vec<usize>,
}

/// Deals whole groups (people) into folds of nearly equal numbers of groups, in a seeded random order. `groups` holds the group of every
/// item. With fewer groups than `folds`, every group is a fold of its own (leave one person out).
///
/// # Errors
/// [`StatsError::TooFew`] under two groups or two folds.
pub fn grouped_folds(groups: &[usize], folds: usize, seed: u64) -> Result<Vec<Fold>, StatsError> {
    let mut distinct = groups.to_vec();
    distinct.sort_unstable();
    distinct.dedup();
    if distinct.len() < 2 {
        return Err(StatsError::TooFew { what: "groups to make folds of", least: 2, found: distinct.len() });
    }
    if folds < 2 {
        return Err(StatsError::TooFew { what: "folds", least: 2, found: folds });
    }
    let folds = folds.min(distinct.len());
    let mut order: Vec<usize> = (0..distinct.len()).collect();
    order.shuffle(&mut stream(seed, "folds"));
    let mut fold_of = vec![0; distinct.len()];
    for (place, &group) in order.iter().enumerate() {
        fold_of[group] = place % folds;
    }
    let held = |item: &usize| distinct.binary_search(&groups[*item]).map_or(0, |g| fold_of[g]);
    Ok((0..folds)
        .map(|f| {
            let (test, train) = (0..groups.len()).partition(|i| held(i) == f);
            Fold { train, test }
        })
        .collect())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn groups_stay_whole_and_every_item_is_held_out_once() {
        let groups: Vec<usize> = (0..103).map(|i| (i * 7) % 23).collect();
        let folds = grouped_folds(&groups, 10, 1).unwrap();
        assert_eq!(folds.len(), 10);
        let mut held = vec![0; groups.len()];
        for fold in &folds {
            assert_eq!(fold.train.len() + fold.test.len(), groups.len());
            for &i in &fold.test {
                held[i] += 1;
                assert!(fold.train.iter().all(|&j| groups[j] != groups[i]));
            }
        }
        assert!(held.iter().all(|&h| h == 1));
        assert_eq!(folds, grouped_folds(&groups, 10, 1).unwrap());
        assert_ne!(folds, grouped_folds(&groups, 10, 2).unwrap());
    }

    #[test]
    fn few_groups_are_left_out_one_by_one() {
        assert_eq!(grouped_folds(&[4, 4, 9, 1], 10, 0).unwrap().len(), 3);
        assert!(grouped_folds(&[4, 4], 10, 0).is_err());
        assert!(grouped_folds(&[1, 2, 3], 1, 0).is_err());
    }
}
