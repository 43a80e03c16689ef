//! What is missing of the items of a cohort: marked in a table, or not finite in their files.

use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

use formkin_cohort::{Cohort, Item, NpyFile, Status, parse_vertex_ranges, read_positions, to_mm_z_up};
use formkin_geometry::Point;
use formkin_table::Table;
use serde::{Deserialize, Serialize};

use crate::TaskError;

/// An item and what was done with it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct FilledItem {
    /// The item.
    pub item: String,
    /// Vertices that were missing.
    pub missing: Vec<u32>,
    /// Why it could not be filled; none where it was.
    pub refused: Option<String>,
    /// RMS distance of its seen vertices from the completed body, in mm.
    pub residual_rms_mm: Option<f64>,
    /// Root mean square half-width of the 95 % intervals of filled coordinates, in mm, calibrated where they could be.
    pub half_width_95_mm: Option<f64>,
    /// Mahalanobis distance of the completed body from the mean.
    pub mahalanobis: Option<f64>,
    /// Whether 99 % of people are nearer to the mean.
    pub outside: bool,
    /// The factor by which SDs were multiplied; 1 where nothing was calibrated.
    pub factor: f64,
    /// SDs of the filled coordinates in mm, the factor in them, one a missing vertex.
    #[serde(skip)]
    pub sd_mm: Vec<Point>,
}

/// Items with their positions, by the vertices that are missing of them.
pub(super) type Patterns = BTreeMap<Vec<u32>, Vec<(String, Vec<Point>)>>;

/// The items of a cohort that have holes.
pub(super) struct Holed {
    pub(super) patterns: Patterns,
    /// Those whose files are of no use.
    pub(super) items: Vec<FilledItem>,
}

pub(super) fn refused(item: String, missing: Vec<u32>, reason: String) -> FilledItem {
    FilledItem {
        item,
        missing,
        refused: Some(reason),
        residual_rms_mm: None,
        half_width_95_mm: None,
        mahalanobis: None,
        outside: false,
        factor: 1.0,
        sd_mm: Vec::new(),
    }
}

/// Missing vertices of items, from a table with the columns `item`, `regions` and `vertices` (names or ranges between semicolons; either may be absent or blank).
///
/// # Errors
/// [`TaskError::Nothing`] with the item and what is wrong.
pub fn holes_of_table(table: &Table, cohort: &Cohort) -> Result<BTreeMap<String, Vec<u32>>, TaskError> {
    let regions = &cohort.template().regions;
    let vertices = cohort.info().vertices;
    let known: BTreeSet<&str> = cohort.items().iter().map(|i| i.item.as_str()).collect();
    if !["regions", "vertices"].iter().any(|c| table.text(c).is_ok()) {
        return Err(TaskError::Nothing {
            what: "the table of holes has neither a column `regions` nor `vertices`".into(),
            advice: "name the regions or the vertices that are missing, one row an item".into(),
        });
    }
    let column = |name: &str| table.text(name).unwrap_or_else(|_| vec![String::new(); table.rows()]);
    let (named, numbered) = (column("regions"), column("vertices"));
    let mut holes = BTreeMap::new();
    for (row, item) in table.ids.iter().enumerate() {
        let no = |what: String, advice: &str| TaskError::Nothing {
            what: format!("holes of {item}: {what}"),
            advice: advice.to_owned(),
        };
        if !known.contains(item.as_str()) {
            return Err(no("the cohort has no such item".into(), "see items.csv in the cohort"));
        }
        let mut missing: BTreeSet<u32> = BTreeSet::new();
        for name in named[row].split(';').map(str::trim).filter(|n| !n.is_empty()) {
            let own = regions.get(name).ok_or_else(|| {
                let all: Vec<&str> = regions.keys().map(String::as_str).collect();
                no(format!("the template has no region `{name}`"), &format!("it has {}", all.join(", ")))
            })?;
            missing.extend(own);
        }
        let text = numbered[row].replace(';', ",");
        missing.extend(
            parse_vertex_ranges(&text).map_err(|e| no(e, "write numbers and ranges such as 100-250"))?,
        );
        if let Some(v) = missing.iter().find(|v| **v as usize >= vertices) {
            return Err(no(
                format!("there is no vertex {v}"),
                &format!("they run from 0 to {}", vertices - 1),
            ));
        }
        if missing.is_empty() {
            return Err(no(
                "nothing is named as missing".into(),
                "leave the row out, or name what is missing",
            ));
        }
        holes.insert(item.clone(), missing.into_iter().collect());
    }
    Ok(holes)
}

