//! Apparent surface strain of each triangle against a reference pose.
//!
//! The edges of a triangle in its own plane are D = [D1 D2] in the reference pose and d = [d1 d2] in the frame; F = d D^-1 takes one to the other.
//! C = F^T F has the eigenvalues l1^2 >= l2^2 with the principal stretches l1, l2 (lengths over reference lengths) along the directions
//! that are stretched most and least. Engineering strain is l - 1; Green strain (l^2 - 1) / 2, the eigenvalues of E = (C - I) / 2
//! (Bonet & Wood, *Nonlinear Continuum Mechanics for Finite Element Analysis*, from memory). Both are of the triangle in its
//! plane, so that bending does not count.
//!
//! It is called apparent: vertices that slide along the skin cannot be told from skin that stretches. A slip of 1 mm across an
//! edge of 6 mm reads as 16 %.

use formkin_geometry::vector::{add, cross, dot, norm, scale, sub, unit};
use formkin_geometry::{Point, Topology};
use rayon::prelude::*;
use serde::{Deserialize, Serialize};

use crate::MotionError;

/// Strain of one triangle in one frame, against the reference pose.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Stretch {
    /// Principal stretches, the larger first: length over reference length. 1 is none.
    pub stretches: [f64; 2],
    /// The unit direction, on the reference surface, that is stretched by the larger of the two. Where both are equal any direction is,
    /// and this is the triangle's first edge.
    pub direction: Point,
}

impl Stretch {
    /// Engineering strains: stretch - 1, the larger first.
    #[must_use]
    pub fn engineering(&self) -> [f64; 2] {
        self.stretches.map(|l| l - 1.0)
    }

    /// Green strains: (stretch^2 - 1) / 2, the larger first.
    #[must_use]
    pub fn green(&self) -> [f64; 2] {
        self.stretches.map(|l| 0.5 * (l * l - 1.0))
    }

    /// Area over reference area: the product of the stretches.
    #[must_use]
    pub fn area_ratio(&self) -> f64 {
        self.stretches[0] * self.stretches[1]
    }

    /// The angle from the direction of the larger stretch, in radians, of the two lines along which no length changes:
    /// tan^2 = (l1^2 - 1) / (1 - l2^2). `None` where there are no such lines, which exist where l2 < 1 < l1 only.
    #[must_use]
    pub fn lines_of_no_extension(&self) -> Option<f64> {
        let [l1, l2] = self.stretches;
        (l2 < 1.0 && l1 > 1.0).then(|| ((l1 * l1 - 1.0) / (1.0 - l2 * l2)).sqrt().atan())
    }
}

/// The reference pose of a strain analysis: for every triangle the inverse of its edges in its own plane.
#[derive(Debug, Clone)]
pub struct StrainReference {
    triangles: Vec<Reference>,
    vertices: usize,
}

#[derive(Debug, Clone, Copy)]
struct Reference {
    corners: [usize; 3],
    /// Unit axes in the triangle's plane: the first along its first edge.
    axes: [Point; 2],
    /// D^-1 row by row; D = [[a, b], [0, c]].
    inverse: [[f64; 2]; 2],
}

impl StrainReference {
    /// Takes a pose as the reference.
    ///
    /// # Errors
    /// [`MotionError::VertexCount`]; [`MotionError::FlatTriangle`] for a triangle without area, or not finite.
    pub fn new(topology: &Topology, pose: &[Point]) -> Result<Self, MotionError> {
        if pose.len() != topology.vertices() {
            return Err(MotionError::VertexCount {
                frames_vertices: pose.len(),
                topology_vertices: topology.vertices(),
            });
        }
        let of = |(triangle, corners): (usize, &[u32; 3])| {
            let corners = corners.map(|v| v as usize);
            let [p, q, r] = corners.map(|v| pose[v]);
            let (e1, e2) = (sub(q, p), sub(r, p));
            let flat = MotionError::FlatTriangle { triangle };
            let Some(x) = unit(e1) else { return Err(flat) };
            let across = sub(e2, scale(x, dot(e2, x)));
            // thinner than this, the directions are rounding
            if norm(across).is_nan() || norm(across) <= 1e-9 * norm(e2) {
                return Err(flat);
            }
            let Some(y) = unit(across) else { return Err(flat) };
            let (a, b, c) = (norm(e1), dot(e2, x), norm(across));
            Ok(Reference { corners, axes: [x, y], inverse: [[1.0 / a, -b / (a * c)], [0.0, 1.0 / c]] })
        };
        let triangles = topology.triangles().iter().enumerate().map(of).collect::<Result<_, _>>()?;
        Ok(Self { triangles, vertices: topology.vertices() })
    }

