//! Signals of point trajectories: distances between points and angles at points.

use formkin_geometry::Point;
use formkin_geometry::vector::{cross, dot, norm, sub};

use crate::MotionError;
use crate::points::PointTracks;

impl PointTracks {
    /// The column of a point.
    ///
    /// # Errors
    /// [`MotionError::NoSuchPoint`] with the names that there are.
    pub fn index(&self, name: &str) -> Result<usize, MotionError> {
        self.names
            .iter()
            .position(|n| n == name)
            .ok_or_else(|| MotionError::NoSuchPoint { name: name.to_owned(), known: self.names.join(", ") })
    }

    /// The distance between two points over time, in mm; `None` where one of them is not seen.
    ///
    /// # Errors
    /// [`MotionError::NoSuchPoint`].
    pub fn distance(&self, from: &str, to: &str) -> Result<Vec<Option<f64>>, MotionError> {
        let (a, b) = (self.index(from)?, self.index(to)?);
        let of = |row: &Vec<Option<Point>>| Some(norm(sub(row[b]?, row[a]?)));
        Ok(self.positions_mm.iter().map(of).collect())
    }

    /// The angle at the second of three points over time, in degrees from 0 to 180: atan2(|u x v|, u . v) of the directions to the
    /// other two. `None` where one is not seen or two are in one place.
    ///
    /// # Errors
    /// [`MotionError::NoSuchPoint`].
    pub fn angle(&self, [a, b, c]: [&str; 3]) -> Result<Vec<Option<f64>>, MotionError> {
        let (a, b, c) = (self.index(a)?, self.index(b)?, self.index(c)?);
        let of = |row: &Vec<Option<Point>>| {
            let (u, v) = (sub(row[a]?, row[b]?), sub(row[c]?, row[b]?));
            (norm(u) > 0.0 && norm(v) > 0.0).then(|| norm(cross(u, v)).atan2(dot(u, v)).to_degrees())
        };
        Ok(self.positions_mm.iter().map(of).collect())
    }

    /// How many places are exactly the origin: many systems write a point that was not seen so.
    #[must_use]
    pub fn at_the_origin(&self) -> usize {
        self.positions_mm.iter().flatten().filter(|p| **p == Some([0.0; 3])).count()
    }

    /// Takes places that are exactly the origin as missing.
    #[must_use]
    pub fn without_the_origin(mut self) -> Self {
        for p in self.positions_mm.iter_mut().flatten() {
            if *p == Some([0.0; 3]) {
                *p = None;
            }
        }
        self
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_knee_and_a_thigh() {
        let names = ["hip", "knee", "ankle"].map(str::to_owned).to_vec();
        let row = vec![Some([0.0, 0.0, 900.0]), Some([0.0, 0.0, 500.0]), Some([0.0, 400.0, 500.0])];
        let mut hidden = row.clone();
        hidden[2] = Some([0.0; 3]);
        let tracks = PointTracks { names, times_s: vec![0.0, 0.01], positions_mm: vec![row, hidden] };
        assert_eq!(tracks.at_the_origin(), 1);
        let tracks = tracks.without_the_origin();
        assert_eq!(tracks.distance("hip", "knee").unwrap(), vec![Some(400.0); 2]);
        let angle = tracks.angle(["hip", "knee", "ankle"]).unwrap();
        assert!((angle[0].unwrap() - 90.0).abs() < 1e-12 && angle[1].is_none());
        let e = tracks.distance("hip", "heel").unwrap_err().to_string();
        assert!(e.contains("heel") && e.contains("ankle"), "{e}");
    }
}
