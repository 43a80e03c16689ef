//! Comparing groups of people, and shape on a number.
//!
//! Everything works on coefficients, one row a person (the mean of the person's rows), so that people are permuted and counted, never frames.
//!
//! | module | what it holds |
//! |---|---|
//! | [`design`] | rows by person, columns of models |
//! | [`mod@hotelling`] | Hotelling's T2 |
//! | [`mod@pairs`] | every two groups, at equal covariates |
//! | [`mod@anova`] | Procrustes analysis of variance by permuted residuals |
//! | [`mod@place`] | where on the body |
//! | [`mod@classify`] | the error of telling groups apart |
//! | [`mod@regress`] | shape on a number, equal slopes |

pub mod anova;
pub mod classify;
pub mod design;
pub mod hotelling;
pub mod pairs;
pub mod place;
pub mod regress;

pub use anova::{Anova, anova};
pub use classify::{Classification, classify};
pub use hotelling::{Hotelling, hotelling_one, hotelling_two};
pub use pairs::{Pair, pairs};
pub use place::{Place, place};
pub use regress::{ShapeRegression, regress};

use ndarray::{Array2, ArrayView2, Axis, s};
use serde::{Deserialize, Serialize};

use crate::{ShapeError, Space};

/// Settings of a comparison and of a regression.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct CompareParams {
    /// Coefficients of T2 and of the discrimination; set before the data are seen.
    pub modes: usize,
    /// Permutations: 9,999 or more for what is reported.
    pub permutations: usize,
    /// Level of the findings on the body.
    pub level: f64,
    /// Folds of the discrimination.
    pub folds: usize,
    /// Seed of permutations and folds.
    pub seed: u64,
}

impl Default for CompareParams {
    fn default() -> Self {
        Self { modes: 10, permutations: 9999, level: 0.05, folds: 10, seed: 1 }
    }
}

/// A comparison of groups.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Comparison {
    /// Names of the groups.
    pub groups: Vec<String>,
    /// People in each.
    pub people: Vec<usize>,
    /// Means of the groups: groups x coefficients, in mm.
    pub means_mm: Vec<Vec<f64>>,
    /// All groups at once, given the covariates, over all coefficients.
    pub anova: Anova,
    /// Every two groups, given the covariates.
    pub pairs: Vec<Pair>,
    /// Where on the body, given the covariates.
    pub place: Place,
    /// What the effect of that map is, in words.
    pub effect: String,
    /// How well people are told apart.
    pub classification: Classification,
    /// Columns held fixed.
    pub covariates: Vec<String>,
    /// The settings.
    pub params: CompareParams,
}

impl CompareParams {
    pub(crate) fn check(&self) -> Result<(), ShapeError> {
        if self.modes == 0 {
            return Err(ShapeError::Setting { name: "modes", value: 0.0, range: "1 or more" });
        }
        if !(self.level > 0.0 && self.level < 1.0) {
            let value = self.level;
            return Err(ShapeError::Setting { name: "level", value, range: "above 0 and under 1" });
        }
        Ok(())
    }

    /// Compares groups. `y` is people x coefficients (all of the space's kept modes), `groups[i]` the group of person i, `covariates` people x columns.
    ///
    /// # Errors
    /// [`ShapeError::OneGroup`], [`ShapeError::SmallGroup`], sizes and settings that do not fit, covariates that follow from each other.
    pub fn compare(
        &self,
        space: &Space,
        y: ArrayView2<f64>,
        groups: &[usize],
        names: &[String],
        covariates: Option<(ArrayView2<f64>, &[String])>,
    ) -> Result<Comparison, ShapeError> {
        self.check()?;
        if names.len() < 2 {
            return Err(ShapeError::OneGroup { groups: names.len() });
        }
        if groups.len() != y.nrows() {
            return Err(ShapeError::Count {
                what: "groups of the people",
                expected: y.nrows(),
                found: groups.len(),
            });
        }
        let modes = self.modes.min(y.ncols());
        let first = y.slice(s![.., ..modes]);
        let members: Vec<Array2<f64>> = (0..names.len())
            .map(|g| {
                let of: Vec<usize> = (0..groups.len()).filter(|i| groups[*i] == g).collect();
                y.select(Axis(0), &of)
            })
            .collect();
        for (rows, name) in members.iter().zip(names) {
            if rows.nrows() < 2 {
                return Err(ShapeError::SmallGroup { group: name.clone(), people: rows.nrows(), least: 2 });
            }
        }
        let means: Vec<Vec<f64>> =
            members.iter().map(|r| r.mean_axis(Axis(0)).unwrap_or_default().to_vec()).collect();
        let reduced = design::with_intercept(y.nrows(), covariates.as_ref().map(|c| c.0));
        let added = design::indicators(groups, names.len());
        let effect = match names {
            [first, second] => format!(
                "mm along the outward normal of the mean, {second} less {first}: above 0 where {second} stand out further"
            ),
            _ => "mm along the outward normal of the mean, root mean square over people of what the groups differ: without a sign".to_owned(),
        };
        Ok(Comparison {
            groups: names.to_vec(),
            people: members.iter().map(|m| m.nrows()).collect(),
            means_mm: means,
            anova: anova(y, reduced.view(), added.view(), self.permutations, self.seed)?,
            pairs: pairs(y, modes, groups, names, covariates.as_ref().map(|c| c.0))?,
            effect,
            place: place(space, y, reduced.view(), added.view(), self.level)?,
            classification: classify(first, groups, names, self.folds, self.seed)?,
            covariates: covariates.map_or_else(Vec::new, |c| c.1.to_vec()),
            params: self.clone(),
        })
    }
}
