//! Lines of non-extension drawn on the skin, where it is stretched most.
//!
//! On a triangle whose larger stretch is above 1 and whose smaller is below 1 two material directions keep their length,
//! tan^2 a = (l1^2 - 1) / (1 - l2^2) from the direction of the larger one ([`crate::Stretch::lines_of_no_extension`]). They are given in the edges of the
//! triangle, so that whoever draws them on a moving body draws the same skin.

use formkin_geometry::vector::{add, cross, dot, norm, scale, sub, unit};
use formkin_geometry::{Point, Topology};
use serde::{Deserialize, Serialize};

use crate::{StrainMap, Stretch};

/// Both stretches must be off 1 by this for a line to be drawn.
const CLEAR: f64 = 0.01;

/// The two lines of non-extension of a triangle in the frame of its largest strain.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SkinLines {
    /// The triangle.
    pub triangle: usize,
    /// The frame in which it is stretched most.
    pub frame: usize,
    /// Two directions of 1 mm on the reference surface, each as a e1 + b e2 with e1 and e2 the edges from the first to the second and to the
    /// third corner.
    pub directions: [[f64; 2]; 2],
}

/// The lines of the triangles that have them, thinned so that no two are nearer than `apart_mm` on the reference pose; the most stretched
/// first. `pose` is the reference pose of the map.
#[must_use]
pub fn skin_lines(map: &StrainMap, topology: &Topology, pose: &[Point], apart_mm: f64) -> Vec<SkinLines> {
    let triangles = topology.triangles();
    let clear = |t: usize| map.peak[t] > CLEAR && map.across_peak[t] < -CLEAR;
    let mut order: Vec<usize> = (0..triangles.len().min(map.peak.len())).filter(|&t| clear(t)).collect();
    order.sort_by(|&a, &b| map.peak[b].total_cmp(&map.peak[a]).then(a.cmp(&b)));
    // places taken, by cells as wide as the distance kept
    let mut taken: std::collections::BTreeMap<[i64; 3], Vec<Point>> = std::collections::BTreeMap::new();
    let cell = |p: Point| p.map(|c| (c / apart_mm.max(1e-6)).floor() as i64);
    let mut found = Vec::new();
    for t in order {
        let [a, b, c] = triangles[t].map(|v| pose[v as usize]);
        let centre = scale(add(add(a, b), c), 1.0 / 3.0);
        let at = cell(centre);
        let near = (-1..=1).flat_map(|i| (-1..=1).flat_map(move |j| (-1..=1).map(move |k| [i, j, k])));
        let crowded = near.into_iter().any(|d| {
            let key = [at[0] + d[0], at[1] + d[1], at[2] + d[2]];
            taken.get(&key).is_some_and(|l| l.iter().any(|&q| norm(sub(q, centre)) < apart_mm))
        });
        if crowded {
            continue;
        }
        let Some(directions) = directions(map, t, [a, b, c]) else { continue };
        taken.entry(at).or_default().push(centre);
        found.push(SkinLines { triangle: t, frame: map.peak_frame[t] as usize, directions });
    }
    found
}

fn directions(map: &StrainMap, t: usize, [a, b, c]: [Point; 3]) -> Option<[[f64; 2]; 2]> {
    let stretches = [1.0 + map.peak[t], 1.0 + map.across_peak[t]];
    let angle = Stretch { stretches, direction: map.peak_direction[t] }.lines_of_no_extension()?;
    let (e1, e2) = (sub(b, a), sub(c, a));
    let normal = unit(cross(e1, e2))?;
    let along = map.peak_direction[t];
    let along = unit(sub(along, scale(normal, dot(along, normal))))?;
    let across = cross(normal, along);
    let (g11, g12, g22) = (dot(e1, e1), dot(e1, e2), dot(e2, e2));
    let gram = g11 * g22 - g12 * g12;
    let in_edges = |d: Point| {
        let (x, y) = (dot(d, e1), dot(d, e2));
        [(g22 * x - g12 * y) / gram, (g11 * y - g12 * x) / gram]
    };
    let line = |sign: f64| in_edges(add(scale(along, angle.cos()), scale(across, sign * angle.sin())));
    let found = [line(1.0), line(-1.0)];
    (gram > 0.0 && found.iter().flatten().all(|v| v.is_finite())).then_some(found)
}

#[cfg(test)]
mod tests {
    use formkin_geometry::ShapeArray;

    use super::*;
    use crate::StrainParams;

    #[test]
    fn the_lines_of_a_stretched_sheet_keep_their_length() {
        // a flat sheet, pulled by 20 % along x and narrowed by 10 %
        let (n, step) = (12, 10.0);
        let sheet: Vec<Point> =
            (0..n * n).map(|i| [step * f64::from(i % n), step * f64::from(i / n), 0.0]).collect();
        let mut triangles = Vec::new();
        for r in 0..n as u32 - 1 {
            for c in 0..n as u32 - 1 {
                let p = r * n as u32 + c;
                triangles.push([p, p + 1, p + n as u32 + 1]);
                triangles.push([p, p + n as u32 + 1, p + n as u32]);
            }
        }
        let topology = Topology::new(sheet.len(), triangles).unwrap();
        let pulled: Vec<Point> = sheet.iter().map(|p| [1.2 * p[0], 0.9 * p[1], 0.0]).collect();
        let mut frames = ShapeArray::new(sheet.len());
        frames.push(&sheet).unwrap();
        frames.push(&pulled).unwrap();
        let params = StrainParams { smoothing_mm: 0.0, ..StrainParams::default() };
        let map = params.map(&frames, &topology, &[], &|_, _| {}).unwrap();
        let lines = skin_lines(&map, &topology, &sheet, 25.0);
        assert!(lines.len() > 6 && lines.len() < 60, "{}", lines.len());
        for l in &lines {
            let [a, b, c] = topology.triangles()[l.triangle];
            for d in l.directions {
                let length = |pose: &[Point]| {
                    let (e1, e2) =
                        (sub(pose[b as usize], pose[a as usize]), sub(pose[c as usize], pose[a as usize]));
                    norm(add(scale(e1, d[0]), scale(e2, d[1])))
                };
                assert!((length(&sheet) - 1.0).abs() < 1e-9 && (length(&pulled) - 1.0).abs() < 1e-9);
            }
        }
    }
}
