//! The coefficients of a cohort's items in a space.

use std::path::PathBuf;

use formkin_cohort::Cohort;
use formkin_report::document::Section;
use formkin_report::format::{counted, fixed};
use formkin_shape::Space;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use serde_json::{Value, json};

use super::said;
use crate::bodies::{read_space, same_triangles};
use crate::choices::Which;
use crate::space::coefficients_parquet;
use crate::{Delivery, InStudy, Progress, Store, Target, Task, TaskError};

/// The coefficients of a cohort's items in a space.
#[derive(Debug, Clone, Copy)]
pub struct Coefficients;

/// The files of the command.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct CoefficientsSources {
    /// The space
    #[schemars(extend("position" = 1, "needed" = true))]
    pub space: PathBuf,
    /// The cohort
    #[schemars(extend("position" = 2, "needed" = true))]
    pub cohort: PathBuf,
}

/// What is asked for.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct CoefficientsSettings {
    /// Which items
    pub items: Which,
}

/// What came out.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct CoefficientsOutcome {
    /// The items, as indices into the accepted ones of the cohort.
    pub items: Vec<usize>,
    /// Their coefficients in mm, one row an item.
    pub coefficients_mm: Vec<Vec<f64>>,
    /// Root mean square over the items of what the modes leave over, in mm.
    pub residual_rms_mm: f64,
}

impl Task for Coefficients {
    const NAME: &'static str = "export coefficients";
    const ABOUT: &'static str = "The coefficients of a cohort's items in a space, as Parquet";
    const TARGETS: &'static [Target] = &[Target::File {
        option: "into",
        value: "FILE.parquet",
        about: "The file to write",
        required: true,
        name: "coefficients.parquet",
    }];
    const IN_STUDY: InStudy = InStudy::Never;

    type Sources = CoefficientsSources;
    type Settings = CoefficientsSettings;
    type Inputs = (Space, Cohort);
    type Outcome = CoefficientsOutcome;

    fn open(sources: &CoefficientsSources, _: &CoefficientsSettings) -> Result<(Space, Cohort), TaskError> {
        let (space, cohort) = (read_space(&sources.space)?, Cohort::open(&sources.cohort)?);
        same_triangles(&space, &cohort, "only shapes on the same template have coefficients")?;
        Ok((space, cohort))
    }

    fn run(
        settings: &CoefficientsSettings,
        (space, cohort): &(Space, Cohort),
        progress: Progress<'_>,
    ) -> Result<CoefficientsOutcome, TaskError> {
        let items = settings.items.of(cohort)?;
        let mut made = CoefficientsOutcome::default();
        let mut squares = 0.0;
        for (k, &i) in items.iter().enumerate() {
            let projection = space.project(&cohort.source().read_shape(i)?)?;
            squares += projection.residual_rms_mm.powi(2);
            made.coefficients_mm.push(projection.coefficients);
            progress(k + 1, items.len());
        }
        made.residual_rms_mm = (squares / items.len() as f64).sqrt();
        made.items = items;
        Ok(made)
    }

    fn object(
        _: &CoefficientsSettings,
        _: &(Space, Cohort),
        made: &CoefficientsOutcome,
    ) -> Result<Value, TaskError> {
        Ok(json!({ "items": made.items.len(), "residual_rms_mm": made.residual_rms_mm }))
    }

    fn deliver<'a>(
        _: &'a CoefficientsSettings,
        (space, cohort): &'a (Space, Cohort),
        made: &'a CoefficientsOutcome,
    ) -> Result<Delivery<'a>, TaskError> {
        let what = "Shape coefficients of every item";
        Ok(Delivery::new().made("coefficients.parquet", what, || {
            coefficients_parquet(cohort, &made.items, &made.coefficients_mm, space)
        }))
    }

    fn section(
        _: &CoefficientsSettings,
        _: &(Space, Cohort),
        made: &CoefficientsOutcome,
        _: &Store,
    ) -> Result<Vec<Section>, TaskError> {
        let items = counted(made.items.len(), "item", "items");
        let line = format!("{items}, residual {} mm RMS", fixed(made.residual_rms_mm, 2));
        Ok(said("coefficients", "Coefficients in a space", line))
    }
}
