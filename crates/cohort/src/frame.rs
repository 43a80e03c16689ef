//! Unit and height axis of the files.

use formkin_geometry::Point;

use crate::params::{Unit, Up};

/// Turns positions of a file into mm with z up: a scale and a rotation, never a reflection.
///
/// | up in the file | becomes |
/// |---|---|
/// | x | (y, z, x) |
/// | y | (x, -z, y) |
/// | z | (x, y, z) |
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Conversion {
    millimetres: f64,
    up: Up,
}

impl Conversion {
    /// `None` where the unit or the axis is still to be told from the data.
    pub(crate) fn new(unit: Unit, up: Up) -> Option<Self> {
        let millimetres = unit.millimetres()?;
        (up != Up::Auto).then_some(Self { millimetres, up })
    }

    #[inline]
    pub(crate) fn apply(&self, p: Point) -> Point {
        let [x, y, z] = p.map(|c| c * self.millimetres);
        match self.up {
            Up::X => [y, z, x],
            Up::Y => [x, -z, y],
            Up::Z | Up::Auto => [x, y, z],
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn conversions_are_rotations() {
        for up in [Up::X, Up::Y, Up::Z] {
            let c = Conversion::new(Unit::M, up).unwrap();
            let [a, b, d] = [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]].map(|p| c.apply(p));
            let cross = formkin_geometry::vector::cross(a, b);
            assert_eq!(formkin_geometry::vector::dot(cross, d), 1e9);
        }
        assert_eq!(Conversion::new(Unit::Cm, Up::Y).unwrap().apply([1.0, 170.0, 2.0]), [10.0, -20.0, 1700.0]);
        assert_eq!(Conversion::new(Unit::Auto, Up::Y), None);
    }
}
