//! Bodies to try things on: closed tubes on one topology, with known sizes or with seeded differences.

use std::f64::consts::TAU;
use std::sync::Arc;

use formkin_geometry::{Point, ShapeArray, Topology};
use formkin_stats::random::stream;
use rand::Rng;

/// The triangles of a closed tube: `rings` rings of `around` vertices from the bottom up, then the lower and the upper pole;
/// outward. `None` under two rings or three vertices around.
#[must_use]
pub fn tube(rings: u32, around: u32) -> Option<Arc<Topology>> {
    let mut triangles = Vec::new();
    let (low, high) = (rings * around, rings * around + 1);
    for a in 0..around {
        let b = (a + 1) % around;
        for r in 0..rings.saturating_sub(1) {
            let (p, q, u, v) = (r * around + a, r * around + b, (r + 1) * around + a, (r + 1) * around + b);
            triangles.extend([[p, q, v], [p, v, u]]);
        }
        let top = rings.saturating_sub(1) * around;
        triangles.extend([[low, b, a], [high, top + a, top + b]]);
    }
    Topology::new(high as usize + 1, triangles).ok().map(Arc::new)
}

/// Positions on [`tube`]: at each ring an ellipse of the half axes that `half` gives for 0 (bottom) to 1 (top), in mm.
#[must_use]
pub fn tube_positions(rings: u32, around: u32, height: f64, half: impl Fn(f64) -> [f64; 2]) -> Vec<Point> {
    let mut positions = Vec::new();
    for r in 0..rings {
        let f = f64::from(r) / f64::from(rings - 1);
        let [x, y] = half(f);
        for a in 0..around {
            let angle = TAU * f64::from(a) / f64::from(around);
            positions.push([x * angle.cos(), y * angle.sin(), f * height]);
        }
    }
    positions.extend([[0.0, 0.0, 0.0], [0.0, 0.0, height]]);
    positions
}

/// Rings and vertices around of [`people`].
pub const RINGS: u32 = 12;
/// See [`RINGS`].
pub const AROUND: u32 = 10;

/// So many seeded people of about 200 vertices, standing anywhere and facing anywhere about the vertical, lean a little.
/// They differ in stature, breadth, depth and waist, and every vertex by 1 mm at random.
#[must_use]
pub fn people(count: usize, seed: u64) -> (Option<Arc<Topology>>, ShapeArray) {
    let mut random = stream(seed, "people of the tests");
    let topology = tube(RINGS, AROUND);
    let mut array = ShapeArray::new((RINGS * AROUND + 2) as usize);
    for _ in 0..count {
        let mut normal = || (0..12).map(|_| random.r#gen::<f64>()).sum::<f64>() - 6.0;
        let (stature, breadth, depth, waist) = (
            1700.0 + 80.0 * normal(),
            170.0 + 14.0 * normal(),
            110.0 + 9.0 * normal(),
            1.0 + 0.08 * normal(),
        );
        let shape = tube_positions(RINGS, AROUND, stature, |f| {
            let belly = 1.0 - 0.5 * f * f + (waist - 1.0) * (-((f - 0.6) / 0.1f64).powi(2)).exp();
            [breadth * belly, depth * belly]
        });
        let (s, c) = (0.5 * normal()).sin_cos();
        let lean = 0.02 * normal();
        let at = [300.0 * normal(), 300.0 * normal(), 10.0 * normal()];
        let moved: Vec<Point> = shape
            .into_iter()
            // The nose: without it a front and a back that are the same would leave the heading undecided.
            .map(|[x, y, z]| [x, if y < 0.0 { 1.3 * y } else { y }, z])
            .map(|[x, y, z]| [x + normal(), y + normal(), z + normal()])
            .map(|[x, y, z]| [x, y + lean * z, z - lean * y])
            .map(|[x, y, z]| [c * x - s * y + at[0], s * x + c * y + at[1], z + at[2]])
            .collect();
        if array.push(&moved).is_err() {
            break;
        }
    }
    (topology, array)
}
