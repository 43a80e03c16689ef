//! Times of frames from CSV files.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use formkin_table::{Record, records};

use crate::CohortError;
use crate::error::Place;

/// A row of a file of times.
#[derive(Debug, Clone, PartialEq)]
struct Row {
    capture: String,
    frame: Option<u32>,
    time_s: f64,
}

/// A file of times: a column `time_s`, and where it needs them `frame` and `capture`.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Times {
    file: PathBuf,
    rows: Vec<Row>,
}

impl Times {
    pub(crate) fn read(path: &Path) -> Result<Self, CohortError> {
        let wrong = |line: usize, problem: String| {
            CohortError::syntax(
                path,
                Place::Line(line),
                problem,
                "give a CSV table with a column `time_s`, and with columns `capture` and `frame` where needed",
            )
        };
        let bytes = std::fs::read(path).map_err(CohortError::io(path, "read"))?;
        let table = records(&bytes, "the table").map_err(|e| wrong(1, e.to_string()))?;
        let header = &table.header.cells;
        let column = |name: &str| header.iter().position(|c| c.eq_ignore_ascii_case(name));
        let time = column("time_s").ok_or_else(|| wrong(1, "there is no column `time_s`".to_owned()))?;
        let (capture, frame) = (column("capture"), column("frame"));
        let mut rows = Vec::new();
        if let Some(record) = table.uneven() {
            let problem = format!("{} cells, but the header has {}", record.cells.len(), header.len());
            return Err(wrong(line_of(record), problem));
        }
        for record in &table.rows {
            let line = line_of(record);
            let field = |at: usize| record.cell(at);
            let time_s = field(time)
                .parse()
                .ok()
                .filter(|t: &f64| t.is_finite())
                .ok_or_else(|| wrong(line, format!("`{}` is not a time in seconds", field(time))))?;
            let frame = match frame.map(field) {
                None | Some("") => None,
                Some(f) => Some(f.parse().map_err(|_| wrong(line, format!("`{f}` is not a frame number")))?),
            };
            rows.push(Row { capture: capture.map(field).unwrap_or_default().to_owned(), frame, time_s });
        }
        Ok(Self { file: path.to_owned(), rows })
    }

    /// The times of a sequence with these frame numbers; `None` where the file is not about it.
    pub(crate) fn of(&self, capture: &str, frames: &[u32]) -> Result<Option<Vec<f64>>, CohortError> {
        let named = self.rows.iter().any(|r| !r.capture.is_empty());
        let rows: Vec<&Row> = self.rows.iter().filter(|r| !named || r.capture == capture).collect();
        if rows.is_empty() && named {
            return Ok(None);
        }
        let wrong = |problem: String| {
            Err(CohortError::syntax(
                &self.file,
                Place::Whole,
                problem,
                "give one row for every frame, in order, or with frame numbers in a column `frame`",
            ))
        };
        let by_frame: BTreeMap<u32, f64> = rows.iter().filter_map(|r| Some((r.frame?, r.time_s))).collect();
        let times: Vec<f64> = if by_frame.len() == rows.len() {
            match frames.iter().map(|f| by_frame.get(f).copied().ok_or(f)).collect::<Result<_, _>>() {
                Ok(times) => times,
                Err(frame) => return wrong(format!("there is no time for frame {frame} of `{capture}`")),
            }
        } else if rows.len() == frames.len() {
            rows.iter().map(|r| r.time_s).collect()
        } else {
            return wrong(format!("{} times for {} frames of `{capture}`", rows.len(), frames.len()));
        };
        if let Some(i) = times.windows(2).position(|w| w[1] <= w[0]) {
            return wrong(format!(
                "the time of frame {} of `{capture}` is not after the one before",
                frames[i + 1]
            ));
        }
        Ok(Some(times))
    }
}

fn line_of(record: &Record) -> usize {
    usize::try_from(record.line).unwrap_or(usize::MAX)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn times(text: &str) -> Result<Times, CohortError> {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("w.times.csv");
        std::fs::write(&path, text).unwrap();
        Times::read(&path)
    }

    #[test]
    fn times_by_order_by_frame_and_by_capture() {
        let t = times("time_s\n0.0\n0.1\n0.3\n").unwrap();
        assert_eq!(t.of("walk", &[5, 6, 7]).unwrap().unwrap(), [0.0, 0.1, 0.3]);
        assert!(t.of("walk", &[5, 6]).unwrap_err().to_string().contains("3 times for 2 frames"));
        let t = times("frame,time_s\n7,0.3\n5,0.0\n6,0.1\n").unwrap();
        assert_eq!(t.of("walk", &[5, 7]).unwrap().unwrap(), [0.0, 0.3]);
        assert!(t.of("walk", &[8]).unwrap_err().to_string().contains("frame 8"));
        let t = times("capture,time_s\na,0\na,1\nb,0\n").unwrap();
        assert_eq!(t.of("a", &[0, 1]).unwrap().unwrap(), [0.0, 1.0]);
        assert_eq!(t.of("c", &[0, 1]).unwrap(), None);
        assert!(times("time_s\n0\n0\n").unwrap().of("a", &[0, 1]).is_err());
        assert!(times("t\n0\n").is_err());
        assert!(times("time_s\nx\n").unwrap_err().to_string().contains("line 2"));
    }
}
