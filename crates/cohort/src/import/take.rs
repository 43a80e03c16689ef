//! Reading, converting and judging items, in parallel, batch by batch.

use formkin_geometry::vector::norm;
use rayon::prelude::*;

use super::part::{Batch, Heading, Part, stamp};
use super::plan::{Member, Source, Target};
use super::settle::{Settled, positions};
use crate::CohortError;
use crate::item::Status;
use crate::items_csv::{Placed, Stored};
use crate::params::Unit;

/// Bytes of positions in a batch, about.
const BATCH_BYTES: usize = 64 << 20;
/// Items differ in size by less than this factor; the step from cm to mm is 10.
const SIZE_FACTOR: f64 = 5.0;
/// Part of every reason that speaks of other triangles.
pub(crate) const OTHER_TRIANGLES: &str = "the template";

/// Takes all items in. Gives back the items with their places, in the order of the targets, and how many were taken over from
/// an import before.
pub(crate) fn take_all(
    targets: Vec<Target>,
    settled: &Settled,
    heading: &Heading,
    part: &mut Part,
    progress: &(dyn Fn(usize, usize) + Sync),
) -> Result<(Vec<Placed>, usize), CohortError> {
    let size = (BATCH_BYTES / (12 * heading.vertices)).clamp(4, 64);
    let of: usize = targets.iter().map(|t| t.members.len()).sum();
    // batches of the import before that can be kept, target by target
    let mut kept: Vec<Vec<Batch>> = Vec::with_capacity(targets.len());
    for target in &targets {
        let before = part.before.remove(&target.file).unwrap_or_default();
        let whole = before
            .iter()
            .zip(target.members.chunks(size))
            .take_while(|(batch, members)| {
                batch.refused.len() == members.len() && batch.stamps == stamps(members)
            })
            .count();
        kept.push(before.into_iter().take(whole).collect());
    }
    part.keep(heading, kept.iter().flatten())?;
    let mut all = Vec::with_capacity(of);
    let mut resumed = 0;
    let mut done = 0;
    progress(0, of);
    for (target, kept) in targets.into_iter().zip(kept) {
        let rows = kept.iter().map(Batch::rows).sum();
        let mut file = part.target(&target.file, rows)?;
        let mut row = 0;
        for (n, members) in target.members.chunks(size).enumerate() {
            let refused = match kept.get(n) {
                Some(batch) => {
                    resumed += members.len();
                    batch.refused.clone()
                }
                None => {
                    let batch = take(members, &target.file, settled, &mut file)?;
                    part.note(&batch)?;
                    batch.refused
                }
            };
            for (member, reason) in members.iter().zip(refused) {
                let mut item = member.item.clone();
                let mut stored = None;
                match reason {
                    Some(reason) => item.status = Status::Quarantined { reason },
                    None => {
                        stored = Some(Stored { file: target.file.clone(), row });
                        row += 1;
                    }
                }
                all.push((item, stored));
            }
            done += members.len();
            progress(done, of);
        }
        file.finish()?;
    }
    Ok((all, resumed))
}

fn stamps(members: &[Member]) -> Vec<String> {
    members
        .iter()
        .map(|m| {
            let row = if let Source::Row(_, row) = &m.source { Some(*row) } else { None };
            stamp(m.source.path(), row)
        })
        .collect()
}

fn take(
    members: &[Member],
    target: &str,
    settled: &Settled,
    file: &mut super::part::TargetFile,
) -> Result<Batch, CohortError> {
    // the stamp before the content: a file that changes in between is taken in again by the next resume
    let stamps = stamps(members);
    let rows: Vec<Result<Vec<u8>, String>> = members.par_iter().map(|m| row(&m.source, settled)).collect();
    file.add(rows.iter().filter_map(|r| r.as_ref().ok()).map(Vec::as_slice))?;
    Ok(Batch { target: target.to_owned(), stamps, refused: rows.into_iter().map(Result::err).collect() })
}

/// The stored form of an item, little-endian f32 in mm with z up; an error is the reason why it is set aside.
fn row(source: &Source, settled: &Settled) -> Result<Vec<u8>, String> {
    let found = positions(source, settled.template.mesh.topology()).map_err(|e| e.to_string())?;
    let mut bytes = Vec::with_capacity(12 * found.len());
    let (mut low, mut high) = ([f64::INFINITY; 3], [f64::NEG_INFINITY; 3]);
    for (vertex, p) in found.iter().enumerate() {
        let q = settled.conversion.apply(*p);
        for k in 0..3 {
            let stored = q[k] as f32;
            if !stored.is_finite() {
                return Err(format!(
                    "the position of vertex {vertex} is not finite: {}, {}, {}; capture or register this item again",
                    p[0], p[1], p[2]
                ));
            }
            bytes.extend_from_slice(&stored.to_le_bytes());
            low[k] = q[k].min(low[k]);
            high[k] = q[k].max(high[k]);
        }
    }
    let diagonal = norm([high[0] - low[0], high[1] - low[1], high[2] - low[2]]);
    match other_unit(diagonal, settled) {
        Some(reason) => Err(reason),
        None => Ok(bytes),
    }
}

/// A reason where the size of an item differs so much from the usual that its unit must be another.
fn other_unit(diagonal: f64, settled: &Settled) -> Option<String> {
    let ratio = diagonal / settled.reference_mm;
    if ratio < SIZE_FACTOR && ratio > 1.0 / SIZE_FACTOR {
        return None;
    }
    let (times, what) = if ratio >= 1.0 { (ratio, "larger") } else { (1.0 / ratio, "smaller") };
    // in which unit would it be as large as the others?
    let mm = settled.unit.millimetres().unwrap_or(1.0);
    let likely = [Unit::Mm, Unit::Cm, Unit::M].into_iter().find(|u| {
        let as_if = ratio * u.millimetres().unwrap_or(1.0) / mm;
        as_if < SIZE_FACTOR.sqrt() && as_if > 1.0 / SIZE_FACTOR.sqrt()
    });
    Some(match likely {
        Some(unit) => format!(
            "{times:.0} times {what} than the others: it looks like {} where they are in {}; convert it or import it by itself",
            unit.name(),
            settled.unit.name()
        ),
        None => format!("{times:.1} times {what} than the others, which no body is; look at the file"),
    })
}
