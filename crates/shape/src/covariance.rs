//! The covariance of shapes beyond their modes: probabilistic components, shrinkage.
//!
//! *Probabilistic principal components* (Tipping & Bishop 1999): Sigma = P L P^T + s2 I. The noise s2 is taken from people held out: the mean square error with
//! K modes is that of three coordinates, so s2 = rms^2 / 3. *Shrinkage* (Ledoit & Wolf 2004): (1 - a) S + a mu I, mu = tr S / p, with the a of least expected
//! square error; all of it follows from the Gram matrix, so that p may be the 3V coordinates of meshes.

use ndarray::Array2;
use serde::{Deserialize, Serialize};

use crate::{ShapeError, Space};

/// Probabilistic principal components of a space.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ProbabilisticPca {
    /// Number of modes K.
    pub modes: usize,
    /// The K variances along the modes, in mm2, as in the space.
    pub variances_mm2: Vec<f64>,
    /// s2: variance of a coordinate of a vertex beyond the modes, in mm2.
    pub noise_mm2: f64,
    /// Whether s2 is from people held out; otherwise from the variances beyond the modes, which is too small.
    pub held_out: bool,
    /// Effective number of independent directions of what is beyond the modes, (sum l)^2 / sum l^2 of their variances (of the later half of all, where more than half are kept):
    /// the residuals of meshes are smooth, and neighbouring vertices do not count as so many observations. None where nothing varies.
    pub freedom: Option<f64>,
}

impl Space {
    /// The number of modes, of those kept, with which people held out are described best; all kept where nobody was held out.
    #[must_use]
    pub(crate) fn best_described(&self) -> usize {
        let errors = self.cross_validation.iter().flat_map(|c| &c.errors);
        errors
            .filter(|e| e.modes <= self.modes.len())
            .min_by(|a, b| a.rms_mm.total_cmp(&b.rms_mm))
            .map_or(self.modes.len(), |e| e.modes)
    }

    /// Probabilistic components with `modes` modes; none: the number that the cross-validation chose, or all kept.
    ///
    /// # Errors
    /// [`ShapeError::Setting`] where the space does not keep so many.
    pub fn probabilistic(&self, modes: Option<usize>) -> Result<ProbabilisticPca, ShapeError> {
        let validated = self.cross_validation.as_ref();
        let chosen = validated.and_then(|c| c.chosen_modes).map(|k| k.min(self.modes.len()));
        let k = modes.or(chosen).unwrap_or(self.modes.len());
        if k > self.modes.len() {
            let value = k as f64;
            return Err(ShapeError::Setting {
                name: "modes",
                value,
                range: "at most the modes that the space keeps",
            });
        }
        let sum: f64 = self.variances_mm2.get(k..).unwrap_or_default().iter().sum();
        // where nearly all are kept, what is left of people held out is as smooth as the later half of the modes
        let from = k.min(self.variances_mm2.len() / 2);
        let (rest, square) =
            self.variances_mm2[from..].iter().fold((0.0, 0.0), |(s, q), l| (s + l, q + l * l));
        // held-out errors end where the smallest fold ends
        let error = validated.and_then(|c| c.errors.iter().rfind(|e| e.modes <= k));
        Ok(ProbabilisticPca {
            modes: k,
            variances_mm2: self.variances_mm2[..k].to_vec(),
            noise_mm2: error.map_or(sum, |e| e.rms_mm * e.rms_mm) / 3.0,
            held_out: error.is_some(),
            freedom: (square > 0.0).then(|| rest * rest / square),
        })
    }
}

/// A covariance shrunk towards a multiple of the identity.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct LedoitWolf {
    /// a: 0 leaves the sample covariance, 1 leaves nothing of it.
    pub shrinkage: f64,
    /// mu: the mean variance of a coordinate, divisor n.
    pub mean_variance: f64,
    /// Eigenvalues of the shrunk covariance along the sample's own directions, (1 - a) l_k + a mu, largest first, divisor n.
    pub variances: Vec<f64>,
    /// Variance along every other direction, a mu.
    pub rest: f64,
}

/// Shrinks the covariance of n rows of `coordinates` values, centred, from their n x n Gram matrix.
///
/// # Errors
/// [`ShapeError::TooFewShapes`] under two rows; [`ShapeError::Setting`] without coordinates; [`ShapeError::Stats`].
pub fn ledoit_wolf(gram: &Array2<f64>, coordinates: usize) -> Result<LedoitWolf, ShapeError> {
    let n = gram.nrows();
    if n < 2 {
        return Err(ShapeError::TooFewShapes { shapes: n });
    }
    if coordinates == 0 {
        return Err(ShapeError::Setting { name: "coordinates", value: 0.0, range: "1 or more" });
    }
    let (rows, p) = (n as f64, coordinates as f64);
    let trace: f64 = gram.diag().sum() / rows;
    let mean_variance = trace / p;
    let square: f64 = gram.iter().map(|x| x * x).sum::<f64>() / (rows * rows);
    let fourth: f64 = gram.diag().iter().map(|x| x * x).sum::<f64>() / rows;
    let distance = (square - 2.0 * mean_variance * trace + p * mean_variance * mean_variance) / p;
    let error = ((fourth - square) / (p * rows)).clamp(0.0, distance.max(0.0));
    let shrinkage = if distance > 0.0 { error / distance } else { 0.0 };
    let eigen = formkin_stats::symmetric::symmetric_eigen(gram)?;
    let rest = shrinkage * mean_variance;
    let variances = eigen
        .values
        .iter()
        .take((n - 1).min(coordinates))
        .map(|g| (1.0 - shrinkage) * g.max(0.0) / rows + rest)
        .collect();
    Ok(LedoitWolf { shrinkage, mean_variance, variances, rest })
}
