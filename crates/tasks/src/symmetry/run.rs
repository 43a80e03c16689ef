//! A cohort to symmetric and asymmetric parts of bodies.

use std::path::Path;
use std::sync::Arc;

use formkin_cohort::Cohort;
use formkin_geometry::Topology;
use formkin_shape::Symmetry;
use serde::{Deserialize, Serialize};

use super::SymmetrySettings;
use crate::choices::{align_params, people_of};
use crate::{Progress, TaskError};

/// The bodies.
#[derive(Debug)]
pub struct SymmetryInputs {
    cohort: Arc<Cohort>,
}

/// What came out.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SymmetryOutcome {
    /// Both parts, the tests, the map.
    pub result: Symmetry,
    /// The participant of each score.
    pub participants: Vec<String>,
}

impl SymmetryInputs {
    pub(super) fn open(path: &Path) -> Result<Self, TaskError> {
        Ok(Self::of(Arc::new(Cohort::open(path)?)))
    }

    pub(super) fn of(cohort: Arc<Cohort>) -> Self {
        Self { cohort }
    }

    pub(super) fn topology(&self) -> &Topology {
        self.cohort.template().mesh.topology()
    }

    /// The vertex on the other side of each.
    fn mirror(&self) -> Result<&[u32], TaskError> {
        self.cohort.template().mirror.as_deref().ok_or_else(|| TaskError::Nothing {
            what: format!("the template of {} has no mirror pairs", self.cohort.path().display()),
            advice: "name them in template.toml (`mirror = ..`, the vertex on the other side of each) and import again".into(),
        })
    }
}

/// Aligns the chosen items and parts them into what is symmetric and what is not.
pub(super) fn run(
    settings: &SymmetrySettings,
    inputs: &SymmetryInputs,
    progress: Progress<'_>,
) -> Result<SymmetryOutcome, TaskError> {
    let cohort = &*inputs.cohort;
    let items = settings.items.of(cohort)?;
    let mirror = inputs.mirror()?;
    let source = cohort.select(items.clone());
    let align = align_params(settings.align, &settings.weights, cohort.template())?;
    let alignment = align.fit(&source, inputs.topology(), None, &|_, _| ())?;
    let people = people_of(cohort, &items);
    let result = settings.params().find(&source, inputs.topology(), &alignment, mirror, &people, progress)?;
    let name = |person: usize| {
        let at = people.iter().position(|p| *p == person).and_then(|i| items.get(i));
        at.map_or_else(String::new, |i| cohort.items()[*i].participant.clone())
    };
    let participants = result.scores.iter().map(|s| name(s.person)).collect();
    Ok(SymmetryOutcome { result, participants })
}
