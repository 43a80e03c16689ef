//! Generalised Procrustes alignment, each of the three that differ in what they remove.

use formkin_align::{AlignParams, Alignment, Removes, align_one};
use formkin_geometry::Point;

use crate::{Cohort, Model};

fn fit(cohort: &Cohort, removes: Removes) -> Result<Alignment, String> {
    AlignParams { removes, ..AlignParams::default() }
        .fit(&cohort.source(), &cohort.topology, None, &|_, _| {})
        .map_err(|e| e.to_string())
}

/// Where the mean stands depends on the reference; its edges do not.
fn lengths(mean: &[Point]) -> impl Iterator<Item = f64> {
    mean.windows(7).map(|p| formkin_geometry::vector::distance(p[0], p[6]))
}

macro_rules! alignment {
    ($module:ident, $removes:expr) => {
        mod $module {
            use super::*;

            struct Fitted(Alignment);

            impl Model for Fitted {
                fn fit(cohort: &Cohort, _seed: u64) -> Result<Self, String> {
                    fit(cohort, $removes).map(Self)
                }

                fn numbers(&self) -> Vec<f64> {
                    let a = &self.0;
                    let mut all = vec![a.sum_of_squares_mm2, a.rms_mm, a.rounds as f64];
                    all.extend(a.mean.iter().flatten());
                    all.extend(&a.weights);
                    for t in &a.transforms {
                        all.extend(t.rotation.iter().flatten().chain(&t.translation).chain([&t.scale]));
                    }
                    all
                }

                fn unordered(&self) -> Vec<f64> {
                    let mut all = vec![self.0.rms_mm];
                    all.extend(lengths(&self.0.mean));
                    all
                }

                fn save(&self) -> Vec<u8> {
                    serde_json::to_vec(&self.0).unwrap()
                }

                fn load(bytes: &[u8]) -> Result<Self, String> {
                    serde_json::from_slice(bytes).map(Self).map_err(|e| e.to_string())
                }

                fn apply(&self, shape: &[Point]) -> Option<Result<Vec<f64>, String>> {
                    let placed = align_one(shape, &self.0.mean, &self.0.weights, $removes);
                    Some(placed.map(|t| t.translation.to_vec()).map_err(|e| e.to_string()))
                }
            }

            $crate::contracts!(Fitted);
        }
    };
}

alignment!(rigid, Removes::Rigid);
alignment!(similarity, Removes::Similarity);
alignment!(standing, Removes::Standing);
