//! A part of a surface, a cohort with holes, or a region hidden on people held out, to what comes of completing it.

use std::collections::BTreeMap;
use std::path::Path;
use std::sync::Arc;

use formkin_cohort::Cohort;
use formkin_geometry::{Point, Template};
use formkin_shape::Space;
use formkin_shape::complete::{Calibration, calibrate};
use serde::{Deserialize, Serialize};

use super::fill::{FillOutcome, fill_holes};
use super::holes::holes_of_table;
use super::part::{CompletedBody, complete_shape};
use super::seen::{read_numbers, seen_of_landmarks, seen_of_mesh, seen_of_regions};
use super::{CompleteSettings, CompleteSources};
use crate::bodies::{read_shape, read_space, same_triangles, topology};
use crate::choices::{Which, people_of};
use crate::measure::Measuring;
use crate::predictions::described_space;
use crate::reading::read_table;
use crate::{Progress, Store, TaskError};

/// What is completed, and by which space.
#[derive(Debug)]
pub struct CompleteInputs {
    /// The space.
    pub space: Arc<Space>,
    pub(super) of: Of,
}

/// What is completed.
#[derive(Debug)]
pub(super) enum Of {
    /// A shape of which some vertices are known.
    Shape {
        seen: Vec<(u32, Point)>,
        keep_seen: bool,
        /// The cohort that intervals are calibrated on.
        people: Option<Cohort>,
    },
    /// A cohort with holes.
    Cohort { cohort: Cohort, holes: BTreeMap<String, Vec<u32>> },
    /// The bodies of a study, of which a region is hidden.
    Study { cohort: Arc<Cohort>, items: Vec<usize> },
}

/// What came out.
#[derive(Debug, Clone, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum CompleteOutcome {
    /// A body.
    Body(Box<CompletedBody>),
    /// The items of a cohort.
    Filled(FillOutcome),
    /// How completions of a hidden region fare on people held out.
    HeldOut(Calibration),
}

impl CompleteInputs {
    pub(super) fn open(sources: &CompleteSources, settings: &CompleteSettings) -> Result<Self, TaskError> {
        let space = Arc::new(read_space(&sources.space)?);
        let of = match &sources.cohort {
            Some(path) => {
                let cohort = Cohort::open(path)?;
                let holes = match &sources.holes {
                    Some(table) => holes_of_table(&read_table(table)?, &cohort)
                        .map_err(|e| TaskError::in_file(table, e))?,
                    None => BTreeMap::new(),
                };
                Of::Cohort { cohort, holes }
            }
            None => {
                let people = match &sources.calibrate {
                    Some(path) => Some(calibrating(&space, path)?),
                    None => None,
                };
                Of::Shape { seen: seen(&space, sources, settings)?, keep_seen: sources.keep_seen, people }
            }
        };
        Ok(Self { space, of })
    }

    /// The bodies of a study; none without a space.
    pub(super) fn of(store: &Store) -> Option<Self> {
        let fitted = store.get::<crate::space::Space>()?;
        let of = Of::Study { cohort: store.cohort()?, items: fitted.outcome.items.clone() };
        Some(Self { space: described_space(store)?, of })
    }
}

fn calibrating(space: &Space, path: &Path) -> Result<Cohort, TaskError> {
    let cohort = Cohort::open(path)?;
    same_triangles(space, &cohort, "name the cohort that the space was built from")?;
    Ok(cohort)
}

/// What is seen of a shape.
fn seen(
    space: &Space,
    sources: &CompleteSources,
    settings: &CompleteSettings,
) -> Result<Vec<(u32, Point)>, TaskError> {
    let template: Option<Template> = Measuring::read(space)?.map(|(_, template)| template);
    let template = template.as_ref();
    if let Some(path) = &sources.landmarks {
        return seen_of_landmarks(&read_table(path)?, template).map_err(|e| TaskError::in_file(path, e));
    }
    let Some(path) = &sources.mesh else {
        return Err(TaskError::Nothing {
            what: "there is nothing to complete".into(),
            advice: "name a mesh of which a part is missing, or --landmarks".into(),
        });
    };
    let positions = read_shape(path, &topology(space)?, sources.unit.into(), sources.up.into())?;
    if !settings.only.is_empty() {
        return seen_of_regions(&positions, template, &settings.only);
    }
    let vertices = sources.missing_vertices.as_deref().map(read_numbers).transpose()?.unwrap_or_default();
    seen_of_mesh(&positions, template, &settings.missing, &vertices)
}

/// Completes what the inputs hold.
pub(super) fn run(
    settings: &CompleteSettings,
    inputs: &CompleteInputs,
    progress: Progress<'_>,
) -> Result<CompleteOutcome, TaskError> {
    let space = &*inputs.space;
    Ok(match &inputs.of {
        Of::Shape { seen, keep_seen, people } => {
            let vertices: Vec<u32> = seen.iter().map(|(v, _)| *v).collect();
            let calibration = match people {
                Some(cohort) => {
                    let items = Which::Stills.of(cohort)?;
                    Some(held_out(space, cohort, &items, &vertices, settings)?)
                }
                None => None,
            };
            let made = complete_shape(space, seen, &settings.params(), *keep_seen, calibration)?;
            CompleteOutcome::Body(Box::new(made))
        }
        Of::Cohort { cohort, holes } => {
            CompleteOutcome::Filled(fill_holes(space, cohort, holes, settings, progress)?)
        }
        Of::Study { cohort, items } => {
            let seen = seen_in_study(cohort.template(), settings)?;
            CompleteOutcome::HeldOut(held_out(space, cohort, items, &seen, settings)?)
        }
    })
}

/// How completions from the vertices `seen` fare on the people of a cohort, held out.
fn held_out(
    space: &Space,
    cohort: &Cohort,
    items: &[usize],
    seen: &[u32],
    settings: &CompleteSettings,
) -> Result<Calibration, TaskError> {
    let people = people_of(cohort, items);
    let source = cohort.select(items.to_vec());
    Ok(calibrate(&source, &people, space, seen, &settings.params(), &settings.calibration(space))?)
}

/// The vertices outside the hidden regions, or inside those that alone are seen.
fn seen_in_study(template: &Template, settings: &CompleteSettings) -> Result<Vec<u32>, TaskError> {
    let only = !settings.only.is_empty();
    let mut seen = vec![!only; template.mesh.positions().len()];
    for name in if only { &settings.only } else { &settings.missing } {
        let setting = if only { "only" } else { "missing" };
        for v in crate::choices::region(setting, name, template)? {
            seen[v as usize] = only;
        }
    }
    Ok((0..seen.len() as u32).filter(|v| seen[*v as usize]).collect())
}
