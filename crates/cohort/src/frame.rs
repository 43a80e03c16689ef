//! Unit and height axis of files, given or told from the data.
//!
//! **Height axis.** Up is assumed to be a positive axis. Evidence, from the medians over a sample of items:
//!
//! - *floor*: bodies stand on a floor at 0, so along the height axis the lowest point is within 3 % of the extent from 0.
//!   Along the other axes a body lies on both sides of 0.
//! - *length*: the longest extent, at least 1.25 times the second. True for people who stand, not for a horse.
//!
//! One axis with a floor decides, where it is also the longest or none is clearly longest. Where floor and length disagree,
//! the floor wins only if the body touches it in two or more separate places (feet) and ends in one piece along the longest
//! axis (a nose, a head). Of several floors the longest axis decides. Without a floor the longest axis decides only if the
//! principal axis of the vertices is within 15 degrees of it. Everything else is asked about.
//!
//! **Unit.** The one unit in which the height along that axis is 0.4 to 2.3 m; since 2.3 / 0.4 < 10 there is never more than
//! one. Two thirds of the sample must agree.

use formkin_geometry::Point;
use formkin_geometry::areas::centroid;
use formkin_geometry::spread::{principal, spread};
use formkin_stats::quantile::median_of;

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

const AXES: [Up; 3] = [Up::X, Up::Y, Up::Z];
/// Lowest point within this share of the extent from 0.
const FLOOR: f64 = 0.03;
/// Ratio of the longest extent to the second.
const LONGEST: f64 = 1.25;
/// Share of the extent that counts as the end of a body.
const END: f64 = 0.05;
const TILT_DEG: f64 = 15.0;
/// Least and greatest height of a body in mm.
const HEIGHT_MM: [f64; 2] = [400.0, 2300.0];

/// What one item looks like along the three axes of its file.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Look {
    low: Point,
    extent: Point,
    /// Separate places at the low end of every axis.
    ends: [usize; 3],
    /// Axis nearest to the principal axis of the vertices, and the angle to it in degrees.
    principal: (usize, f64),
}

impl Look {
    /// `None` where there is no finite extent.
    pub(crate) fn at(positions: &[Point]) -> Option<Self> {
        let (low, high) = formkin_geometry::mesh::bounds(positions)?;
        let extent = [high[0] - low[0], high[1] - low[1], high[2] - low[2]];
        if !extent.iter().all(|e| e.is_finite()) || extent.iter().all(|e| *e == 0.0) {
            return None;
        }
        Some(Self {
            low,
            extent,
            ends: [0, 1, 2].map(|axis| places_at_low_end(positions, axis, low[axis], extent)),
            principal: principal_axis(positions),
        })
    }

    /// The diagonal of the box around the item.
    pub(crate) fn diagonal(&self) -> f64 {
        formkin_geometry::vector::norm(self.extent)
    }

    /// The height along an axis.
    pub(crate) fn height(&self, up: Up) -> f64 {
        AXES.iter().position(|a| *a == up).map_or(f64::NAN, |k| self.extent[k])
    }
}

/// How many separate places a body touches the plane through its lowest point in: the vertices within 5 % of the extent,
/// projected on the plane and joined where they are closer than 6 % of the longest extent.
fn places_at_low_end(positions: &[Point], axis: usize, low: f64, extent: Point) -> usize {
    let (u, v) = ((axis + 1) % 3, (axis + 2) % 3);
    let cell = 0.06 * extent.iter().copied().fold(0.0, f64::max);
    let limit = low + END * extent[axis];
    // cells of a grid that hold a vertex; neighbouring cells, corners included, belong together
    let mut cells: Vec<(i64, i64)> = positions
        .iter()
        .filter(|p| p[axis] <= limit)
        .map(|p| ((p[u] / cell).floor() as i64, (p[v] / cell).floor() as i64))
        .collect();
    cells.sort_unstable();
    cells.dedup();
    let mut left: std::collections::BTreeSet<(i64, i64)> = cells.into_iter().collect();
    let mut places = 0;
    while let Some(first) = left.pop_first() {
        places += 1;
        let mut open = vec![first];
        while let Some((i, j)) = open.pop() {
            for (di, dj) in [(-1, -1), (-1, 0), (-1, 1), (0, -1), (0, 1), (1, -1), (1, 0), (1, 1)] {
                let next = (i.saturating_add(di), j.saturating_add(dj));
                if left.remove(&next) {
                    open.push(next);
                }
            }
        }
    }
    places
}

