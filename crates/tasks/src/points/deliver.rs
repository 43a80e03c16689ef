//! The figures for programs and the tables: those of one record straight into the folder, of several into a folder each.

use formkin_table::NumberFormat::{Fixed, Shortest};
use formkin_table::{FileNames, Sheet};
use serde_json::{Value, json};

use super::record::PointsRecord;
use super::run::PointsOutcome;
use crate::Delivery;
use crate::signals::condition_files::{component_files, condition_files};
use crate::signals::files::{changes, signal_files, track_files};
use crate::signals::object::{components_object, signals_object};

pub(super) fn object(made: &PointsOutcome) -> Value {
    json!({
        "people": made.people(),
        "captures": made.records.iter().map(record_object).collect::<Vec<_>>(),
        "changes": made.changes,
        "components": components_object(&made.components),
        "comparisons": made.conditions.as_ref().map(|c| &c.comparisons),
    })
}

fn record_object(record: &PointsRecord) -> Value {
    let mut object = signals_object(&record.signals);
    object["capture"] = json!(record.capture);
    object["participant"] = json!(record.participant);
    object["people"] = json!(1);
    object["points"] = json!(record.tracks.names);
    object["frames"] = json!(record.timing.frames);
    object["fps"] = json!(record.timing.fps);
    object["uniform"] = json!(record.timing.uniform);
    object["duration_s"] = json!(record.timing.duration_s);
    object["gaps"] = json!(record.timing.gaps);
    object["missing_share"] = json!(record.missing_share);
    object["up"] = json!(record.up);
    object
}

pub(super) fn files(made: &PointsOutcome) -> Delivery<'_> {
    let mut delivery = Delivery::new();
    if let [one] = &made.records[..] {
        delivery = record_files(one, delivery);
    } else {
        let mut names = FileNames::default();
        for record in &made.records {
            delivery = delivery.within(&names.of(&record.capture), record_files(record, Delivery::new()));
        }
    }
    let what = "Signals over captures, cycles and people, the largest range first";
    delivery = delivery.sheet("changes.csv", what, changes(&made.changes));
    delivery = component_files(&made.components, delivery);
    match &made.conditions {
        Some(conditions) => condition_files(conditions, None, delivery),
        None => delivery,
    }
}

fn record_files<'a>(record: &'a PointsRecord, delivery: Delivery<'a>) -> Delivery<'a> {
    let delivery = track_files("points", &record.tracks, record.body.as_ref(), delivery);
    let what = "Signals through time, one row a frame, as measured";
    signal_files(&record.signals, delivery.sheet("signals.csv", what, through_time(record)))
}

fn through_time(record: &PointsRecord) -> Sheet {
    let times = record.tracks.times_s.iter().copied();
    let n = times.len();
    record.curves.iter().fold(
        Sheet::new().number("time", Some("s"), "Time of the frame", Shortest, times),
        |sheet, curve| {
            let unit = Some(curve.unit.as_str()).filter(|u| !u.is_empty());
            let values = (0..n).map(|k| curve.values.get(k).copied().flatten());
            sheet.optional_number(&curve.dimension, unit, "The signal", Fixed(4), values)
        },
    )
}
