//! Point trajectories of classical movement analysis: TRC and CSV.
//!
//! TRC is a text file of tabs (its layout from memory): a line of `PathFileType 4 (X/Y/Z) NAME`, a line of names and one of values (`DataRate`,
//! `CameraRate`, `NumFrames`, `NumMarkers`, `Units`, ..), a line `Frame# Time NAME..` with each name over three columns, a line of `X1 Y1 Z1 ..`,
//! an empty line, then one line a frame. An empty place is a missing point. Positions are read as they are; [`PointTracks::turned_up`] makes z the vertical.
//!
//! CSV has a first column `time_s` and three columns a point: `NAME_x_mm,NAME_y_mm,NAME_z_mm`; an empty cell is missing, and a header with a comma or a
//! quotation mark in it stands in quotation marks.

use formkin_geometry::Point;
use formkin_table::{NumberFormat, Sheet, records};
use serde::{Deserialize, Serialize};

use crate::{Curve, MotionError, Reference, Timing};

/// Points over time.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct PointTracks {
    /// Names of the points.
    pub names: Vec<String>,
    /// Time stamps, in s.
    pub times_s: Vec<f64>,
    /// One row a frame, one entry a point, in mm; `None` where it was not seen.
    pub positions_mm: Vec<Vec<Option<Point>>>,
}

/// Which axis of a file points up.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum UpAxis {
    /// y is the vertical, as is common in TRC files.
    Y,
    /// z is the vertical.
    Z,
}

fn fault(line: usize, reason: impl Into<String>) -> MotionError {
    MotionError::PointFile { line, reason: reason.into() }
}

fn number(text: &str, line: usize, what: &str) -> Result<f64, MotionError> {
    let found: f64 =
        text.trim().parse().map_err(|_| fault(line, format!("{what} is `{text}`, not a number")))?;
    if found.is_finite() { Ok(found) } else { Err(fault(line, format!("{what} is `{text}`"))) }
}

fn point(cells: &[&str], line: usize, name: &str, factor: f64) -> Result<Option<Point>, MotionError> {
    let full = cells.iter().filter(|c| !c.trim().is_empty()).count();
    if full == 0 {
        return Ok(None);
    }
    if full < 3 || cells.len() < 3 {
        return Err(fault(line, format!("`{name}` has {full} of three coordinates")));
    }
    if cells.iter().all(|c| c.trim().eq_ignore_ascii_case("nan")) {
        return Ok(None);
    }
    let mut p = [0.0; 3];
    for (x, c) in p.iter_mut().zip(cells) {
        *x = factor * number(c, line, name)?;
    }
    Ok(Some(p))
}

impl PointTracks {
    /// Reads a TRC file's text.
    ///
    /// # Errors
    /// [`MotionError::PointFile`] with the line; those of [`Timing::of`] for the time stamps.
    pub fn from_trc(text: &str) -> Result<Self, MotionError> {
        let lines: Vec<&str> = text.lines().map(|l| l.trim_end_matches('\r')).collect();
        if !lines.first().is_some_and(|l| l.trim_start_matches('\u{feff}').starts_with("PathFileType")) {
            return Err(fault(1, "a TRC file begins with `PathFileType`"));
        }
        let (Some(keys), Some(values), Some(heads)) = (lines.get(1), lines.get(2), lines.get(3)) else {
            return Err(fault(lines.len(), "the head of the file is cut off"));
        };
        let setting = |name: &str| {
            keys.split('\t')
                .position(|k| k.trim() == name)
                .and_then(|i| values.split('\t').nth(i))
                .map(str::trim)
        };
        let factor = match setting("Units").map(str::to_lowercase).as_deref() {
            Some("mm") => 1.0,
            Some("cm") => 10.0,
            Some("m") => 1000.0,
            Some(other) => return Err(fault(3, format!("unit `{other}`: mm, cm or m are known"))),
            None => return Err(fault(2, "`Units` is missing")),
        };
        let names: Vec<String> =
            heads.split('\t').skip(2).map(str::trim).filter(|n| !n.is_empty()).map(str::to_owned).collect();
        if names.is_empty() {
            return Err(fault(4, "no point is named"));
        }
        if let Some(said) = setting("NumMarkers").and_then(|s| s.parse::<usize>().ok())
            && said != names.len()
        {
            return Err(fault(3, format!("`NumMarkers` is {said}, and {} points are named", names.len())));
        }
        let (mut times_s, mut positions_mm) = (Vec::new(), Vec::new());
        for (i, line) in lines.iter().enumerate().skip(5).filter(|(_, l)| !l.trim().is_empty()) {
            let cells: Vec<&str> = line.split('\t').collect();
            if cells.len() < 2 {
                return Err(fault(i + 1, "a frame begins with its number and its time"));
            }
            times_s.push(number(cells[1], i + 1, "the time")?);
            positions_mm.push(row(&cells[2..], &names, i + 1, factor)?);
        }
        if let Some(said) = setting("NumFrames").and_then(|s| s.parse::<usize>().ok())
            && said != times_s.len()
        {
            return Err(fault(3, format!("`NumFrames` is {said}, and there are {}", times_s.len())));
        }
        Self { names, times_s, positions_mm }.checked()
    }

