//! Poses: where a completion starts from, and the ways in which a pose may change.

use formkin_align::{Removes, Transform};
use formkin_geometry::Point;
use formkin_geometry::kabsch::best_heading;
use formkin_geometry::rotation::about;
use formkin_geometry::vector::{add_outer, sub};

use crate::ShapeError;
use crate::fault::SeenFault;

/// The best turn about the vertical and shift, height kept free.
pub(super) fn upright(given: &[Point], target: &[Point]) -> Result<Transform, ShapeError> {
    let n = given.len() as f64;
    let mean = |p: &[Point]| -> Point { std::array::from_fn(|a| p.iter().map(|p| p[a]).sum::<f64>() / n) };
    let (g, t) = (mean(given), mean(target));
    let mut cross = [[0.0; 3]; 3];
    for (x, m) in given.iter().zip(target) {
        add_outer(&mut cross, 1.0, sub(*x, g), sub(*m, t));
    }
    let heading = best_heading(&cross);
    if heading.distinctness.is_nan() || heading.distinctness <= 0.0 {
        return Err(SeenFault::NoHeading.into());
    }
    let mut transform = Transform { rotation: heading.rotation, ..Transform::default() };
    let moved = transform.apply(g);
    transform.translation = std::array::from_fn(|a| t[a] - moved[a]);
    Ok(transform)
}

/// A way in which a pose may change.
#[derive(Debug, Clone, Copy)]
pub(super) enum Move {
    Shift(usize),
    Turn(usize),
    Grow,
}

impl Move {
    /// The displacement of a point for one unit: 1 mm at the centre, or at the distance of the lever.
    pub(super) fn at(self, p: Point, centre: Point, lever: f64) -> Point {
        let d: Point = std::array::from_fn(|a| (p[a] - centre[a]) / lever);
        match self {
            Self::Shift(a) => std::array::from_fn(|k| f64::from(u8::from(k == a))),
            Self::Turn(0) => [0.0, -d[2], d[1]],
            Self::Turn(1) => [d[2], 0.0, -d[0]],
            Self::Turn(_) => [-d[1], d[0], 0.0],
            Self::Grow => d,
        }
    }
}

pub(super) struct Pose {
    pub(super) moves: Vec<Move>,
}

impl Pose {
    pub(super) fn of(removes: Removes) -> Self {
        let shifts = [Move::Shift(0), Move::Shift(1), Move::Shift(2)];
        let others: &[Move] = match removes {
            Removes::Standing => &[Move::Turn(2)],
            Removes::Rigid => &[Move::Turn(0), Move::Turn(1), Move::Turn(2)],
            Removes::Similarity => &[Move::Turn(0), Move::Turn(1), Move::Turn(2), Move::Grow],
        };
        Self { moves: shifts.into_iter().chain(others.iter().copied()).collect() }
    }

    /// The transform after a step: what is laid is shifted, turned and scaled about the centre.
    pub(super) fn moved(&self, transform: &Transform, step: &[f64], centre: Point, lever: f64) -> Transform {
        let (mut shift, mut turn, mut grow) = ([0.0; 3], [0.0; 3], 0.0f64);
        for (m, s) in self.moves.iter().zip(step) {
            match m {
                Move::Shift(a) => shift[*a] = *s,
                Move::Turn(a) => turn[*a] = s / lever,
                Move::Grow => grow = s / lever,
            }
        }
        let rotation = about(turn);
        let scale = grow.exp();
        let moved = Transform { rotation, translation: [0.0; 3], scale }.apply(centre);
        let translation = std::array::from_fn(|a| centre[a] - moved[a] + shift[a]);
        Transform { rotation, translation, scale }.compose(transform)
    }
}