/// The axis nearest to the direction of the greatest variance of the vertices, and the angle to it in degrees.
pub(crate) fn principal_axis(positions: &[Point]) -> (usize, f64) {
    let weights = vec![1.0 / positions.len().max(1) as f64; positions.len()];
    let spread = spread(positions, &weights, centroid(positions, &weights));
    let Some((_, [along, ..])) = principal(&spread).filter(|(moments, _)| moments[0] > 0.0) else {
        return (0, 90.0);
    };
    let axis = (0..3).max_by(|&a, &b| along[a].abs().total_cmp(&along[b].abs())).unwrap_or(0);
    (axis, along[axis].abs().min(1.0).acos().to_degrees())
}

fn median(values: impl Iterator<Item = f64>) -> f64 {
    median_of(&mut values.collect::<Vec<f64>>()).unwrap_or(f64::NAN)
}

/// The axis that points up and how it is known; an error is what was seen.
pub(crate) fn tell_up(looks: &[Look]) -> Result<(Up, String), String> {
    let of = |f: &dyn Fn(&Look) -> f64| median(looks.iter().map(f));
    let extent = [0, 1, 2].map(|k| of(&|l| l.extent[k]));
    let low = [0, 1, 2].map(|k| of(&|l| l.low[k]));
    let ends = [0, 1, 2].map(|k| of(&|l| l.ends[k] as f64));
    let name = |k: usize| AXES[k].name();
    let floors: Vec<usize> =
        (0..3).filter(|&k| low[k].abs() <= FLOOR * extent[k] && extent[k] > 0.0).collect();
    let mut by_length = [0, 1, 2];
    by_length.sort_by(|&a, &b| extent[b].total_cmp(&extent[a]));
    let longest = (extent[by_length[0]] >= LONGEST * extent[by_length[1]]).then_some(by_length[0]);
    let seen = || {
        format!(
            "the extents along x, y, z are {:.4}, {:.4}, {:.4} and the lowest points {:.4}, {:.4}, {:.4}",
            extent[0], extent[1], extent[2], low[0], low[1], low[2]
        )
    };
    match (floors.as_slice(), longest) {
        ([floor], Some(longest)) if *floor == longest => Ok((
            AXES[*floor],
            format!("the bodies stand on 0 along {0}, and {0} is the longest axis", name(*floor)),
        )),
        ([floor], None) => Ok((AXES[*floor], format!("the bodies stand on 0 along {}", name(*floor)))),
        ([floor], Some(longest)) => {
            if ends[*floor] >= 2.0 && ends[longest] < 1.5 {
                Ok((
                    AXES[*floor],
                    format!(
                        "the bodies stand on 0 along {} in {} separate places; along the longest axis, {}, they end in one",
                        name(*floor),
                        ends[*floor],
                        name(longest)
                    ),
                ))
            } else {
                Err(format!(
                    "the bodies stand on 0 along {}, but {} is the longest axis; {}",
                    name(*floor),
                    name(longest),
                    seen()
                ))
            }
        }
        (several @ [_, _, ..], Some(longest)) if several.contains(&longest) => Ok((
            AXES[longest],
            format!("{0} is the longest axis, and the bodies stand on 0 along it", name(longest)),
        )),
        ([], Some(longest)) => {
            let along =
                looks.iter().filter(|l| l.principal.0 == longest && l.principal.1 <= TILT_DEG).count();
            if 3 * along >= 2 * looks.len() {
                Ok((
                    AXES[longest],
                    format!(
                        "{} is the longest axis and within 15 degrees of the principal axis",
                        name(longest)
                    ),
                ))
            } else {
                Err(format!(
                    "{} is the longest axis, but the bodies do not lie along it; {}",
                    name(longest),
                    seen()
                ))
            }
        }
        _ => Err(seen()),
    }
}

/// The unit in which a height is that of a body.
pub(crate) fn unit_of(height: f64) -> Option<Unit> {
    [Unit::Mm, Unit::Cm, Unit::M]
        .into_iter()
        .find(|u| u.millimetres().is_some_and(|mm| (HEIGHT_MM[0]..=HEIGHT_MM[1]).contains(&(height * mm))))
}