    /// The strain of every triangle of a frame, in the order of the topology. Rigid motion of the frame makes no difference.
    ///
    /// # Errors
    /// [`MotionError::VertexCount`].
    pub fn strain(&self, frame: &[Point]) -> Result<Vec<Stretch>, MotionError> {
        if frame.len() != self.vertices {
            return Err(MotionError::VertexCount {
                frames_vertices: frame.len(),
                topology_vertices: self.vertices,
            });
        }
        Ok(self.triangles.par_iter().map(|t| t.stretch(frame)).collect())
    }
}

impl StrainReference {
    /// Green strain (e11, e12, e22) of every triangle in its own axes. The frame has as many vertices as the reference pose.
    pub(crate) fn green(&self, frame: &[Point]) -> Vec<[f64; 3]> {
        self.triangles
            .iter()
            .map(|t| {
                let [p, q, r] = t.corners.map(|v| frame[v]);
                let (d1, d2) = (sub(q, p), sub(r, p));
                let [[i11, i12], [_, i22]] = t.inverse;
                let (f1, f2) = (scale(d1, i11), add(scale(d1, i12), scale(d2, i22)));
                [0.5 * (dot(f1, f1) - 1.0), 0.5 * dot(f1, f2), 0.5 * (dot(f2, f2) - 1.0)]
            })
            .collect()
    }

    /// The unit axes in the plane of every triangle of the reference pose.
    pub(crate) fn axes(&self) -> Vec<[Point; 2]> {
        self.triangles.iter().map(|t| t.axes).collect()
    }
}

