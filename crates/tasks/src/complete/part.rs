//! A part of a surface to the body that goes with it.

use std::collections::BTreeSet;

use formkin_geometry::Point;
use formkin_shape::complete::Calibration;
use formkin_shape::{CompleteParams, Completed, Space, complete};
use serde::{Deserialize, Serialize};

use crate::TaskError;

/// A completed mesh.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct CompletedBody {
    /// The completion.
    pub completed: Completed,
    /// The vertices that were not seen.
    pub missing: Vec<u32>,
    /// Root mean square half-width of 95 % intervals of coordinates over the missing vertices, in mm; none where none is missing.
    pub half_width_95_mm: Option<f64>,
    /// How completions from the same vertices fared on people left out, where it was found out: SDs are multiplied by its factor.
    pub calibration: Option<Calibration>,
    /// What a reader must know.
    pub notes: Vec<String>,
}

/// Completes a shape of which `seen` are known. SDs are multiplied by the factor of `calibration`, and seen vertices keep their places with
/// `keep_seen`.
///
/// # Errors
/// What the completion refuses.
pub fn complete_shape(
    space: &Space,
    seen: &[(u32, Point)],
    params: &CompleteParams,
    keep_seen: bool,
    calibration: Option<Calibration>,
) -> Result<CompletedBody, TaskError> {
    let mut completed = complete(space, seen, params)?;
    if let Some(c) = &calibration {
        completed.sd_mm.iter_mut().for_each(|sd| *sd = sd.map(|x| x * c.factor));
    }
    let there: BTreeSet<u32> = seen.iter().map(|(v, _)| *v).collect();
    let missing: Vec<u32> = (0..space.mean.len() as u32).filter(|v| !there.contains(v)).collect();
    let square: f64 =
        missing.iter().flat_map(|v| completed.sd_mm[*v as usize]).map(|sd| sd * sd).sum::<f64>();
    let half_width_95_mm =
        (!missing.is_empty()).then(|| completed.z_95 * (square / (3 * missing.len()) as f64).sqrt());
    let notes = notes(space, &completed, params, calibration.as_ref())?;
    if keep_seen {
        for (v, p) in seen {
            completed.positions[*v as usize] = *p;
        }
    }
    Ok(CompletedBody { completed, missing, half_width_95_mm, calibration, notes })
}

/// What a reader must know.
fn notes(
    space: &Space,
    completed: &Completed,
    params: &CompleteParams,
    calibration: Option<&Calibration>,
) -> Result<Vec<String>, TaskError> {
    let mut notes = vec![match calibration {
        None => "Intervals are those of the model: --calibrate COHORT holds them against people left out."
            .to_owned(),
        Some(c) => format!(
            "Of {} people left out, intervals of 95 % held {:.1} % of hidden coordinates; they are multiplied by {:.2}, which makes that 95 %.",
            c.people,
            100.0 * c.coverage_95,
            c.factor
        ),
    }];
    if completed.outside {
        notes.push(format!(
            "The completed body lies {:.1} SD from the mean, further out than 99 % of people ({:.1}): no such body was in the space.",
            completed.mahalanobis, completed.limit
        ));
    }
    if params.noise_mm.is_none() && !space.probabilistic(Some(completed.coefficients_mm.len()))?.held_out {
        notes.push(
            "Nobody was held out of this space: what lies beyond its modes is taken from its own people, and intervals are too narrow.".to_owned(),
        );
    }
    let expected = (3.0 * (completed.noise_mm.powi(2) + completed.error_mm.powi(2))).sqrt();
    if completed.residual_rms_mm > 3.0 * expected {
        notes.push(format!(
            "The seen vertices lie {:.1} mm from the completed body, and {expected:.1} mm are expected: look for another pose, clothing, or another order of vertices; if it is error of measuring, give it (`--error-mm`).",
            completed.residual_rms_mm
        ));
    }
    Ok(notes)
}
