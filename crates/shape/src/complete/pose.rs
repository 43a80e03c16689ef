//! Poses: where a completion starts from, and the ways in which a pose may change.

use formkin_align::{Removes, Transform};
use formkin_geometry::Point;

use crate::ShapeError;

/// The best turn about the vertical and shift, height kept free.
pub(super) fn upright(given: &[Point], target: &[Point]) -> Result<Transform, ShapeError> {
    let n = given.len() as f64;
    let mean = |p: &[Point]| -> Point { std::array::from_fn(|a| p.iter().map(|p| p[a]).sum::<f64>() / n) };
    let (g, t) = (mean(given), mean(target));
    let (mut cos, mut sin) = (0.0, 0.0);
    for (x, m) in given.iter().zip(target) {
        let (x, m) = ([x[0] - g[0], x[1] - g[1]], [m[0] - t[0], m[1] - t[1]]);
        cos += x[0] * m[0] + x[1] * m[1];
        sin += x[0] * m[1] - x[1] * m[0];
    }
    let length = cos.hypot(sin);
    if length.is_nan() || length <= 0.0 {
        return Err(ShapeError::Seen {
            reason: "they are on one vertical line and hold no heading".to_owned(),
        });
    }
    let (c, s) = (cos / length, sin / length);
    let mut transform = Transform {
        rotation: [[c, -s, 0.0], [s, c, 0.0], [0.0, 0.0, 1.0]],
        translation: [0.0; 3],
        scale: 1.0,
    };
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
        let rotation = turned(turn);
        let scale = grow.exp();
        let about = Transform { rotation, translation: [0.0; 3], scale }.apply(centre);
        let translation = std::array::from_fn(|a| centre[a] - about[a] + shift[a]);
        Transform { rotation, translation, scale }.compose(transform)
    }
}

/// The rotation by the vector `w`, in radians (Rodrigues).
fn turned(w: Point) -> [[f64; 3]; 3] {
    let angle = w.iter().map(|x| x * x).sum::<f64>().sqrt();
    let (a, b) =
        if angle < 1e-8 { (1.0, 0.5) } else { (angle.sin() / angle, (1.0 - angle.cos()) / (angle * angle)) };
    let k = [[0.0, -w[2], w[1]], [w[2], 0.0, -w[0]], [-w[1], w[0], 0.0]];
    std::array::from_fn(|i| {
        std::array::from_fn(|j| {
            let square: f64 = (0..3).map(|m| k[i][m] * k[m][j]).sum();
            f64::from(u8::from(i == j)) + a * k[i][j] + b * square
        })
    })
}
