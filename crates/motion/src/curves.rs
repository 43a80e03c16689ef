//! Dimensions followed through a movement.
//!
//! Dimensions are taken on each frame as captured, in the gravity frame, since heights and levels mean nothing in a turned one. A girth
//! keeps its ring: the points of the skin that the tape lay on in the reference frame. A section at a level would leave the place as the
//! body bends or jumps. Everything else is taken anew in each frame.

use formkin_geometry::{ShapeSource, Template};
use formkin_measure::{Dimensions, Kind, MeasureError, Taker};
use rayon::prelude::*;
use serde::{Deserialize, Serialize};

use crate::{Curve, MotionError, Reference, Timing};

/// Frames measured between two reports of progress.
const CHUNK: usize = 32;

/// Settings of [`curves()`].
#[derive(Debug, Clone, Copy, Default, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct CurveParams {
    /// The pose that changes are from. The rings of girths are those of this frame, or of frame 0 where it is the mean.
    pub reference: Reference,
    /// The frequency of the movement's cycle in Hz where it is known, such as that of its first mode; else each curve's own is looked
    /// for.
    pub cycle_hz: Option<f64>,
}

/// The course of every dimension over the frames of `source`, one time stamp (s) each, in the order of the definitions.
/// Frames are read as they are needed. `progress` hears (frames done, of).
///
/// # Errors
/// Those of [`Timing::of`]; [`MotionError::TooFewFrames`] without a frame; [`MotionError::NoSuchFrame`];
/// [`MotionError::OutOfRange`] for a cycle that is not above 0; [`MotionError::Measure`] where the template lacks a name or has
/// another number of vertices; [`MotionError::Source`]. A dimension that cannot be taken on a frame is no error: its value is missing.
pub fn curves(
    dimensions: &Dimensions,
    template: &Template,
    source: &dyn ShapeSource,
    times_s: &[f64],
    params: &CurveParams,
    progress: &(dyn Fn(usize, usize) + Sync),
) -> Result<Vec<Curve>, MotionError> {
    let n = source.shapes();
    if n == 0 {
        return Err(MotionError::TooFewFrames { frames: 0, needed: 1 });
    }
    let timing = Timing::of(times_s, n)?;
    if let Some(value) = params.cycle_hz.filter(|hz| !(*hz > 0.0 && hz.is_finite())) {
        return Err(MotionError::OutOfRange { name: "cycle_hz", value, range: "above 0" });
    }
    dimensions.check(template)?;
    let vertices = template.mesh.topology().vertices();
    if source.vertices() != vertices {
        return Err(MeasureError::VertexCount { shapes: source.vertices(), template: vertices }.into());
    }
    let ring_frame = match params.reference {
        Reference::Frame(frame) if frame >= n => return Err(MotionError::NoSuchFrame { frame, last: n - 1 }),
        Reference::Frame(frame) => frame,
        Reference::Mean => 0,
    };
    let taker = Taker::new(dimensions, template);
    let follower = taker.follow(&source.read_shape(ring_frame)?);
    let mut columns: Vec<Column> = vec![Column::default(); dimensions.definitions.len()];
    for first in (0..n).step_by(CHUNK) {
        let last = (first + CHUNK).min(n);
        let rows: Vec<Result<_, MotionError>> = (first..last)
            .into_par_iter()
            .map_init(Vec::new, |shape, frame| {
                shape.resize(vertices, [0.0; 3]);
                source.read_block(frame, shape)?;
                let row = follower.take(shape);
                Ok(row.into_iter().map(|m| (m.value, m.reason_missing)).collect::<Vec<_>>())
            })
            .collect();
        for row in rows {
            for (column, (value, reason)) in columns.iter_mut().zip(row?) {
                if value.is_none() && column.reason.is_none() {
                    column.reason = reason;
                }
                column.values.push(value);
            }
        }
        progress(last, n);
    }
    Ok(dimensions
        .definitions
        .iter()
        .zip(columns)
        .map(|(definition, column)| {
            let unit = definition.unit.as_deref().unwrap_or("");
            let times = (times_s, &timing);
            let mut curve =
                Curve::of(&definition.name, unit, times, column.values, params.reference, params.cycle_hz);
            curve.taken_on = match definition.kind {
                Kind::Girth { .. } => {
                    format!("the ring of skin that it had in frame {ring_frame}, on each frame as captured")
                }
                Kind::Derived { .. } => "the dimensions it is made of".to_owned(),
                _ => "each frame as captured, in the gravity frame".to_owned(),
            };
            curve.reason_missing = column.reason;
            curve
        })
        .collect())
}

/// One dimension over the frames.
#[derive(Default, Clone)]
struct Column {
    values: Vec<Option<f64>>,
    reason: Option<String>,
}
