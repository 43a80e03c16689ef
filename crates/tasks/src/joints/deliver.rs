//! The object, the tables, and the answer.

use formkin_table::Sheet;
use serde_json::{Value, json};

use super::JointsOutcome;
use crate::Delivery;
use crate::measure::handbook_lines;

/// The figures.
pub(super) fn object(made: &JointsOutcome) -> Value {
    json!({
        "items": made.joints.rows(),
        "frames": made.tracks.as_ref().map(|t| t.times_s.len()),
        "shares": made.shares,
        "source": made.source,
        "handbook": made.handbook,
        "no_segments": made.segments.as_ref().err(),
    })
}

/// Joints, segments, and the trajectories of a capture.
pub(super) fn files(made: &JointsOutcome) -> Delivery<'_> {
    let mut files = Delivery::new().sheet(
        "joints.csv",
        "Joint centres, lengths between them and angles at them",
        Sheet::from(&made.joints),
    );
    if let Ok(segments) = &made.segments {
        files =
            files.sheet("segments.csv", "Volume, mass and centre of every segment", Sheet::from(segments));
    }
    match &made.tracks {
        Some(tracks) => files.text(
            "joints.trc",
            "Joint centres through time, as trajectories",
            tracks.to_trc("joints.trc"),
        ),
        None => files,
    }
}

/// What a terminal shows.
pub(super) fn answer(made: &JointsOutcome) -> Vec<String> {
    let mut lines =
        vec![format!("{} items, {} columns of joints", made.joints.rows(), made.joints.numbers.len())];
    match &made.segments {
        Err(reason) => lines.push(format!("no segments: {reason}")),
        Ok(_) if made.handbook.is_empty() => {
            lines.push(format!("{:<22} {:>9} {:>9}", "share of mass", "mean", "handbook"));
            for s in &made.shares {
                let handbook = s.handbook_share.map_or_else(|| "-".to_owned(), |h| format!("{h:.4}"));
                lines.push(format!("{:<22} {:>9.4} {handbook:>9}", s.segment, s.mean_share));
            }
            lines.push(format!("handbook: {}", made.source));
        }
        Ok(_) => {}
    }
    lines.extend(handbook_lines(&made.handbook));
    lines
}
