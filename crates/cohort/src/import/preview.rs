//! What an import would give, told without reading positions.

use serde::Serialize;

use super::discover::discover;
use super::participants::Participants;
use super::{plan, template_file};
use crate::CohortError;
use crate::finding::Finding;
use crate::item::Item;
use crate::params::ImportParams;

/// What an import would give, as far as file names and tables tell: some of the items may yet turn out to be unreadable.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Preview {
    /// The items, still poses first, frames of a sequence in their order.
    pub items: Vec<Item>,
    /// What the table of participants and the numbers of frames tell.
    pub findings: Vec<Finding>,
}

/// Looks at the names of the files and at the tables beside them, and reads no positions (but of files with running numbers, some of which are
/// looked into to tell a sequence from people).
///
/// # Errors
/// As [`import`](super::import()): patterns that lead to no file, tables that cannot be read.
pub fn preview(patterns: &[String], params: &ImportParams) -> Result<Preview, CohortError> {
    let except = params.template.as_deref().map(template_file::files_of).unwrap_or_default();
    let found = discover(patterns, &except)?;
    let table = params.participants.as_deref().map(Participants::read).transpose()?;
    let plan = plan::plan(&found, table.as_ref(), params)?;
    let items = plan.targets.into_iter().flat_map(|t| t.members).map(|m| m.item).collect();
    Ok(Preview { items, findings: plan.findings })
}
