//! What is wrong with the data of a cohort. Everything is found and said, nothing is repaired.
//!
//! | module | what it looks for |
//! |---|---|
//! | `surface` | open, non-manifold or composite surfaces |
//! | `reference` | what edges, triangles and vertices are usually like in this cohort |
//! | `look` | one item against the reference: one pass over its positions |
//! | `fit` | the rotation between two items, and whether a mirror image fits better |
//! | `bodies` | unit, height axis, mirror images, floor, damaged triangles, spikes |
//! | `frames` | jumps, frozen and dropped frames, drifting floor |
//! | `twice` | the same shape twice, or almost |
//!
//! The limits are in [`CheckParams`] with the field's usual values; where they have no published source, common practice.

mod bodies;
mod fit;
mod frames;
mod look;
mod params;
mod reference;
mod surface;
mod twice;

use std::collections::BTreeSet;
use std::sync::atomic::{AtomicUsize, Ordering};

use formkin_geometry::{Point, TopologySummary};
use rayon::prelude::*;
use serde::{Deserialize, Serialize};

use crate::CohortError;
use crate::cohort::{Cohort, FORMAT_VERSION};
use crate::finding::{Finding, FindingKind, Severity};
use crate::item::Status;
use look::Look;
pub use params::CheckParams;
use reference::Reference;

/// What the checks found: the content of `checks.json`.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Checks {
    /// Version of the format of `checks.json`.
    pub format_version: u32,
    /// Participants among the checked items.
    pub people: usize,
    /// Checked items.
    pub items: usize,
    /// Items that were set aside at import.
    pub quarantined: usize,
    /// What the shared triangles are like.
    pub topology: TopologySummary,
    /// The limits used.
    pub params: CheckParams,
    /// What was found: about the surface, from the import, about items in their order, about pairs.
    pub findings: Vec<Finding>,
}

impl Checks {
    /// The content of `checks.json`.
    ///
    /// # Errors
    /// [`CohortError::Setting`] where it cannot be written as JSON.
    pub fn to_json(&self) -> Result<Vec<u8>, CohortError> {
        serde_json::to_vec_pretty(self)
            .map_err(|e| CohortError::Setting { setting: "checks.json", reason: e.to_string() })
    }
}

/// Items that are read one after the other by one thread.
const CHUNK: usize = 16;

/// Checks a cohort. Progress is counted in items. The result does not depend on the number of threads. A few shapes a thread are in
/// memory at a time.
///
/// # Errors
/// [`CohortError::Setting`] for limits that make no sense; [`CohortError::Source`] where positions cannot be read.
pub fn check(
    cohort: &Cohort,
    params: &CheckParams,
    progress: &(dyn Fn(usize, usize) + Sync),
) -> Result<Checks, CohortError> {
    params.validate()?;
    let topology = cohort.template().mesh.topology();
    let summary = topology.summary();
    let of = cohort.accepted().len();
    progress(0, of);
    let reference = Reference::new(cohort, summary.watertight)?;
    let looks = looks(cohort, &reference, params, progress)?;
    let mut findings = surface::findings(&summary);
    findings.extend(cohort.info().findings.iter().cloned());
    findings.extend(cohort.quarantined().iter().map(|item| Finding {
        item: item.item.clone(),
        kind: FindingKind::Quarantined,
        severity: Severity::Warning,
        message: match &item.status {
            Status::Quarantined { reason } => format!("set aside: {reason}"),
            Status::Accepted => "set aside".to_owned(),
        },
        amount: None,
        unit: None,
        advice: "mend the file and import again, or go on without this item".to_owned(),
    }));
    findings.extend(bodies::findings(cohort, &reference, &looks, params));
    findings.extend(frames::findings(cohort, &looks, params));
    findings.extend(twice::findings(cohort, &looks, params)?);
    let people: BTreeSet<&str> = cohort.accepted().iter().map(|i| i.participant.as_str()).collect();
    Ok(Checks {
        format_version: FORMAT_VERSION,
        people: people.len(),
        items: of,
        quarantined: cohort.quarantined().len(),
        topology: summary,
        params: params.clone(),
        findings,
    })
}

/// Looks at every accepted item, in chunks of items that lie one after the other.
fn looks(
    cohort: &Cohort,
    reference: &Reference,
    params: &CheckParams,
    progress: &(dyn Fn(usize, usize) + Sync),
) -> Result<Vec<Look>, CohortError> {
    let items = cohort.accepted();
    let of = items.len();
    let done = AtomicUsize::new(0);
    let starts: Vec<usize> = (0..of).step_by(CHUNK).collect();
    let chunks: Vec<Result<Vec<Look>, CohortError>> = starts
        .par_iter()
        .map(|&start| {
            let stop = (start + CHUNK).min(of);
            let follows =
                |i: usize| i > 0 && items[i].frame.is_some() && items[i].capture == items[i - 1].capture;
            let mut before: Option<Vec<Point>> = None;
            if follows(start) {
                before = Some(cohort.source().read_shape(start - 1)?);
            }
            let mut all = Vec::with_capacity(stop - start);
            for i in start..stop {
                let shape = cohort.source().read_shape(i)?;
                let previous = if follows(i) { before.as_deref() } else { None };
                all.push(look::at(&shape, previous, reference, params));
                before = Some(shape);
                progress(done.fetch_add(1, Ordering::Relaxed) + 1, of);
            }
            Ok(all)
        })
        .collect();
    let mut looks = Vec::with_capacity(of);
    for chunk in chunks {
        looks.extend(chunk?);
    }
    Ok(looks)
}
