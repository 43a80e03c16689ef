//! Points played back: which frames are shown, where the picture goes along, which points are joined.

use formkin_report::document::view::{PlayedPoints, View};
use formkin_report::format::fixed;

use super::record::PointsRecord;

/// Most frames of a moving picture; others are left out evenly.
const FRAMES: usize = 600;
/// Most points of a picture.
const POINTS: usize = 150;
/// Points are joined where their distance varies by less than this part of it: they are on one segment.
const RIGID: f64 = 0.015;
/// Frames that are looked at to tell which points are on one segment.
const LOOKED_AT: usize = 60;

/// The points played back, every so many frames of them.
pub(super) fn picture(id: &str, record: &PointsRecord) -> View {
    let tracks = &record.tracks;
    let n = tracks.names.len().min(POINTS);
    let step = tracks.times_s.len().div_ceil(FRAMES).max(1);
    let kept: Vec<usize> = (0..tracks.times_s.len()).step_by(step).collect();
    let along = following(record, n);
    let place = |k: usize, i: usize| {
        tracks.positions_mm[k][i].map(|p| [p[0] - along[k][0], p[1] - along[k][1], p[2]])
    };
    let thinned = if step > 1 {
        format!(" To keep the page small every {step}th frame is shown; charts, tables and files are of all.")
    } else {
        String::new()
    };
    let fewer =
        if n < tracks.names.len() { format!(" The first {n} points are drawn.") } else { String::new() };
    View::Points(PlayedPoints {
        id: id.to_owned(),
        label: format!("The points through the record {}.", record.capture),
        names: tracks.names.iter().take(n).cloned().collect(),
        links: links(record, &kept, n),
        times_s: kept.iter().map(|&k| tracks.times_s[k]).collect(),
        positions_mm: kept.iter().map(|&k| (0..n).map(|i| place(k, i)).collect()).collect(),
        span: format!("{} s", fixed(record.timing.duration_s, 2)),
        hint: format!(
            "Points whose distance hardly changes are joined: they may lie on one segment of the body. The picture goes along with the person. The line in the charts below runs along.{thinned}{fewer}"
        ),
    })
}

/// Where the picture goes along in every frame: the horizontal mean of the points that are never lost; it stays where there are none.
fn following(record: &PointsRecord, n: usize) -> Vec<[f64; 2]> {
    let rows = &record.tracks.positions_mm;
    let always: Vec<usize> = (0..n).filter(|&i| rows.iter().all(|r| r[i].is_some())).collect();
    rows.iter()
        .map(|row| {
            let seen: Vec<_> = always.iter().filter_map(|&i| row[i]).collect();
            let count = seen.len().max(1) as f64;
            [0, 1].map(|axis| seen.iter().map(|p| p[axis]).sum::<f64>() / count)
        })
        .collect()
}

/// Pairs of points whose distance hardly changes, the nearest three of each.
fn links(record: &PointsRecord, kept: &[usize], n: usize) -> Vec<[usize; 2]> {
    let mut found = Vec::new();
    let some = kept.iter().step_by(kept.len().div_ceil(LOOKED_AT).max(1));
    let rows: Vec<_> = some.map(|&k| &record.tracks.positions_mm[k]).collect();
    for a in 0..n {
        let mut near: Vec<(f64, usize)> = Vec::new();
        for b in (0..n).filter(|&b| b != a) {
            let mut all = Vec::new();
            for row in &rows {
                if let (Some(p), Some(q)) = (row[a], row[b]) {
                    all.push(((p[0] - q[0]).powi(2) + (p[1] - q[1]).powi(2) + (p[2] - q[2]).powi(2)).sqrt());
                }
            }
            let mean = all.iter().sum::<f64>() / all.len().max(1) as f64;
            let squares: f64 = all.iter().map(|d| (d - mean).powi(2)).sum();
            if all.len() > 2 && (squares / all.len() as f64).sqrt() < RIGID * mean {
                near.push((mean, b));
            }
        }
        near.sort_by(|x, y| x.0.total_cmp(&y.0));
        for (_, b) in near.into_iter().take(3) {
            let link = [a.min(b), a.max(b)];
            if !found.contains(&link) {
                found.push(link);
            }
        }
    }
    found
}