    /// Reads a CSV file's text.
    ///
    /// # Errors
    /// As [`PointTracks::from_trc`].
    pub fn from_csv(text: &str) -> Result<Self, MotionError> {
        let table = records(text, "the file of points").map_err(|e| fault(1, e.to_string()))?;
        let head: Vec<&str> = table.header.cells.iter().map(String::as_str).collect();
        if head.is_empty() {
            return Err(fault(1, "the file is empty"));
        }
        if head.first() != Some(&"time_s") || !(head.len() - 1).is_multiple_of(3) || head.len() < 4 {
            return Err(fault(
                1,
                "the columns are time_s and NAME_x_mm, NAME_y_mm, NAME_z_mm for each point",
            ));
        }
        let mut names = Vec::new();
        for group in head[1..].chunks(3) {
            let bare = |axis: &str, cell: &str| cell.strip_suffix(&format!("_{axis}_mm")).map(str::to_owned);
            match (bare("x", group[0]), bare("y", group[1]), bare("z", group[2])) {
                (Some(a), Some(b), Some(c)) if a == b && b == c => names.push(a),
                _ => {
                    return Err(fault(1, format!("`{}` are not x, y, z in mm of a point", group.join(", "))));
                }
            }
        }
        let (mut times_s, mut positions_mm) = (Vec::new(), Vec::new());
        for record in &table.rows {
            let line = usize::try_from(record.line).unwrap_or(usize::MAX);
            let cells: Vec<&str> = record.cells.iter().map(String::as_str).collect();
            if cells.len() != head.len() {
                return Err(fault(line, format!("{} cells in place of {}", cells.len(), head.len())));
            }
            times_s.push(number(cells[0], line, "the time")?);
            positions_mm.push(row(&cells[1..], &names, line, 1.0)?);
        }
        Self { names, times_s, positions_mm }.checked()
    }

    fn checked(self) -> Result<Self, MotionError> {
        if self.times_s.is_empty() {
            return Err(MotionError::TooFewFrames { frames: 0, needed: 1 });
        }
        let mut sorted = self.names.clone();
        sorted.sort();
        if let Some(w) = sorted.windows(2).find(|w| w[0] == w[1]) {
            return Err(fault(1, format!("the point `{}` is there twice", w[0])));
        }
        Timing::of(&self.times_s, self.times_s.len())?;
        Ok(self)
    }

