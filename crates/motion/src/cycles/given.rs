//! Events that are given: a table of times.
//!
//! CSV with a header: `time_s` (or `frame`, from 0), and where one file holds several captures a column `capture`. Other columns are left aside. The order
//! of the rows does not count; an event that is there twice does.

use formkin_table::records;

use crate::MotionError;
use crate::fault::CyclesFault;

/// One event as it was given.
#[derive(Debug, Clone, PartialEq)]
pub struct GivenEvent {
    /// The capture it belongs to; all where absent.
    pub capture: Option<String>,
    /// When, in s or as a frame.
    pub at: When,
}

/// When an event is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum When {
    /// In s, on the clock of the record.
    Seconds(f64),
    /// A frame, from 0; between two frames where it is no whole number.
    Frame(f64),
}

/// Reads a table of events.
///
/// # Errors
/// [`MotionError::EventFile`] with the line.
pub fn given_events(text: &str) -> Result<Vec<GivenEvent>, MotionError> {
    let fault = |line: usize, reason: String| MotionError::EventFile { line, reason };
    let table = records(text, "the table of events").map_err(|e| fault(1, e.to_string()))?;
    let (seconds, frame) = (table.column("time_s"), table.column("frame"));
    let Some(at) = seconds.or(frame) else {
        return Err(fault(1, "there is no column `time_s`, nor `frame`".to_owned()));
    };
    let capture = table.column("capture");
    let mut found = Vec::new();
    for row in table.rows.iter().filter(|r| !r.is_blank()) {
        let line = usize::try_from(row.line).unwrap_or(usize::MAX);
        let cell = row.cell(at);
        let value: f64 = cell
            .parse()
            .ok()
            .filter(|v: &f64| v.is_finite())
            .ok_or_else(|| fault(line, format!("`{cell}` is no time")))?;
        found.push(GivenEvent {
            capture: capture.map(|c| row.cell(c)).filter(|c| !c.is_empty()).map(str::to_owned),
            at: if seconds.is_some() { When::Seconds(value) } else { When::Frame(value) },
        });
    }
    if found.is_empty() {
        return Err(fault(2, "there is no event".to_owned()));
    }
    Ok(found)
}

/// The times of the events of a capture, ascending, in s. Frames become times by the record's stamps.
///
/// # Errors
/// [`MotionError::NoCycles`] for an event outside the record.
pub fn events_of(capture: &str, events: &[GivenEvent], times_s: &[f64]) -> Result<Vec<f64>, MotionError> {
    let (first, last) = match (times_s.first(), times_s.last()) {
        (Some(&a), Some(&b)) => (a, b),
        _ => return Err(MotionError::TooFewFrames { frames: 0, needed: 2 }),
    };
    let mut found = Vec::new();
    for event in events.iter().filter(|e| e.capture.as_deref().is_none_or(|c| c == capture)) {
        let time = match event.at {
            When::Seconds(t) => t,
            When::Frame(f) if f >= 0.0 && f <= (times_s.len() - 1) as f64 => {
                let i = (f as usize).min(times_s.len().saturating_sub(2));
                let next = times_s[(i + 1).min(times_s.len() - 1)];
                times_s[i] + (f - i as f64) * (next - times_s[i])
            }
            When::Frame(f) => {
                return Err(CyclesFault::FrameOutside { frame: f, last: times_s.len() - 1 }.into());
            }
        };
        // half a millisecond is what rounding of a clock makes
        if time < first - 5e-4 || time > last + 5e-4 {
            return Err(CyclesFault::TimeOutside { time_s: time, first_s: first, last_s: last }.into());
        }
        found.push(time.clamp(first, last));
    }
    found.sort_by(f64::total_cmp);
    Ok(found)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn events_are_read_by_capture_in_seconds_or_frames() {
        let text = "capture,time_s,foot\nwalk,1.5,left\nwalk,0.5,left\nrun,9,right\n";
        let given = given_events(text).unwrap();
        let times: Vec<f64> = (0..201).map(|i| f64::from(i) / 100.0).collect();
        assert_eq!(events_of("walk", &given, &times).unwrap(), vec![0.5, 1.5]);
        assert!(events_of("run", &given, &times).unwrap_err().to_string().contains("outside"));
        let frames = given_events("frame\n10\n20.5\n200\n").unwrap();
        let found = events_of("any", &frames, &times).unwrap();
        assert!((found[1] - 0.205).abs() < 1e-12 && (found[2] - 2.0).abs() < 1e-12);
        assert!(events_of("any", &given_events("frame\n201\n").unwrap(), &times).is_err());
    }

    #[test]
    fn captures_with_commas_stand_in_quotation_marks() {
        let given = given_events("time_s,capture\n0.5,\"walk, \"\"loaded\"\"\"\n\n1,run\n").unwrap();
        assert_eq!(given[0].capture.as_deref(), Some("walk, \"loaded\""));
        assert_eq!(given[1].at, When::Seconds(1.0));
    }

    #[test]
    fn broken_tables_say_the_line() {
        for (text, line) in
            [("", 1), ("time\n1\n", 1), ("time_s\n", 2), ("time_s\n0\nsoon\n", 3), ("time_s\nNaN\n", 2)]
        {
            match given_events(text) {
                Err(MotionError::EventFile { line: l, .. }) => assert_eq!(l, line, "{text}"),
                other => panic!("{other:?}"),
            }
        }
    }
}
