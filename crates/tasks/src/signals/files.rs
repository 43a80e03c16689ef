//! Cycles, curves over them, displacement in a body frame, changes over captures: as tables.

use formkin_motion::Cycles;
use formkin_motion::changes::{DimensionChange, DimensionCourse};
use formkin_motion::cycles::band::Band;
use formkin_motion::cycles::cycle::SetAside;
use formkin_motion::points::PointTracks;
use formkin_motion::soft::tissue::{Tissue, TissueCycle};
use formkin_table::NumberFormat::{Fixed, Shortest};
use formkin_table::{Sheet, Values};

use super::run::Signals;
use crate::Delivery;

/// Adds the tables of cycles, curves over them, and soft tissue.
#[must_use]
pub fn signal_files<'a>(signals: &Signals, mut delivery: Delivery<'a>) -> Delivery<'a> {
    if let Some(cycles) = &signals.cycles {
        let what = "Cycles with their begin and end, and why some are set aside";
        delivery = delivery.sheet("events.csv", what, events(cycles));
    }
    if signals.courses.iter().any(|c| c.band.is_some()) {
        let what = "Dimensions over the cycle: mean and SD at 0 to 100 %";
        delivery = delivery.sheet("cycles.csv", what, over_the_cycle(signals));
        let what = "Dimensions over the cycle, one column a cycle, 0 to 100 %";
        delivery = delivery.sheet("cycle-curves.csv", what, single_cycles(signals));
    }
    if !signals.tissue.is_empty() {
        let what = "Soft tissue in the body frame, one row a cycle";
        delivery = delivery.sheet("tissue.csv", what, tissue(&signals.tissue));
        let what = "Soft tissue in the body frame through time";
        delivery = delivery.sheet("tissue-course.csv", what, displacement(&signals.tissue));
    }
    delivery
}

/// Dimensions or signals over captures, cycles and people, the largest range first.
#[must_use]
pub fn changes(changes: &[DimensionChange]) -> Sheet {
    let all = || changes.iter();
    let (percent, two) = (Some("percent"), Fixed(2));
    Sheet::new()
        .text("dimension", "The dimension or signal", all().map(|c| &c.dimension))
        .text("unit", "The unit of its values", all().map(|c| &c.unit))
        .whole("people", None, "People it is of", all().map(|c| c.people))
        .whole("captures", None, "Captures it is of", all().map(|c| c.captures))
        .whole("cycles", None, "Cycles it is of", all().map(|c| c.cycles))
        .optional_number("reference", None, "Value in the reference pose", two, all().map(|c| c.reference))
        .number("range", None, "Mean range, over cycles, captures and people", two, all().map(|c| c.range))
        .optional_number(
            "range_sd_people",
            None,
            "SD of it over people",
            two,
            all().map(|c| c.range_sd_people),
        )
        .optional_number(
            "range_sd_cycles",
            None,
            "SD of it over cycles",
            two,
            all().map(|c| c.range_sd_cycles),
        )
        .optional_number(
            "change_min",
            percent,
            "Least change from the reference",
            two,
            all().map(|c| c.change_min_percent),
        )
        .optional_number(
            "change_max",
            percent,
            "Most change from the reference",
            two,
            all().map(|c| c.change_max_percent),
        )
        .optional_number(
            "phase_of_min",
            percent,
            "Where it is least",
            Fixed(1),
            all().map(|c| c.phase_of_min_percent),
        )
        .optional_number(
            "phase_of_max",
            percent,
            "Where it is largest",
            Fixed(1),
            all().map(|c| c.phase_of_max_percent),
        )
        .optional_number(
            "noise_floor",
            None,
            "What noise alone gives",
            Fixed(3),
            all().map(|c| c.noise_floor),
        )
        .with(
            "above_noise",
            None,
            "Whether the range is above noise",
            Values::Flag(all().map(|c| c.above_noise).collect()),
        )
}