impl Reference {
    fn stretch(&self, frame: &[Point]) -> Stretch {
        let [p, q, r] = self.corners.map(|v| frame[v]);
        let (d1, d2) = (sub(q, p), sub(r, p));
        // the columns of F as vectors of space: F = [d1 d2] D^-1; C = F^T F needs no axes in the frame
        let [[i11, i12], [_, i22]] = self.inverse;
        let (f1, f2) = (scale(d1, i11), add(scale(d1, i12), scale(d2, i22)));
        let (c11, c12, c22) = (dot(f1, f1), dot(f1, f2), dot(f2, f2));
        let middle = 0.5 * (c11 + c22);
        let radius = (0.5 * (c11 - c22)).hypot(c12);
        let large = (middle + radius).sqrt();
        // l1 l2 = |f1 x f2|: no difference of nearly equal numbers
        let small = if large > 0.0 { norm(cross(f1, f2)) / large } else { 0.0 };
        let angle = if radius > 0.0 { 0.5 * c12.atan2(0.5 * (c11 - c22)) } else { 0.0 };
        let direction = add(scale(self.axes[0], angle.cos()), scale(self.axes[1], angle.sin()));
        Stretch { stretches: [large, small], direction }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A flat patch of many differently shaped triangles in the plane z = 0.
    fn patch() -> (Topology, Vec<Point>) {
        let n = 6u32;
        let points = (0..n * n)
            .map(|i| {
                let (x, y) = (f64::from(i % n), f64::from(i / n));
                [20.0 * x + 3.0 * (7.1 * y + x).sin(), 20.0 * y + 3.0 * (5.3 * x - y).cos(), 0.0]
            })
            .collect();
        let mut t = Vec::new();
        for y in 0..n - 1 {
            for x in 0..n - 1 {
                let i = y * n + x;
                t.push([i, i + 1, i + n + 1]);
                t.push([i, i + n + 1, i + n]);
            }
        }
        (Topology::new((n * n) as usize, t).unwrap(), points)
    }

    /// About the axis (1, 2, 2) / 3 by 1.1 rad, then a shift (Rodrigues' formula).
    fn moved(p: Point) -> Point {
        let k = [1.0 / 3.0, 2.0 / 3.0, 2.0 / 3.0];
        let (s, c) = 1.1f64.sin_cos();
        let turned = add(add(scale(p, c), scale(cross(k, p), s)), scale(k, dot(k, p) * (1.0 - c)));
        add(turned, [500.0, -300.0, 1200.0])
    }

    #[test]
    fn simple_shear_has_its_known_stretches() {
        // stretches of simple shear sqrt(1 + g^2/4) +- g/2 (mechanics textbooks; values from the formula)
        let known = [(1.0, 1.618_034, 0.618_034), (0.5, 1.280_776, 0.780_776), (2.0, 2.414_214, 0.414_214)];
        let (t, rest) = patch();
        let reference = StrainReference::new(&t, &rest).unwrap();
        for (g, l1, l2) in known {
            let frame: Vec<Point> = rest.iter().map(|p| moved([p[0] + g * p[1], p[1], p[2]])).collect();
            for s in reference.strain(&frame).unwrap() {
                assert!((s.stretches[0] - l1).abs() < 1e-6 && (s.stretches[1] - l2).abs() < 1e-6, "{s:?}");
                assert!((s.area_ratio() - 1.0).abs() < 1e-12);
                // C = [[1, g], [g, 1 + g^2]]: the larger stretch lies at tan a = (l1^2 - 1) / g = l1
                assert!((s.direction[1] / s.direction[0] - l1).abs() < 1e-5, "{s:?}");
                // lines of no extension of shear along x: x itself is one of them
                let line = s.lines_of_no_extension().unwrap();
                let a = s.direction[1].atan2(s.direction[0]);
                assert!((a - line).abs() < 1e-6, "{a} {line}");
            }
        }
    }

    #[test]
    fn rigid_motion_has_no_strain() {
        let (t, rest) = patch();
        let reference = StrainReference::new(&t, &rest).unwrap();
        let frame: Vec<Point> = rest.iter().map(|&p| moved(p)).collect();
        for s in reference.strain(&frame).unwrap() {
            assert!(s.engineering().iter().chain(&s.green()).all(|e| e.abs() < 1e-6));
            assert!((norm(s.direction) - 1.0).abs() < 1e-12);
        }
    }

    #[test]
    fn green_and_engineering_strain_of_a_stretch_of_thirty_percent() {
        // l = 1.3: Green .345, engineering .30
        let (t, rest) = patch();
        let reference = StrainReference::new(&t, &rest).unwrap();
        let frame: Vec<Point> = rest.iter().map(|p| moved([1.3 * p[0], p[1], p[2]])).collect();
        for s in reference.strain(&frame).unwrap() {
            assert!((s.green()[0] - 0.345).abs() < 1e-9 && (s.engineering()[0] - 0.3).abs() < 1e-9);
            assert!(s.green()[1].abs() < 1e-9 && (s.direction[0].abs() - 1.0).abs() < 1e-9);
            assert_eq!(s.lines_of_no_extension().is_some(), s.stretches[1] < 1.0);
        }
    }

    #[test]
    fn a_collapsed_frame_has_stretch_zero_and_a_flat_reference_is_an_error() {
        let (t, rest) = patch();
        let reference = StrainReference::new(&t, &rest).unwrap();
        let point = vec![[1.0, 2.0, 3.0]; rest.len()];
        assert!(reference.strain(&point).unwrap().iter().all(|s| s.stretches == [0.0, 0.0]));
        assert!(matches!(StrainReference::new(&t, &point), Err(MotionError::FlatTriangle { triangle: 0 })));
        assert!(matches!(reference.strain(&rest[1..]), Err(MotionError::VertexCount { .. })));
    }
}
