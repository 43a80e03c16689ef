//! A cohort to joint centres, segments and point trajectories.

use std::collections::BTreeSet;

use formkin_cohort::Cohort;
use formkin_geometry::ShapeSource;
use formkin_measure::{HandbookRow, Segment, SegmentParams, joint_centres, joint_table};
use formkin_motion::points::PointTracks;
use formkin_table::{NumberColumn, Table};
use rayon::prelude::*;
use serde::{Deserialize, Serialize};

use super::JointsSettings;
use crate::choices::Which;
use crate::measure::handbook;
use crate::motion::{find_capture, times};
use crate::{Progress, TaskError};

/// Items that are read together.
const BLOCK: usize = 64;

/// What came out.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct JointsOutcome {
    /// Joint centres, segment lengths and joint angles, one row an item.
    pub joints: Table,
    /// Volume, mass, share of mass and centre of every segment, one row an item; `None` where the template's regions do not allow it, with the reason.
    pub segments: Result<Table, String>,
    /// The joint centres of a capture through time.
    pub tracks: Option<PointTracks>,
    /// Means of the segments' shares beside the handbook's.
    pub shares: Vec<SegmentShare>,
    /// Where the densities and the handbook's shares come from.
    pub source: String,
    /// Heights of joints, lengths and masses of segments and the skin's area beside handbooks; of stills, where there is no capture.
    pub handbook: Vec<HandbookRow>,
}

/// A segment's share of mass beside the handbook's.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SegmentShare {
    /// The segment.
    pub segment: String,
    /// Mean share over the items.
    pub mean_share: f64,
    /// The handbook's.
    pub handbook_share: Option<f64>,
}

/// Finds the joints and segments of the still poses; of a capture those of its frames, with their trajectories.
pub(super) fn run(
    settings: &JointsSettings,
    cohort: &Cohort,
    progress: Progress<'_>,
) -> Result<JointsOutcome, TaskError> {
    let capture = settings.capture.as_deref().map(|id| find_capture(cohort, Some(id))).transpose()?;
    let capture = capture.as_ref();
    let template = cohort.template();
    if template.joints.is_empty() {
        return Err(TaskError::Nothing {
            what: "the template has no joints".into(),
            advice: "name rings of vertices as joints in template.toml (docs/formats.md, Template)".into(),
        });
    }
    let items: Vec<usize> = match capture {
        Some(capture) => capture.items.clone(),
        None => Which::Stills.of(cohort)?,
    };
    let source = cohort.select(items.clone());
    let params = SegmentParams::default();
    let mut centres = Vec::with_capacity(items.len());
    let laid = params.on(template).map_err(|e| e.to_string());
    let mut segments: Result<Vec<Vec<Segment>>, String> = Ok(Vec::with_capacity(items.len()));
    let order: Vec<usize> = (0..items.len()).collect();
    for block in order.chunks(BLOCK) {
        let read: Vec<_> = block
            .par_iter()
            .map(|&i| {
                let shape = source.read_shape(i)?;
                let row = laid.as_ref().map_err(Clone::clone);
                let row = row.and_then(|s| s.take(&shape).map_err(|e| e.to_string()));
                Ok::<_, TaskError>((joint_centres(template, &shape), row))
            })
            .collect::<Result<_, _>>()?;
        for (centre, row) in read {
            centres.push(centre);
            segments = match (segments, row) {
                (Ok(mut rows), Ok(row)) => {
                    rows.push(row);
                    Ok(rows)
                }
                (Err(first), _) | (_, Err(first)) => Err(first),
            };
        }
        progress(centres.len(), items.len());
    }
    let ids: Vec<String> = items.iter().map(|&i| cohort.items()[i].item.clone()).collect();
    let tracks = match capture {
        None => None,
        Some(capture) => Some(PointTracks {
            names: template.joints.iter().map(|j| j.name.clone()).collect(),
            times_s: times(cohort, capture)?,
            positions_mm: centres.clone(),
        }),
    };
    let mut seen = BTreeSet::new();
    let people: Vec<usize> =
        items.iter().copied().filter(|&i| seen.insert(&cohort.items()[i].participant)).collect();
    let shares = match &segments {
        Err(_) => Vec::new(),
        Ok(rows) => params
            .segments
            .iter()
            .enumerate()
            .map(|(s, definition)| SegmentShare {
                segment: definition.name.clone(),
                mean_share: rows.iter().map(|r| r[s].share).sum::<f64>() / rows.len() as f64,
                handbook_share: definition.handbook_share,
            })
            .collect(),
    };
    Ok(JointsOutcome {
        joints: joint_table(template, "item", ids.clone(), &centres),
        segments: segments.map(|rows| segment_table(&params, ids, &rows)),
        tracks,
        shares,
        source: params.source,
        handbook: if capture.is_none() { handbook(cohort, &people)? } else { Vec::new() },
    })
}

fn segment_table(params: &SegmentParams, ids: Vec<String>, rows: &[Vec<Segment>]) -> Table {
    let mut numbers = Vec::new();
    for (s, definition) in params.segments.iter().enumerate() {
        let mut put = |what: &str, unit: Option<&str>, value: &dyn Fn(&Segment) -> f64| {
            numbers.push(NumberColumn {
                name: format!("{}_{what}", definition.name),
                unit: unit.map(str::to_owned),
                values: rows.iter().map(|r| Some(value(&r[s]))).collect(),
            });
        };
        put("volume", Some("litres"), &|x| x.volume_litres);
        put("mass", Some("kg"), &|x| x.mass_kg);
        put("share", None, &|x| x.share);
        for (k, axis) in ["centre_x", "centre_y", "centre_z"].into_iter().enumerate() {
            put(axis, Some("mm"), &|x| x.centre_mm[k]);
        }
    }
    Table { id: "item".into(), ids, numbers, texts: Vec::new() }
}
