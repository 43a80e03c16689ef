//! What a reader is shown: signals over all records, then each record with a moving picture.

use formkin_report::document::{Body, Section};
use formkin_report::format::{about, counted, fixed, percent, title_words};

use super::picture::picture;
use super::record::PointsRecord;
use super::run::PointsOutcome;
use crate::signals::object::cycles_line;
use crate::signals::section as signals;
use crate::signals::section::compared::{conditions, lines};
use crate::signals::section::together::{changes, components};

/// Records that are shown unfolded.
const OPEN: usize = 2;
/// What keeps its charts apart from others.
const ID: &str = "points";
/// Signals of an answer.
const ANSWERED: usize = 12;

/// The section, with its answer.
pub(super) fn section(made: &PointsOutcome) -> Section {
    let mut body = Body::default();
    body.paragraph(&format!(
        "{} of {}. Frames and cycles of one person say nothing about how people differ.",
        counted(made.records.len(), "record of points", "records of points"),
        counted(made.people(), "person", "people")
    ));
    changes(&mut body, &made.changes);
    components(&mut body, ID, &made.components);
    if let Some(compared) = &made.conditions {
        conditions(&mut body, ID, compared, None);
    }
    for (i, record) in made.records.iter().enumerate() {
        if i < OPEN {
            body.heading(&heading(record));
            one(&mut body, i, record);
        } else {
            let mut inside = Body::default();
            one(&mut inside, i, record);
            body.folded(&heading(record), inside);
        }
    }
    Section {
        id: "points".to_owned(),
        title: "What movement does to points".to_owned(),
        answer: answer(made),
        body,
        ..Section::default()
    }
}

fn heading(record: &PointsRecord) -> String {
    format!("{}, person {}", title_words(&record.capture, None), record.participant)
}

fn one(body: &mut Body, index: usize, record: &PointsRecord) {
    let rate = match record.timing.fps {
        Some(f) => format!(" at {} frames a second", about(f, 1)),
        None => " on an uneven clock".to_owned(),
    };
    body.paragraph(&format!(
        "{}, {} over {} s{rate}. {} of the places were not seen. Up is {}.",
        counted(record.tracks.names.len(), "point", "points"),
        counted(record.timing.frames, "frame", "frames"),
        fixed(record.timing.duration_s, 2),
        percent(record.missing_share),
        record.up
    ));
    let id = format!("formkin-points-{}", index + 1);
    body.view(picture(&id, record));
    let key = format!("points-{index}");
    signals::curves::curves(body, &key, &id, &record.curves);
    signals::signals(body, &key, &id, &record.signals, &record.tracks.times_s);
    signals::remarks(body, &record.signals);
}

/// The answer in lines for a terminal.
fn answer(made: &PointsOutcome) -> Vec<String> {
    let mut said = Vec::new();
    for r in &made.records {
        let rate =
            r.timing.fps.map_or_else(|| " on an uneven clock".to_owned(), |f| format!(" at {f:.1} Hz"));
        said.push(format!(
            "{}: {} points of one person ({}), {} frames{rate} over {:.2} s, {:.1} % of places not seen; up is {}",
            r.capture,
            r.tracks.names.len(),
            r.participant,
            r.timing.frames,
            r.timing.duration_s,
            100.0 * r.missing_share,
            r.up
        ));
        said.extend(r.signals.cycles.iter().map(|c| format!("  {}", cycles_line(c))));
        said.extend(r.signals.tissue.iter().filter_map(signals::tissue_line).map(|t| format!("  {t}")));
        said.extend(r.signals.remarks.iter().map(|r| format!("  noticed: {r}")));
    }
    said.push("signal                             range   cycles  largest at".to_owned());
    for c in made.changes.iter().take(ANSWERED) {
        let at = c.phase_of_max_percent.map_or_else(|| "-".to_owned(), |p| format!("{p:.0} %"));
        said.push(format!("{:<30} {:>9.1} {:<3} {:>4} {at:>10}", c.dimension, c.range, c.unit, c.cycles));
    }
    if made.changes.len() > ANSWERED {
        said.push(format!("and {} more (--into writes all)", made.changes.len() - ANSWERED));
    }
    said.extend(made.conditions.iter().flat_map(lines));
    said
}
