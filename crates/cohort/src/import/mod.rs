//! Mesh files into a cohort.
//!
//! | module | what it does |
//! |---|---|
//! | `discover` | files that match patterns |
//! | `inputs` | every file that an import depends on |
//! | `participants`, `times` | tables beside them |
//! | `plan` | which files become which items |
//! | `preview` | what an import would give |
//! | `same_body` | whether numbered files show one body |
//! | `settle` | the shared triangles, the unit and the height axis |
//! | `take` | reading, converting and judging items, in parallel |
//! | `part` | the folder that grows, its journal, and its renaming |

mod discover;
mod inputs;
mod part;
mod participants;
mod plan;
mod preview;
mod same_body;
mod settle;
mod take;
mod times;

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

use formkin_geometry::Template;

use crate::cohort::FORMAT_VERSION;
use crate::finding::{Finding, FindingKind, Severity};
use crate::item::{Item, Status};
use crate::items_csv::{self, Placed};
use crate::params::{CohortInfo, ImportParams, ImportReport, Quarantined};
use crate::write::{refuse_existing, write_whole};
use crate::{CohortError, save_template_over, template_file};
use part::{Heading, Part};
use participants::Participants;

pub use inputs::input_files;
pub use preview::{Preview, preview};

/// Imports mesh files into the cohort `into`, a folder usually called `NAME.cohort`.
///
/// `patterns` are files, folders (with everything in them) or globs such as `scans/**/*.obj`. Files that cannot be read, that
/// do not have the template's triangles, whose positions are not finite, or whose size differs from the others' by a change of
/// unit, are set aside with the reason; the rest is imported. Progress is told in items.
///
/// Memory: one batch of about 64 MB at a time, and the table of items. The cohort grows in `NAME.cohort.part` and is renamed
/// when it is complete, so an import that is stopped leaves the old cohort or none, and `resume` goes on with it.
///
/// # Errors
/// [`CohortError::AlreadyExists`] where the cohort is there and `force` is not set; [`CohortError::NoFiles`];
/// [`CohortError::UnitUnknown`] and [`CohortError::UpUnknown`] where they are to be told from the data and cannot;
/// [`CohortError::NothingAccepted`]; [`CohortError::DuplicateRow`] and [`CohortError::Syntax`] for the tables; the errors of
/// [`crate::load_template`]; [`CohortError::Io`].
pub fn import(
    patterns: &[String],
    into: &Path,
    params: &ImportParams,
    progress: &(dyn Fn(usize, usize) + Sync),
) -> Result<ImportReport, CohortError> {
    if let Some(fps) = params.fps.filter(|f| !f.is_finite() || *f <= 0.0) {
        return Err(CohortError::Setting {
            setting: "fps",
            reason: format!("{fps} frames a second; give more than 0"),
        });
    }
    part::recover(into)?;
    refuse_existing(into, params.force)?;
    if into.exists() && !into.join("cohort.json").is_file() {
        return Err(CohortError::NotReplaced { path: into.to_owned() });
    }
    let mut except: Vec<PathBuf> = Vec::new();
    if let Some(path) = &params.template {
        except.extend(template_file::files_of(path));
    }
    let found = discover::discover(patterns, &except)?;
    let table = params.participants.as_deref().map(Participants::read).transpose()?;
    let plan = plan::plan(&found, table.as_ref(), params)?;
    let settled = settle::settle(&plan, params)?;
    let topology = settled.template.mesh.topology();
    let heading = Heading {
        format_version: FORMAT_VERSION,
        template_hash: topology.hash().to_owned(),
        vertices: topology.vertices(),
        unit: settled.unit.name().to_owned(),
        up: settled.up.name().to_owned(),
        reference_mm: settled.reference_mm,
    };
    let mut part = Part::open(into, &heading, params.resume)?;
    let (items, resumed_files) = take::take_all(plan.targets, &settled, &heading, &mut part, progress)?;
    finish(into, part, items, resumed_files, plan.findings, &settled)
}

fn finish(
    into: &Path,
    part: Part,
    mut items: Vec<Placed>,
    resumed_files: usize,
    mut findings: Vec<Finding>,
    settled: &settle::Settled,
) -> Result<ImportReport, CohortError> {
    // a stable sort: the accepted ones first
    items.sort_by_key(|(_, stored)| stored.is_none());
    let accepted: Vec<&Item> = items.iter().filter(|(_, s)| s.is_some()).map(|(i, _)| i).collect();
    let quarantined: Vec<Quarantined> = items
        .iter()
        .filter_map(|(item, _)| match &item.status {
            Status::Accepted => None,
            Status::Quarantined { reason } => Some(Quarantined {
                item: item.item.clone(),
                source: item.source.clone(),
                reason: reason.clone(),
            }),
        })
        .collect();
    if accepted.is_empty() {
        let first = quarantined.first().map(|q| q.reason.clone()).unwrap_or_default();
        return Err(CohortError::NothingAccepted { files: items.len(), first });
    }
    findings.extend(first_file_was_the_odd_one(settled, &quarantined, accepted.len()));
    let topology = settled.template.mesh.topology();
    let people: BTreeSet<&str> = accepted.iter().map(|i| i.participant.as_str()).collect();
    let sequences: BTreeSet<&str> =
        accepted.iter().filter(|i| i.frame.is_some()).map(|i| i.capture.as_str()).collect();
    let frames = accepted.iter().filter(|i| i.frame.is_some()).count();
    let info = CohortInfo {
        format_version: FORMAT_VERSION,
        template_hash: topology.hash().to_owned(),
        vertices: topology.vertices(),
        triangles: topology.triangles().len(),
        people: people.len(),
        items: accepted.len(),
        stills: accepted.len() - frames,
        sequences: sequences.len(),
        frames,
        quarantined: quarantined.len(),
        source_unit: settled.unit,
        source_unit_reason: settled.unit_reason.clone(),
        source_up: settled.up,
        source_up_reason: settled.up_reason.clone(),
        findings,
    };
    write_description(&part, &settled.template, &items, &info)?;
    part.finish(into)?;
    Ok(ImportReport {
        path: into.to_owned(),
        info,
        quarantined,
        template_from_first_file: settled.from_first_file,
        resumed_files,
    })
}

fn write_description(
    part: &Part,
    template: &Template,
    items: &[Placed],
    info: &CohortInfo,
) -> Result<(), CohortError> {
    save_template_over(template, &part.folder, true)?;
    write_whole(&part.folder.join("items.csv"), &items_csv::to_csv(items)?, true)?;
    let text = serde_json::to_string_pretty(info)
        .map_err(|e| CohortError::Setting { setting: "cohort.json", reason: e.to_string() })?;
    write_whole(&part.folder.join("cohort.json"), text.as_bytes(), true)
}

/// Where no template was given and most files do not have the triangles of the first one, that one is to blame.
fn first_file_was_the_odd_one(
    settled: &settle::Settled,
    quarantined: &[Quarantined],
    accepted: usize,
) -> Option<Finding> {
    let others = quarantined.iter().filter(|q| q.reason.contains(take::OTHER_TRIANGLES)).count();
    (settled.from_first_file && others > accepted).then(|| Finding {
        item: String::new(),
        kind: FindingKind::Quarantined,
        severity: Severity::Error,
        message: format!(
            "the first file, {}, set the triangles, and {others} items do not have them",
            settled.first_file.display()
        ),
        amount: Some(others as f64),
        unit: Some("items".to_owned()),
        advice: "give a template".to_owned(),
    })
}