    /// As a TRC file in mm. `name` is the file's name in its first line.
    #[must_use]
    pub fn to_trc(&self, name: &str) -> String {
        let n = self.times_s.len();
        let rate = match (self.times_s.first(), self.times_s.last()) {
            (Some(a), Some(b)) if b > a => (n - 1) as f64 / (b - a),
            _ => 0.0,
        };
        let rate = (rate * 1e6).round() / 1e6;
        let mut text = format!("PathFileType\t4\t(X/Y/Z)\t{}\n", name.replace(['\t', '\n', '\r'], " "));
        text.push_str("DataRate\tCameraRate\tNumFrames\tNumMarkers\tUnits\tOrigDataRate\tOrigDataStartFrame\tOrigNumFrames\n");
        text.push_str(&format!("{rate}\t{rate}\t{n}\t{}\tmm\t{rate}\t1\t{n}\n", self.names.len()));
        text.push_str("Frame#\tTime");
        for n in &self.names {
            // a tab or a line break would end the name
            text.push_str(&format!("\t{}\t\t", n.replace(['\t', '\n', '\r'], " ")));
        }
        text.push_str("\n\t");
        for k in 1..=self.names.len() {
            text.push_str(&format!("\tX{k}\tY{k}\tZ{k}"));
        }
        text.push_str("\n\n");
        for (i, (t, row)) in self.times_s.iter().zip(&self.positions_mm).enumerate() {
            text.push_str(&format!("{}\t{t}", i + 1));
            for p in row {
                match p {
                    Some(p) => text.push_str(&format!("\t{:.5}\t{:.5}\t{:.5}", p[0], p[1], p[2])),
                    None => text.push_str("\t\t\t"),
                }
            }
            text.push('\n');
        }
        text
    }

    /// As a table: time, then three columns a point.
    #[must_use]
    pub fn sheet(&self) -> Sheet {
        let times = self.times_s.iter().copied();
        let mut sheet = Sheet::new().number("time", Some("s"), "Time stamp", NumberFormat::Shortest, times);
        for (at, name) in self.names.iter().enumerate() {
            for (axis, letter) in ["x", "y", "z"].into_iter().enumerate() {
                let course =
                    self.positions_mm.iter().map(|row| row.get(at).copied().flatten().map(|p| p[axis]));
                sheet = sheet.optional_number(
                    &format!("{name}_{letter}"),
                    Some("mm"),
                    &format!("{letter} of {name}"),
                    NumberFormat::Fixed(5),
                    course,
                );
            }
        }
        sheet
    }

    /// With z as the vertical: (x, y, z) of a file whose y points up becomes (x, -z, y).
    #[must_use]
    pub fn turned_up(mut self, up: UpAxis) -> Self {
        if up == UpAxis::Y {
            for p in self.positions_mm.iter_mut().flatten().flatten() {
                *p = [p[0], -p[2], p[1]];
            }
        }
        self
    }

    /// One coordinate of a point (0 to 2 for x to z) over time; `None` for a name that is not there.
    #[must_use]
    pub fn coordinate(&self, name: &str, axis: usize) -> Option<Vec<Option<f64>>> {
        let at = self.names.iter().position(|n| n == name)?;
        (axis < 3).then(|| self.positions_mm.iter().map(|row| row[at].map(|p| p[axis])).collect())
    }

    /// The course of every coordinate of every point, described as dimensions are.
    ///
    /// # Errors
    /// Those of [`Timing::of`].
    pub fn curves(&self, reference: Reference, cycle_hz: Option<f64>) -> Result<Vec<Curve>, MotionError> {
        let timing = Timing::of(&self.times_s, self.times_s.len())?;
        let mut made = Vec::new();
        for name in &self.names {
            for (axis, letter) in ["x", "y", "z"].into_iter().enumerate() {
                let values = self.coordinate(name, axis).unwrap_or_default();
                let of = format!("{name}_{letter}");
                made.push(Curve::of(&of, "mm", (&self.times_s, &timing), values, reference, cycle_hz));
            }
        }
        Ok(made)
    }
}

