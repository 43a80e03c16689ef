//! The modes of a movement. Its shapes are frames: their order is time.

use formkin_motion::{Motion, MotionParams};

use crate::{Cohort, Model};

struct Fitted(Motion);

impl Model for Fitted {
    const IN_TIME: bool = true;

    fn fit(cohort: &Cohort, seed: u64) -> Result<Self, String> {
        let times: Vec<f64> = (0..cohort.shapes.len()).map(|i| i as f64 / 25.0).collect();
        MotionParams { modes: 6, seed, ..MotionParams::default() }
            .fit(&cohort.source(), &cohort.topology, &times, &|_, _| {})
            .map(Self)
            .map_err(|e| e.to_string())
    }

    fn numbers(&self) -> Vec<f64> {
        let m = &self.0;
        let mut all = vec![m.total_variance_mm2];
        all.extend(&m.variances_mm2);
        all.extend(m.mean.iter().chain(m.modes.iter().flatten()).flatten());
        all.extend(m.coefficients.iter().flatten());
        all
    }

    fn unordered(&self) -> Vec<f64> {
        Vec::new()
    }

    fn save(&self) -> Vec<u8> {
        serde_json::to_vec(&self.0).unwrap()
    }

    fn load(bytes: &[u8]) -> Result<Self, String> {
        serde_json::from_slice(bytes).map(Self).map_err(|e| e.to_string())
    }
}

crate::contracts!(Fitted);