/// Why a cycle does not count, in words.
#[must_use]
pub fn set_aside_words(why: &SetAside) -> String {
    match why {
        SetAside::Gap => "frames are missing in it".to_owned(),
        SetAside::Short { frames, needed } => {
            format!("it holds {frames} frames, and a cycle needs {needed}")
        }
        SetAside::Length { seconds, median_s, allowed_s } => format!(
            "it takes {seconds:.3} s, the median is {median_s:.3} s and {allowed_s:.3} s off are allowed"
        ),
        SetAside::Curve { distance, allowed } => format!(
            "its curve is {distance:.2} (root mean square) from the median curve and {allowed:.2} is allowed"
        ),
    }
}

fn events(cycles: &Cycles) -> Sheet {
    let all = || cycles.cycles.iter();
    Sheet::new()
        .whole("cycle", None, "Number of the cycle, from 1", 1..=cycles.cycles.len())
        .number("start", Some("s"), "When it begins", Fixed(5), all().map(|c| c.start_s))
        .number("end", Some("s"), "When it ends", Fixed(5), all().map(|c| c.end_s))
        .text(
            "set_aside",
            "Why it does not count; blank where it does",
            all().map(|c| c.set_aside.as_ref().map_or_else(String::new, set_aside_words)),
        )
}

fn bands(signals: &Signals) -> Vec<(&DimensionCourse, &Band)> {
    signals.courses.iter().filter_map(|c| c.band.as_ref().map(|b| (c, b))).collect()
}

/// A unit that is one; none for what has none.
fn unit(of: &str) -> Option<&str> {
    Some(of).filter(|u| !u.is_empty())
}

fn percents() -> Sheet {
    Sheet::new().whole("percent", None, "Part of the cycle, in %", 0..=100)
}

fn over_the_cycle(signals: &Signals) -> Sheet {
    bands(signals).into_iter().fold(percents(), |sheet, (c, b)| {
        let (of, unit) = (&c.dimension, unit(&c.unit));
        sheet
            .number(&format!("{of}_mean"), unit, "Mean over the cycles", Fixed(3), b.mean.iter().copied())
            .number(&format!("{of}_sd"), unit, "SD over the cycles", Fixed(3), b.sd.iter().copied())
    })
}

fn single_cycles(signals: &Signals) -> Sheet {
    let curves = bands(signals)
        .into_iter()
        .flat_map(|(c, b)| b.cycles.iter().zip(&b.curves).map(move |(cycle, curve)| (c, cycle, curve)));
    curves.fold(percents(), |sheet, (c, cycle, curve)| {
        let name = format!("{}_cycle_{}", c.dimension, cycle + 1);
        sheet.number(&name, unit(&c.unit), "In this cycle", Fixed(4), curve.iter().copied())
    })
}

fn tissue(tissue: &[Tissue]) -> Sheet {
    let rows: Vec<(&str, usize, &TissueCycle)> = tissue
        .iter()
        .flat_map(|t| t.cycles.iter().enumerate().map(|(i, c)| (t.name.as_str(), i + 1, c)))
        .collect();
    let (mm, three) = (Some("mm"), Fixed(3));
    let of = |value: fn(&TissueCycle) -> f64| rows.iter().map(move |r| value(r.2));
    let some = |value: fn(&TissueCycle) -> Option<f64>| rows.iter().map(move |r| value(r.2));
    Sheet::new()
        .text("region", "The region, landmark or point", rows.iter().map(|r| r.0))
        .whole("cycle", None, "Number of the cycle, from 1", rows.iter().map(|r| r.1))
        .number("start", Some("s"), "When the cycle begins", Fixed(4), of(|c| c.start_s))
        .number("vertical", mm, "Range along the vertical of the body frame", three, of(|c| c.vertical_mm))
        .number("lateral", mm, "Range from side to side", three, of(|c| c.lateral_mm))
        .number("fore_aft", mm, "Range from front to back", three, of(|c| c.fore_aft_mm))
        .number("resultant", mm, "Root of the sum of the three squares", three, of(|c| c.resultant_mm))
        .number("path", mm, "Length of the path", three, of(|c| c.path_mm))
        .number("speed", Some("mm_s"), "Greatest speed", Fixed(1), of(|c| c.speed_mm_s))
        .number(
            "acceleration",
            Some("mm_s2"),
            "Greatest acceleration",
            Fixed(0),
            of(|c| c.acceleration_mm_s2),
        )
        .optional_number("normal", mm, "Range along the normal of the skin", three, some(|c| c.normal_mm))
        .optional_number("tangential", mm, "Range across the normal", three, some(|c| c.tangential_mm))
}

