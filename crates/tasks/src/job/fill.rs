//! A cohort with holes -> the same cohort without: vertices that are marked or not finite are completed, everything else stays as it was captured.

use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

use formkin_cohort::{Cohort, Item, NpyFile, Status, parse_vertex_ranges, read_positions, to_mm_z_up};
use formkin_geometry::{Point, Subset};
use formkin_shape::complete::{Calibration, CalibrationParams, Completer, calibrate};
use formkin_shape::{CompleteParams, ShapeError, Space};
use formkin_stats::interval::normal_quantile;
use formkin_table::Table;
use rayon::prelude::*;
use serde::{Deserialize, Serialize};

use crate::TaskError;

/// Patterns of holes that are calibrated; others take the factor of the pattern most like them.
const MOST_PATTERNS: usize = 5;
/// Whole people that a calibration needs.
const LEAST_PEOPLE: usize = 20;

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

/// A pattern of holes with its calibration.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct PatternCalibration {
    /// How many vertices are missing.
    pub missing: usize,
    /// How many items have it.
    pub items: usize,
    /// How intervals fared on people left out.
    pub calibration: Calibration,
}

/// What came out.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub struct FillOutcome {
    /// New positions of every item that was filled, in mm, z up.
    #[serde(skip)]
    pub positions: BTreeMap<String, Vec<Point>>,
    /// Every item with holes.
    pub items: Vec<FilledItem>,
    /// Calibrations.
    pub calibrations: Vec<PatternCalibration>,
    /// What a reader must know.
    pub notes: Vec<String>,
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

/// Fills what `holes` names of the items of a cohort, and the vertices that are not finite of items that were set aside for them. Seen vertices keep their places. Intervals are calibrated on the
/// whole bodies of the cohort.
///
/// # Errors
/// [`TaskError::Nothing`] for other triangles and where there is nothing to fill; what completing refuses for all items alike.
pub fn fill_holes(
    space: &Space,
    cohort: &Cohort,
    holes: &BTreeMap<String, Vec<u32>>,
    params: &CompleteParams,
    progress: &(dyn Fn(usize, usize) + Sync),
) -> Result<FillOutcome, TaskError> {
    if cohort.info().template_hash != space.template_hash {
        return Err(TaskError::Nothing {
            what: format!("{} has other triangles than the space", cohort.path().display()),
            advice: "only shapes on the same template can be completed by it".into(),
        });
    }
    let mut notes = Vec::new();
    // items by what is missing of them
    let mut patterns: BTreeMap<Vec<u32>, Vec<(String, Vec<Point>)>> = BTreeMap::new();
    let mut items = Vec::new();
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
        missing.extend(
            (0..positions.len() as u32).filter(|v| !positions[*v as usize].iter().all(|x| x.is_finite())),
        );
        patterns.entry(missing.into_iter().collect()).or_default().push((item.item.clone(), positions));
    }
    if patterns.is_empty() && items.is_empty() {
        return Err(TaskError::Nothing {
            what: "no item has a hole".into(),
            advice: "name missing regions or vertices with --holes; items with positions that are not finite are found by themselves".into(),
        });
    }
    let calibrations = calibrations(space, cohort, holes, &patterns, params, &mut notes)?;
    let mut positions = BTreeMap::new();
    let of = patterns.len();
    for (done, (missing, bodies)) in patterns.iter().enumerate() {
        let factor = factor(missing, &calibrations);
        let there: BTreeSet<u32> = missing.iter().copied().collect();
        let seen: Vec<u32> = (0..space.mean.len() as u32).filter(|v| !there.contains(v)).collect();
        let made: Vec<(FilledItem, Option<Vec<Point>>)> = match Completer::new(space, &seen, params) {
            Ok(completer) => {
                bodies.par_iter().map(|(item, p)| one(&completer, item, p, &seen, missing, factor)).collect()
            }
            Err(e @ ShapeError::Setting { .. }) => return Err(e.into()),
            Err(e) => bodies
                .iter()
                .map(|(i, _)| (refused(i.clone(), missing.clone(), e.to_string()), None))
                .collect(),
        };
        for (item, filled) in made {
            if let Some(p) = filled {
                positions.insert(item.item.clone(), p);
            }
            items.push(item);
        }
        progress(done + 1, of);
    }
    items.sort_by(|a, b| a.item.cmp(&b.item));
    let outside = items.iter().filter(|i| i.outside).count();
    if outside > 0 {
        notes.push(format!("{outside} completed bodies lie further out than 99 % of people: look at them."));
    }
    Ok(FillOutcome {
        positions,
        items,
        calibrations: calibrations.into_iter().map(|(_, c)| c).collect(),
        notes,
    })
}