/// What is said of a unit that was given: that it was, and a doubt where every body looked at would have the height of one in another unit only.
pub(crate) fn doubt_of(looks: &[Look], up: Up, given: Unit) -> String {
    let mut likely = looks.iter().map(|l| unit_of(l.height(up)));
    match (looks.first(), likely.next().flatten()) {
        (Some(look), Some(unit)) if unit != given && likely.all(|u| u == Some(unit)) => format!(
            "given, but bodies {:.4} high are those of files in {}: if this is a mistake, import again with --unit {}",
            look.height(up),
            unit.name(),
            unit.name()
        ),
        _ => "given".to_owned(),
    }
}

/// The unit and how it is known; an error is what was seen.
pub(crate) fn tell_unit(looks: &[Look], names: &[String], up: Up) -> Result<(Unit, String), (usize, String)> {
    let heights: Vec<f64> = looks.iter().map(|l| l.height(up)).collect();
    let units: Vec<Option<Unit>> = heights.iter().map(|&h| unit_of(h)).collect();
    let count = |unit: Option<Unit>| units.iter().filter(|u| **u == unit).count();
    let most =
        [Some(Unit::Mm), Some(Unit::Cm), Some(Unit::M), None].into_iter().max_by_key(|&u| count(u)).flatten();
    match most {
        Some(unit) if 3 * count(most) >= 2 * looks.len() => {
            let height = median(heights.iter().zip(&units).filter(|(_, u)| **u == most).map(|(h, _)| *h));
            let metres = height * unit.millimetres().unwrap_or(1.0) / 1000.0;
            Ok((
                unit,
                format!(
                    "bodies of {height:.4} along {} are {metres:.3} m tall in {}",
                    up.name(),
                    unit.name()
                ),
            ))
        }
        Some(unit) => {
            let other = units.iter().position(|u| *u != most).unwrap_or(0);
            let one = units.iter().position(|u| *u == most).unwrap_or(0);
            Err((
                other,
                format!(
                    "its height is {:.4}, but {} is {:.4} tall, which is a body in {}: the files look like a mixture of units",
                    heights[other],
                    names[one],
                    heights[one],
                    unit.name()
                ),
            ))
        }
        None => Err((
            units.iter().position(Option::is_none).unwrap_or(0),
            format!(
                "heights of {:.4} along {} are not those of a body of 0.4 to 2.3 m in mm, cm or m",
                median(heights.iter().copied()),
                up.name()
            ),
        )),
    }
}

