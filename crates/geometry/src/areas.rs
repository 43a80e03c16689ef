//! Areas, vertex areas, normals, volume and centroid size.

use crate::vector::{cross, dot, norm, scale, sub, unit};
use crate::{Point, Topology};

/// The vector area of a triangle: half the vector product of two sides, in mm2, along the outward normal.
#[inline]
#[must_use]
pub fn vector_area(a: Point, b: Point, c: Point) -> Point {
    scale(cross(sub(b, a), sub(c, a)), 0.5)
}

fn corners(positions: &[Point], t: [u32; 3]) -> [Point; 3] {
    t.map(|v| positions[v as usize])
}

/// The area of every triangle, in mm2.
#[must_use]
pub fn triangle_areas(topology: &Topology, positions: &[Point]) -> Vec<f64> {
    topology
        .triangles()
        .iter()
        .map(|&t| {
            let [a, b, c] = corners(positions, t);
            norm(vector_area(a, b, c))
        })
        .collect()
}

/// The area of the surface, in mm2.
#[must_use]
pub fn area(topology: &Topology, positions: &[Point]) -> f64 {
    triangle_areas(topology, positions).iter().sum()
}

/// One third of the areas of the adjacent triangles of every vertex, in mm2. They add up to the area of the surface.
#[must_use]
pub fn vertex_areas(topology: &Topology, positions: &[Point]) -> Vec<f64> {
    let mut areas = vec![0.0; topology.vertices()];
    for (&t, area) in topology.triangles().iter().zip(triangle_areas(topology, positions)) {
        for v in t {
            areas[v as usize] += area / 3.0;
        }
    }
    areas
}

/// The signed volume in mm3, positive where triangles run counter-clockwise seen from outside:
/// (1/6) sum a . (b x c) over the triangles (the divergence theorem). It means something for closed surfaces only.
#[must_use]
pub fn volume(topology: &Topology, positions: &[Point]) -> f64 {
    // about a point of the surface, so that a body far from the origin loses no digits
    let o = positions.first().copied().unwrap_or_default();
    topology
        .triangles()
        .iter()
        .map(|&t| {
            let [a, b, c] = corners(positions, t).map(|p| sub(p, o));
            dot(a, cross(b, c)) / 6.0
        })
        .sum()
}

/// Unit normals of the vertices, each the direction of the sum of the adjacent vector areas; zero where that sum is.
#[must_use]
pub fn vertex_normals(topology: &Topology, positions: &[Point]) -> Vec<Point> {
    let mut normals = vec![[0.0; 3]; topology.vertices()];
    for &t in topology.triangles() {
        let [a, b, c] = corners(positions, t);
        let n = vector_area(a, b, c);
        for v in t {
            for k in 0..3 {
                normals[v as usize][k] += n[k];
            }
        }
    }
    normals.into_iter().map(|n| unit(n).unwrap_or([0.0; 3])).collect()
}

/// The weighted mean position, in mm: sum w_i x_i / sum w_i.
#[must_use]
pub fn centroid(positions: &[Point], weights: &[f64]) -> Point {
    let mut sum = [0.0; 3];
    let mut total = 0.0;
    for (p, w) in positions.iter().zip(weights) {
        total += w;
        for k in 0..3 {
            sum[k] += w * p[k];
        }
    }
    scale(sum, 1.0 / total)
}

/// The weighted centroid size in mm (Dryden & Mardia): sqrt(sum w_i |x_i - centroid|^2). With unit weights it is the
/// classical centroid size; with weights that sum to 1, a root mean square distance that does not depend on the density of the mesh.
#[must_use]
pub fn centroid_size(positions: &[Point], weights: &[f64]) -> f64 {
    let c = centroid(positions, weights);
    positions
        .iter()
        .zip(weights)
        .map(|(&p, w)| {
            let d = sub(p, c);
            w * dot(d, d)
        })
        .sum::<f64>()
        .sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A cube of side 2 about (10, 20, 30), twelve triangles, outward.
    fn cube() -> (Topology, Vec<Point>) {
        let p = (0..8u32)
            .map(|i| [9.0 + 2.0 * f64::from(i & 1), 19.0 + f64::from(i & 2), 29.0 + f64::from(i & 4) / 2.0])
            .collect();
        let quads = [[0, 2, 3, 1], [4, 5, 7, 6], [0, 1, 5, 4], [2, 6, 7, 3], [0, 4, 6, 2], [1, 3, 7, 5]];
        let t = quads.iter().flat_map(|&[a, b, c, d]| [[a, b, c], [a, c, d]]).collect();
        (Topology::new(8, t).unwrap(), p)
    }

    #[test]
    fn a_cube_has_the_area_volume_and_centroid_size_of_a_cube() {
        let (t, p) = cube();
        assert!(t.summary().watertight);
        assert!((area(&t, &p) - 24.0).abs() < 1e-12);
        assert!((volume(&t, &p) - 8.0).abs() < 1e-12);
        assert!((vertex_areas(&t, &p).iter().sum::<f64>() - 24.0).abs() < 1e-12);
        assert!((centroid_size(&p, &[1.0; 8]) - 24f64.sqrt()).abs() < 1e-12);
        assert_eq!(centroid(&p, &[0.125; 8]), [10.0, 20.0, 30.0]);
    }

    #[test]
    fn normals_point_outward_and_a_turned_surface_has_negative_volume() {
        let (t, p) = cube();
        for (n, x) in vertex_normals(&t, &p).iter().zip(&p) {
            assert!(dot(*n, sub(*x, [10.0, 20.0, 30.0])) > 0.0);
        }
        let turned = Topology::new(8, t.triangles().iter().map(|&[a, b, c]| [a, c, b]).collect()).unwrap();
        assert!((volume(&turned, &p) + 8.0).abs() < 1e-12);
    }
}