/// The items of a cohort with holes, which `holes` names or which were set aside for them.
pub(super) fn holed(cohort: &Cohort, holes: &BTreeMap<String, Vec<u32>>) -> Result<Holed, TaskError> {
    let (mut patterns, mut items) = (Patterns::new(), Vec::new());
    let accepted = cohort.accepted().len();
    for (i, item) in cohort.items().iter().enumerate() {
        let named = holes.get(&item.item);
        let positions = if i < accepted {
            if named.is_none() {
                continue;
            }
            cohort.source().read_shape(i)?
        } else {
            match set_aside(cohort, item, named.is_some()) {
                Ok(Some(positions)) => positions,
                Ok(None) => continue,
                Err(reason) => {
                    items.push(refused(item.item.clone(), named.cloned().unwrap_or_default(), reason));
                    continue;
                }
            }
        };
        let mut missing: BTreeSet<u32> = named.into_iter().flatten().copied().collect();
        let finite = |v: &u32| positions[*v as usize].iter().all(|x| x.is_finite());
        missing.extend((0..positions.len() as u32).filter(|v| !finite(v)));
        patterns.entry(missing.into_iter().collect()).or_default().push((item.item.clone(), positions));
    }
    if patterns.is_empty() && items.is_empty() {
        return Err(TaskError::Nothing {
            what: "no item has a hole".into(),
            advice: "name missing regions or vertices with --holes; items with positions that are not finite are found by themselves".into(),
        });
    }
    Ok(Holed { patterns, items })
}

/// The positions of an item that was set aside, missing ones not finite; none where it was set aside for another reason.
fn set_aside(cohort: &Cohort, item: &Item, named: bool) -> Result<Option<Vec<Point>>, String> {
    let Status::Quarantined { reason } = &item.status else { return Ok(None) };
    if !named && !reason.contains("is not finite") {
        return Ok(None);
    }
    let topology = cohort.template().mesh.topology();
    let source = item.source.rsplit_once('#').and_then(|(f, r)| r.parse::<usize>().ok().map(|r| (f, r)));
    let raw: Vec<Point> = match source {
        Some((file, row)) => {
            let file = NpyFile::open_positions(Path::new(file)).map_err(|e| e.to_string())?;
            if file.shape()[1] != topology.vertices() {
                return Err(format!("its file has {} vertices a shape", file.shape()[1]));
            }
            let mut out = vec![[0.0; 3]; topology.vertices()];
            file.read_positions(row, &mut out).map_err(|e| e.to_string())?;
            out
        }
        None => read_positions(Path::new(&item.source), topology).map_err(|e| e.to_string())?,
    };
    let finite = |p: &Point| p.iter().all(|x| x.is_finite());
    let Some(some) = raw.iter().find(|p| finite(p)).copied() else {
        return Err("no vertex of it is finite".into());
    };
    // what is missing lies on a seen vertex while the unit is brought to mm
    let laid: Vec<Point> = raw.iter().map(|p| if finite(p) { *p } else { some }).collect();
    let mm = to_mm_z_up(&laid, cohort.info().source_unit, cohort.info().source_up)?;
    Ok(Some(mm.into_iter().zip(&raw).map(|(p, r)| if finite(r) { p } else { [f64::NAN; 3] }).collect()))
}