/// One shape of a file in mm with z up; what is [`Unit::Auto`] or [`Up::Auto`] is told from this shape alone.
///
/// # Errors
/// Why it cannot be told, in words for a person.
pub fn to_mm_z_up(positions: &[Point], unit: Unit, up: Up) -> Result<Vec<Point>, String> {
    let unclear = |what: &str| format!("{what} cannot be determined from this shape; give it");
    let look = Look::at(positions).ok_or_else(|| unclear("its size"))?;
    let up = if up == Up::Auto { tell_up(std::slice::from_ref(&look))?.0 } else { up };
    let unit = match unit {
        Unit::Auto => unit_of(look.height(up)).ok_or_else(|| unclear("its unit"))?,
        given => given,
    };
    let conversion = Conversion::new(unit, up).ok_or_else(|| unclear("its unit or height axis"))?;
    Ok(positions.iter().map(|&p| conversion.apply(p)).collect())
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Boxes filled with points: (low corner, high corner).
    fn boxes(all: &[([f64; 3], [f64; 3])]) -> Vec<Point> {
        let mut points = Vec::new();
        for (low, high) in all {
            for i in 0..=10 {
                for j in 0..=10 {
                    for k in 0..=10 {
                        let t = [i, j, k].map(|n| f64::from(n) / 10.0);
                        points.push([0, 1, 2].map(|c| low[c] + t[c] * (high[c] - low[c])));
                    }
                }
            }
        }
        points
    }

    /// A standing person in metres, z up: two legs, a trunk, a head.
    fn person() -> Vec<Point> {
        boxes(&[
            ([-0.2, -0.05, 0.0], [-0.05, 0.15, 0.8]),
            ([0.05, -0.05, 0.0], [0.2, 0.15, 0.8]),
            ([-0.25, -0.1, 0.8], [0.25, 0.15, 1.45]),
            ([-0.08, -0.1, 1.45], [0.08, 0.1, 1.72]),
        ])
    }

    /// A four-legged animal in metres, z up, longer along y than tall.
    fn animal() -> Vec<Point> {
        boxes(&[
            ([-0.2, -0.7, 0.0], [-0.1, -0.6, 0.9]),
            ([0.1, -0.7, 0.0], [0.2, -0.6, 0.9]),
            ([-0.2, 0.6, 0.0], [-0.1, 0.7, 0.9]),
            ([0.1, 0.6, 0.0], [0.2, 0.7, 0.9]),
            ([-0.25, -0.9, 0.9], [0.25, 0.8, 1.5]),
            ([-0.1, 0.8, 1.2], [0.1, 1.4, 1.7]),
        ])
    }

    fn tell(points: &[Point]) -> Result<Up, String> {
        tell_up(&[Look::at(points).unwrap()]).map(|(up, _)| up)
    }

    fn turned(points: &[Point], by: usize, shift: Point, scale: f64) -> Vec<Point> {
        points.iter().map(|p| [0, 1, 2].map(|k| scale * (p[(k + by) % 3] + shift[(k + by) % 3]))).collect()
    }

    #[test]
    fn people_and_animals_stand_on_their_feet_along_every_axis() {
        for scale in [0.01, 1.0, 1000.0] {
            for (by, up) in [(0, Up::Z), (1, Up::Y), (2, Up::X)] {
                assert_eq!(tell(&turned(&person(), by, [0.0; 3], scale)), Ok(up));
                assert_eq!(tell(&turned(&animal(), by, [0.0; 3], scale)), Ok(up));
                // no floor: a person still lies along the height axis, an animal is asked about
                assert_eq!(tell(&turned(&person(), by, [0.0, 0.0, -0.9], scale)), Ok(up));
                assert!(tell(&turned(&animal(), by, [0.0, 0.0, -0.9], scale)).is_err());
                // in the positive corner of the scanner
                assert_eq!(tell(&turned(&person(), by, [0.25, 0.1, 0.0], scale)), Ok(up));
            }
        }
    }

    #[test]
    fn a_cube_and_a_person_lying_on_the_side_are_asked_about() {
        assert!(tell(&boxes(&[([-1.0; 3], [1.0; 3])])).is_err());
        assert!(tell(&boxes(&[([0.0; 3], [1.0; 3])])).is_err());
        // standing along z without a floor there, but touching 0 with one hand along x
        assert!(tell(&turned(&person(), 0, [0.25, 0.0, -0.9], 1.0)).is_err());
    }

    #[test]
    fn the_unit_follows_from_the_height() {
        let unit = |scale: f64| {
            let looks = [Look::at(&turned(&person(), 0, [0.0; 3], scale)).unwrap()];
            tell_unit(&looks, &["a".to_owned()], Up::Z).map(|(u, _)| u)
        };
        assert_eq!((unit(1.0), unit(100.0), unit(1000.0)), (Ok(Unit::M), Ok(Unit::Cm), Ok(Unit::Mm)));
        assert!(unit(0.1).is_err() && unit(15.0).is_err());
        let mixed: Vec<Look> = [1.0, 1000.0, 1.0, 1.0, 1000.0]
            .iter()
            .map(|&s| Look::at(&turned(&person(), 0, [0.0; 3], s)).unwrap())
            .collect();
        let names: Vec<String> = ["a", "b", "c", "d", "e"].map(String::from).into();
        let (file, reason) = tell_unit(&mixed, &names, Up::Z).unwrap_err();
        assert!(file == 1 && reason.contains("mixture"), "{reason}");
        assert_eq!(tell_unit(&mixed[..4], &names, Up::Z).unwrap().0, Unit::M);
    }

    #[test]
    fn the_principal_axis_of_a_tilted_rod() {
        let (s, c) = 20f64.to_radians().sin_cos();
        let rod: Vec<Point> = (0..100).map(|i| [f64::from(i) * s, 3.0, f64::from(i) * c]).collect();
        let (axis, angle) = principal_axis(&rod);
        assert!(axis == 2 && (angle - 20.0).abs() < 1e-6, "{axis} {angle}");
        assert_eq!(principal_axis(&[[1.0; 3]]), (0, 90.0));
    }
}