fn displacement(tissue: &[Tissue]) -> Sheet {
    let rows: Vec<(&str, f64, [f64; 3])> = tissue
        .iter()
        .flat_map(|t| t.times_s.iter().zip(&t.displacement_mm).map(|(s, d)| (t.name.as_str(), *s, *d)))
        .collect();
    let axis = |k: usize| rows.iter().map(move |r| r.2[k]);
    let (mm, from) = (Some("mm"), "Displacement in the body frame from the mean place");
    Sheet::new()
        .text("region", "The region, landmark or point", rows.iter().map(|r| r.0))
        .number("time", Some("s"), "Time of the frame", Fixed(4), rows.iter().map(|r| r.1))
        .number("lateral", mm, from, Fixed(3), axis(0))
        .number("fore_aft", mm, from, Fixed(3), axis(1))
        .number("vertical", mm, from, Fixed(3), axis(2))
}

/// Adds trajectories in the laboratory and, where there is one, in the body frame, as TRC and CSV; the files' names begin with `what`.
#[must_use]
pub fn track_files<'a>(
    what: &str,
    laboratory: &PointTracks,
    body: Option<&PointTracks>,
    mut delivery: Delivery<'a>,
) -> Delivery<'a> {
    for (tracks, place) in [(Some(laboratory), "laboratory"), (body, "body")] {
        let Some(tracks) = tracks else { continue };
        let trc = format!("{what}-{place}.trc");
        let text = tracks.to_trc(&trc);
        delivery = delivery.text(trc, "Trajectories, mm, z up, as TRC", text).sheet(
            format!("{what}-{place}.csv"),
            "Trajectories, mm, z up, one row a frame",
            track_sheet(tracks),
        );
    }
    delivery
}

fn track_sheet(tracks: &PointTracks) -> Sheet {
    let times =
        Sheet::new().number("time", Some("s"), "Time of the frame", Shortest, tracks.times_s.iter().copied());
    tracks.names.iter().enumerate().fold(times, |sheet, (k, name)| {
        ["x", "y", "z"].into_iter().enumerate().fold(sheet, |sheet, (axis, word)| {
            let values = tracks.positions_mm.iter().map(|row| row[k].map(|p| p[axis]));
            sheet.optional_number(&format!("{name}_{word}"), Some("mm"), "Place", Fixed(5), values)
        })
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_that_hold_commas_and_quotation_marks_survive() {
        let tracks = PointTracks {
            names: vec!["knee, left".into(), "the \"soft\" one".into()],
            times_s: vec![0.0, 0.1],
            positions_mm: vec![vec![Some([1.0, 2.0, 3.0]), None], vec![None, Some([-1.5, 0.25, 9.0])]],
        };
        let text = String::from_utf8(track_sheet(&tracks).to_csv().unwrap()).unwrap();
        assert_eq!(PointTracks::from_csv(&text).unwrap(), tracks);
    }

    #[test]
    fn a_ratio_has_no_unit_in_its_header() {
        assert_eq!((unit(""), unit("mm")), (None, Some("mm")));
        let change = DimensionChange {
            dimension: "waist, to hip".into(),
            unit: String::new(),
            people: 1,
            captures: 1,
            cycles: 2,
            reference: None,
            range: 0.25,
            range_sd_people: None,
            range_sd_cycles: Some(0.125),
            change_min_percent: None,
            change_max_percent: None,
            phase_of_max_percent: Some(50.0),
            phase_of_min_percent: None,
            noise_floor: None,
            above_noise: Some(false),
        };
        let text = String::from_utf8(changes(&[change]).to_csv().unwrap()).unwrap();
        assert_eq!(
            text,
            "dimension,unit,people,captures,cycles,reference,range,range_sd_people,range_sd_cycles,change_min_percent,\
             change_max_percent,phase_of_min_percent,phase_of_max_percent,noise_floor,above_noise\n\
             \"waist, to hip\",,1,1,2,,0.25,,0.12,,,,50.0,,false\n"
        );
    }
}
