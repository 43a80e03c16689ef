//! Whether numbered files show one body that moves, or different people.

use std::path::Path;

use formkin_geometry::vector::{norm, sub};

use crate::read::RawMesh;
use crate::read_mesh;

/// Runs of triangles, in the order of the file, over which lengths are summed: enough to even out noise, few enough to stay
/// local.
const PATCHES: usize = 32;
const PAIRS: usize = 8;
/// Mean difference of lengths up to which two surfaces are the same body. From frame to frame a moving body keeps them
/// within 1 %; people who differ by 4 % in height or girth, less than the usual differences, are above it (measured on
/// sequences and invented people; no source).
const SAME: f64 = 0.02;

/// Samples pairs of neighbouring numbers: the same body in at least four of five. `files` are in order of their numbers.
/// Files that cannot be read do not count; where none of the pairs can be read the answer is no.
pub(crate) fn same_body(files: &[(u32, &Path)]) -> bool {
    let neighbours: Vec<usize> = (1..files.len()).filter(|&i| files[i].0 == files[i - 1].0 + 1).collect();
    let step = neighbours.len().div_ceil(PAIRS).max(1);
    let (mut same, mut seen) = (0, 0);
    for &i in neighbours.iter().step_by(step) {
        if let (Ok(a), Ok(b)) = (read_mesh(files[i - 1].1), read_mesh(files[i].1)) {
            seen += 1;
            same += usize::from(difference(&a, &b) < SAME);
        }
    }
    seen > 0 && 5 * same >= 4 * seen
}

/// Mean |ln(a / b)| of the summed lengths of the sides in every patch, apart for sides that run mostly along x, y and z in the
/// first surface, weighted with the lengths. Summing within a patch evens out noise; keeping directions apart tells a tall
/// thin body from a short wide one of the same area. Infinite for different triangles.
fn difference(a: &RawMesh, b: &RawMesh) -> f64 {
    if a.triangles != b.triangles || a.positions.len() != b.positions.len() {
        return f64::INFINITY;
    }
    let size = a.triangles.len().div_ceil(PATCHES);
    let (mut sum, mut total) = (0.0, 0.0);
    for patch in a.triangles.chunks(size) {
        let mut lengths = [[0.0; 2]; 3];
        for t in patch {
            for k in 0..3 {
                let (from, to) = (t[k] as usize, t[(k + 1) % 3] as usize);
                let side = sub(a.positions[to], a.positions[from]);
                let along = (0..3).max_by(|&i, &j| side[i].abs().total_cmp(&side[j].abs())).unwrap_or(0);
                lengths[along][0] += norm(side);
                lengths[along][1] += norm(sub(b.positions[to], b.positions[from]));
            }
        }
        for [a, b] in lengths {
            if a > 0.0 {
                sum += a * (b / a).ln().abs();
                total += a;
            }
        }
    }
    let mean = sum / total;
    if mean.is_finite() { mean } else { f64::INFINITY }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A grid of points on a cylinder of this radius and height.
    fn cylinder(radius: f64, height: f64, lean: f64) -> RawMesh {
        let (rows, around) = (40u32, 24u32);
        let at = |r: u32, a: u32| r * around + a % around;
        let positions = (0..rows)
            .flat_map(|r| {
                (0..around).map(move |a| {
                    let angle = std::f64::consts::TAU * f64::from(a) / f64::from(around);
                    let z = height * f64::from(r) / f64::from(rows - 1);
                    [radius * angle.cos() + lean * z * z / height, radius * angle.sin(), z]
                })
            })
            .collect();
        let triangles = (0..rows - 1)
            .flat_map(|r| {
                (0..around).flat_map(move |a| {
                    [[at(r, a), at(r, a + 1), at(r + 1, a + 1)], [at(r, a), at(r + 1, a + 1), at(r + 1, a)]]
                })
            })
            .collect();
        RawMesh { positions, triangles }
    }

    #[test]
    fn leaning_keeps_the_body_and_the_same_area_does_not() {
        let body = cylinder(150.0, 1700.0, 0.0);
        assert!(difference(&body, &cylinder(150.0, 1700.0, 0.03)) < SAME / 2.0);
        assert!(difference(&body, &cylinder(150.0 / 1.04, 1700.0 * 1.04, 0.0)) > SAME);
        assert!(difference(&body, &cylinder(160.0, 1700.0, 0.0)) > SAME);
        let mut other = body.clone();
        other.triangles.swap(0, 1);
        assert_eq!(difference(&body, &other), f64::INFINITY);
    }
}
