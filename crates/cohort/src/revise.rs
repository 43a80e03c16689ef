//! A copy of a cohort in which some items have other positions, and items that were set aside have some.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::{Path, PathBuf};

use formkin_geometry::Point;

use crate::item::{Item, Status};
use crate::items_csv::{self, Placed, Stored};
use crate::npy::NpyWriter;
use crate::params::CohortInfo;
use crate::write::refuse_existing;
use crate::{Cohort, CohortError, save_template_over, write_whole};

/// The file of the items that were set aside before.
const RESCUED: &str = "rescued.npy";

/// Writes a copy of `cohort` as `into`. `changed` holds new positions by the name of the item, in mm, z up: accepted items keep all else, items that were set aside become accepted still poses or frames.
/// The copy grows in a sibling folder and is renamed when it is complete. Findings of the import are kept; checks are not, since they are of other positions.
///
/// # Errors
/// [`CohortError::AlreadyExists`] where `into` is there and `force` is not set; [`CohortError::NotReplaced`] where it is no cohort; [`CohortError::Setting`] for positions that are not finite or of
/// another number, and for names that are no item; [`CohortError::Io`].
pub fn revise(
    cohort: &Cohort,
    into: &Path,
    changed: &BTreeMap<String, Vec<Point>>,
    force: bool,
) -> Result<CohortInfo, CohortError> {
    refuse_existing(into, force)?;
    if into.exists() && !into.join("cohort.json").is_file() {
        return Err(CohortError::NotReplaced { path: into.to_owned() });
    }
    let wrong = |reason: String| CohortError::Setting { setting: "revised items", reason };
    let known: BTreeSet<&str> = cohort.items().iter().map(|i| i.item.as_str()).collect();
    for (item, positions) in changed {
        if !known.contains(item.as_str()) {
            return Err(wrong(format!("the cohort has no item {item}")));
        }
        if positions.len() != cohort.info().vertices
            || positions.as_flattened().iter().any(|x| !(*x as f32).is_finite())
        {
            return Err(wrong(format!("the positions of {item} are too few or not finite")));
        }
    }
    let mut name = into.file_name().unwrap_or_default().to_owned();
    name.push(format!(".revised-{}", std::process::id()));
    let folder: PathBuf = into.with_file_name(name);
    let made = write(cohort, &folder, changed).and_then(|info| {
        if into.exists() {
            fs::remove_dir_all(into).map_err(CohortError::io(into, "replace"))?;
        }
        fs::rename(&folder, into).map_err(CohortError::io(into, "write"))?;
        Ok(info)
    });
    if made.is_err() {
        let _ = fs::remove_dir_all(&folder);
    }
    made
}

fn write(
    cohort: &Cohort,
    folder: &Path,
    changed: &BTreeMap<String, Vec<Point>>,
) -> Result<CohortInfo, CohortError> {
    let positions = folder.join("positions");
    let _ = fs::remove_dir_all(folder);
    fs::create_dir_all(&positions).map_err(CohortError::io(&positions, "make"))?;
    let placed = items_csv::read(&cohort.path().join("items.csv"))?;
    let vertices = cohort.info().vertices;
    // items of a file in the order of its rows; the number of an accepted item is that of its shape
    let mut files: BTreeMap<String, Vec<(usize, usize)>> = BTreeMap::new();
    let mut aside: Vec<Item> = Vec::new();
    let mut items: Vec<Placed> = Vec::new();
    for (item, stored) in placed {
        match stored {
            Some(s) => {
                files.entry(s.file.clone()).or_default().push((s.row, items.len()));
                items.push((item, Some(s)));
            }
            None => aside.push(item),
        }
    }
    for (file, mut rows) in files {
        rows.sort_unstable();
        let mut writer = NpyWriter::create(&positions.join(&file), vertices, true)?;
        for (row, (_, number)) in rows.iter().enumerate() {
            let (item, stored) = &mut items[*number];
            match changed.get(&item.item) {
                Some(new) => writer.push(new)?,
                None => {
                    writer.push(&cohort.source().read_shape(*number).map_err(|e| {
                        CohortError::Setting { setting: "positions", reason: e.to_string() }
                    })?)?
                }
            }
            *stored = Some(Stored { file: file.clone(), row });
        }
        writer.finish()?;
    }
    let (rescued, aside): (Vec<Item>, Vec<Item>) =
        aside.into_iter().partition(|i| changed.contains_key(&i.item));
    if !rescued.is_empty() {
        let mut writer = NpyWriter::create(&positions.join(RESCUED), vertices, true)?;
        for (row, mut item) in rescued.into_iter().enumerate() {
            if let Some(new) = changed.get(&item.item) {
                writer.push(new)?;
            }
            item.status = Status::Accepted;
            items.push((item, Some(Stored { file: RESCUED.to_owned(), row })));
        }
        writer.finish()?;
    }
    items.extend(aside.into_iter().map(|i| (i, None)));
    let accepted: Vec<&Item> = items.iter().filter(|(_, s)| s.is_some()).map(|(i, _)| i).collect();
    let frames = accepted.iter().filter(|i| i.frame.is_some()).count();
    let distinct = |of: &mut dyn Iterator<Item = &str>| of.collect::<BTreeSet<&str>>().len();
    let info = CohortInfo {
        people: distinct(&mut accepted.iter().map(|i| i.participant.as_str())),
        items: accepted.len(),
        stills: accepted.len() - frames,
        sequences: distinct(&mut accepted.iter().filter(|i| i.frame.is_some()).map(|i| i.capture.as_str())),
        frames,
        quarantined: items.len() - accepted.len(),
        ..cohort.info().clone()
    };
    save_template_over(cohort.template(), folder, true)?;
    write_whole(&folder.join("items.csv"), &items_csv::to_csv(&items)?, true)?;
    let text = serde_json::to_string_pretty(&info)
        .map_err(|e| CohortError::Setting { setting: "cohort.json", reason: e.to_string() })?;
    write_whole(&folder.join("cohort.json"), text.as_bytes(), true)?;
    Ok(info)
}

/// Vertices in ascending order in short: `100-250, 300`.
#[must_use]
pub fn vertex_ranges(vertices: &[u32]) -> String {
    match crate::vertex_list::VertexList::compact(vertices) {
        crate::vertex_list::VertexList::Text(text) => text,
        _ => String::new(),
    }
}

/// The vertices of such a text.
///
/// # Errors
/// What is wrong, in words.
pub fn parse_vertex_ranges(text: &str) -> Result<Vec<u32>, String> {
    if text.trim().is_empty() {
        return Ok(Vec::new());
    }
    crate::vertex_list::ranges(text)
}