/// The rate that the head of a TRC file states (`DataRate`), in Hz; `None` where it states none.
#[must_use]
pub fn stated_rate(text: &str) -> Option<f64> {
    let mut lines = text.lines().skip(1);
    let (keys, values) = (lines.next()?, lines.next()?);
    let at = keys.split('\t').position(|k| k.trim() == "DataRate")?;
    values.split('\t').nth(at)?.trim().parse().ok().filter(|r: &f64| r.is_finite() && *r > 0.0)
}

fn row(
    cells: &[&str],
    names: &[String],
    line: usize,
    factor: f64,
) -> Result<Vec<Option<Point>>, MotionError> {
    // missing places at the end of a line may be left away with their tabs
    let all: Vec<&str> = (0..3 * names.len()).map(|i| cells.get(i).copied().unwrap_or("")).collect();
    if cells.iter().skip(3 * names.len()).any(|c| !c.trim().is_empty()) {
        return Err(fault(line, format!("more than {} coordinates", 3 * names.len())));
    }
    all.chunks(3).zip(names).map(|(c, name)| point(c, line, name, factor)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn csv(tracks: &PointTracks) -> String {
        tracks.sheet().csv_text().unwrap()
    }

    fn tracks() -> PointTracks {
        let times_s: Vec<f64> = (0..30).map(|i| f64::from(i) / 100.0).collect();
        let positions_mm = (0..30)
            .map(|i| {
                let x = f64::from(i);
                vec![Some([x, 2.0 * x, 900.0 + x]), (i != 7).then_some([1.5, -x, 0.25])]
            })
            .collect();
        PointTracks { names: vec!["heel".into(), "toe left".into()], times_s, positions_mm }
    }

    #[test]
    fn what_is_written_is_read_back() {
        let t = tracks();
        assert_eq!(PointTracks::from_trc(&t.to_trc("walk.trc")).unwrap(), t);
        assert_eq!(PointTracks::from_csv(&csv(&t)).unwrap(), t);
        let up = t.clone().turned_up(UpAxis::Y);
        assert_eq!(up.positions_mm[3][0], Some([3.0, -903.0, 6.0]));
        let curves = t.curves(Reference::Frame(0), None).unwrap();
        assert_eq!((curves.len(), curves[2].range, curves[3].missing), (6, Some(29.0), 1));
    }

    #[test]
    fn names_may_hold_anything_that_a_tab_file_holds() {
        let mut t = tracks();
        t.names = vec!["knee, left".into(), "the \"soft\" one".into()];
        assert_eq!(PointTracks::from_trc(&t.to_trc("a")).unwrap(), t);
        assert_eq!(PointTracks::from_csv(&csv(&t)).unwrap(), t);
        assert_eq!(stated_rate(&t.to_trc("a")), Some(100.0));
        assert_eq!(stated_rate("PathFileType\nUnits\nmm\n"), None);
    }

    #[test]
    fn metres_are_read_as_millimetres() {
        let text = tracks().to_trc("a").replace("\tmm\t", "\tm\t");
        assert_eq!(
            PointTracks::from_trc(&text).unwrap().positions_mm[1][0],
            Some([1000.0, 2000.0, 901_000.0])
        );
    }

    #[test]
    fn broken_files_say_the_line() {
        let good = tracks().to_trc("a");
        let at = |text: &str| match PointTracks::from_trc(text) {
            Err(MotionError::PointFile { line, .. }) => line,
            other => panic!("{other:?}"),
        };
        assert_eq!(at("nothing"), 1);
        assert_eq!(at(&good.replace("\tmm\t", "\tfurlongs\t")), 3);
        assert_eq!(at(&good.replace("901.00000", "ninety")), 8);
        assert_eq!(at(&good.replace("901.00000", "")), 8);
        assert_eq!(at(&good.replace("\t30\t2\tmm", "\t31\t2\tmm")), 3);
        assert!(PointTracks::from_csv("time_s,a_x_mm\n").is_err());
        assert!(PointTracks::from_csv("").is_err() && PointTracks::from_trc("PathFileType").is_err());
    }
}