fn refused(item: String, missing: Vec<u32>, reason: String) -> FilledItem {
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

fn one(
    completer: &Completer<'_>,
    item: &str,
    positions: &[Point],
    seen: &[u32],
    missing: &[u32],
    factor: f64,
) -> (FilledItem, Option<Vec<Point>>) {
    let given: Vec<Point> = seen.iter().map(|v| positions[*v as usize]).collect();
    match completer.fill(&given, missing) {
        Err(e) => (refused(item.to_owned(), missing.to_vec(), e.to_string()), None),
        Ok(found) => {
            let mut whole = positions.to_vec();
            for (v, p) in missing.iter().zip(&found.positions) {
                whole[*v as usize] = *p;
            }
            let sd_mm: Vec<Point> = found.sd_mm.iter().map(|s| s.map(|x| x * factor)).collect();
            let square: f64 = sd_mm.as_flattened().iter().map(|x| x * x).sum();
            let width = normal_quantile(0.95) * (square / (3 * missing.len()) as f64).sqrt();
            let told = FilledItem {
                item: item.to_owned(),
                missing: missing.to_vec(),
                refused: None,
                residual_rms_mm: Some(found.residual_rms_mm),
                half_width_95_mm: Some(width),
                mahalanobis: Some(found.mahalanobis),
                outside: found.outside,
                factor,
                sd_mm,
            };
            (told, Some(whole))
        }
    }
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

type Calibrated = Vec<(Vec<u32>, PatternCalibration)>;

fn calibrations(
    space: &Space,
    cohort: &Cohort,
    holes: &BTreeMap<String, Vec<u32>>,
    patterns: &BTreeMap<Vec<u32>, Vec<(String, Vec<Point>)>>,
    params: &CompleteParams,
    notes: &mut Vec<String>,
) -> Result<Calibrated, TaskError> {
    let stills = cohort.stills();
    let whole: Vec<usize> =
        stills.into_iter().filter(|i| !holes.contains_key(&cohort.items()[*i].item)).collect();
    let people = crate::choose::people_of(cohort, &whole);
    let count = people.iter().copied().collect::<BTreeSet<usize>>().len();
    if count < LEAST_PEOPLE {
        notes.push(format!(
            "Intervals are not calibrated: {count} people of the cohort are whole, and {LEAST_PEOPLE} are needed."
        ));
        return Ok(Vec::new());
    }
    let mut order: Vec<(&Vec<u32>, usize)> = patterns.iter().map(|(p, i)| (p, i.len())).collect();
    order.sort_by(|a, b| b.1.cmp(&a.1).then(b.0.len().cmp(&a.0.len())));
    if order.len() > MOST_PATTERNS {
        notes.push(format!(
            "{} different patterns of holes: {MOST_PATTERNS} were calibrated, and every other takes the factor of the one most like it.",
            order.len()
        ));
    }
    let source = Subset::new(cohort.source(), &whole);
    let mut out = Vec::new();
    for (missing, items) in order.into_iter().take(MOST_PATTERNS) {
        let there: BTreeSet<u32> = missing.iter().copied().collect();
        let seen: Vec<u32> = (0..space.mean.len() as u32).filter(|v| !there.contains(v)).collect();
        let settings = CalibrationParams { seed: space.seed, ..CalibrationParams::default() };
        match calibrate(&source, &people, space, &seen, params, &settings) {
            Ok(calibration) => {
                out.push((
                    missing.clone(),
                    PatternCalibration { missing: missing.len(), items, calibration },
                ));
            }
            Err(e @ ShapeError::Setting { .. }) => return Err(e.into()),
            Err(e) => {
                notes.push(format!("A pattern of {} missing vertices is not calibrated: {e}", missing.len()))
            }
        }
    }
    Ok(out)
}

/// The factor of the calibrated pattern with the largest share of vertices in common; 1 without any.
fn factor(missing: &[u32], calibrated: &Calibrated) -> f64 {
    let own: BTreeSet<u32> = missing.iter().copied().collect();
    let like = |other: &[u32]| {
        let both = other.iter().filter(|v| own.contains(v)).count() as f64;
        both / (own.len() + other.len()) as f64
    };
    calibrated
        .iter()
        .max_by(|a, b| like(&a.0).total_cmp(&like(&b.0)))
        .map_or(1.0, |(_, c)| c.calibration.factor)
}

/// What was filled: one row an item.
#[must_use]
pub fn filled_csv(outcome: &FillOutcome) -> String {
    let mut csv = String::from(
        "item,filled,missing,half_width_95_mm,residual_rms_mm,mahalanobis,outside_99,interval_factor,refused,vertices\n",
    );
    let number = |x: Option<f64>| x.map_or_else(String::new, |x| format!("{x:.4}"));
    let quoted = |s: &str| format!("\"{}\"", s.replace('"', "\"\""));
    for i in &outcome.items {
        csv.push_str(&format!(
            "{},{},{},{},{},{},{},{:.4},{},{}\n",
            quoted(&i.item),
            if i.refused.is_none() { "yes" } else { "no" },
            i.missing.len(),
            number(i.half_width_95_mm),
            number(i.residual_rms_mm),
            number(i.mahalanobis),
            if i.outside { "yes" } else { "no" },
            i.factor,
            quoted(i.refused.as_deref().unwrap_or_default()),
            quoted(&formkin_cohort::vertex_ranges(&i.missing)),
        ));
    }
    csv
}

/// One row a filled vertex: position and half-widths of 95 % intervals.
#[must_use]
pub fn filled_vertices_csv(outcome: &FillOutcome) -> String {
    use std::fmt::Write as _;
    let mut csv =
        String::from("item,vertex,x_mm,y_mm,z_mm,half_width_95_x_mm,half_width_95_y_mm,half_width_95_z_mm\n");
    let z = normal_quantile(0.95);
    for i in &outcome.items {
        let Some(p) = outcome.positions.get(&i.item) else { continue };
        for (v, sd) in i.missing.iter().zip(&i.sd_mm) {
            let p = p[*v as usize];
            let h = sd.map(|s| z * s);
            let _ = writeln!(
                csv,
                "\"{}\",{v},{:.3},{:.3},{:.3},{:.3},{:.3},{:.3}",
                i.item.replace('"', "\"\""),
                p[0],
                p[1],
                p[2],
                h[0],
                h[1],
                h[2]
            );
        }
    }
    csv
}
