//! The shape space, with its cross-validation.

use formkin_geometry::Point;
use formkin_shape::{Space, SpaceParams};

use crate::{Cohort, Model};

struct Fitted(Space);

impl Model for Fitted {
    const SEEDED: bool = true;

    fn fit(cohort: &Cohort, seed: u64) -> Result<Self, String> {
        let people: Vec<usize> = (0..cohort.shapes.len()).collect();
        // Five folds, so that few people still make different folds under different seeds.
        SpaceParams { seed, folds: 5, ..SpaceParams::default() }
            .fit(&cohort.source(), &cohort.topology, &people, None, &|_, _| {})
            .map(|f| Self(f.space))
            .map_err(|e| e.to_string())
    }

    fn numbers(&self) -> Vec<f64> {
        let s = &self.0;
        let mut all = vec![s.total_variance_mm2];
        all.extend(&s.variances_mm2);
        all.extend(s.mean.iter().chain(s.modes.iter().take(5).flatten()).flatten());
        all.extend(&s.weights);
        let errors = s.cross_validation.as_ref().map(|c| c.errors.iter().map(|e| e.rms_mm));
        all.extend(errors.into_iter().flatten());
        all
    }

    fn unordered(&self) -> Vec<f64> {
        let mut all = self.0.variances_mm2.clone();
        all.push(self.0.total_variance_mm2);
        all
    }

    fn save(&self) -> Vec<u8> {
        self.0.to_safetensors()
    }

    fn load(bytes: &[u8]) -> Result<Self, String> {
        Space::from_safetensors(bytes).map(Self).map_err(|e| e.to_string())
    }

    fn apply(&self, shape: &[Point]) -> Option<Result<Vec<f64>, String>> {
        Some(self.0.project(shape).map(|p| p.coefficients).map_err(|e| e.to_string()))
    }
}

crate::contracts!(Fitted);

/// A participant's mark decides the folds; which number a participant has must not: the same people under other numbers.
#[test]
fn a_person_s_items_are_held_out_together() {
    let mut cohort = Cohort::of(10, 3);
    let again = cohort.shapes.clone();
    cohort.shapes.extend(again);
    let people: Vec<usize> = (0..20).map(|i| i % 10).collect();
    let fit = |people: &[usize]| {
        SpaceParams::default()
            .fit(&cohort.source(), &cohort.topology, people, None, &|_, _| {})
            .unwrap()
            .space
    };
    let honest = fit(&people);
    assert_eq!((honest.people, honest.items), (10, 20));
    // Taken for twenty people, each has a twin in the training part: the error held out is then far too good.
    let fooled = fit(&(0..20).collect::<Vec<_>>());
    let error = |s: &Space| s.cross_validation.as_ref().unwrap().errors.last().unwrap().rms_mm;
    assert!(error(&fooled) < 0.5 * error(&honest), "{} against {}", error(&fooled), error(&honest));
}
