//! What the benches are timed against: each task as one would write it first, correct and in a few lines. The benches check that both come to the
//! same numbers before they time them.

use formkin_geometry::{Point, Topology};
use nalgebra::{DMatrix, Matrix3, Vector3};

/// Reads the positions and triangles of an OBJ, line by line and word by word.
#[must_use]
pub fn plain_obj(text: &str) -> (Vec<Point>, Vec<[u32; 3]>) {
    let (mut positions, mut triangles) = (Vec::new(), Vec::new());
    for line in text.lines() {
        let words: Vec<&str> = line.split_whitespace().collect();
        match words.as_slice() {
            ["v", rest @ ..] => {
                let c: Vec<f64> = rest.iter().filter_map(|w| w.parse().ok()).collect();
                positions.push([c[0], c[1], c[2]]);
            }
            ["f", rest @ ..] => {
                let v: Vec<u32> = rest.iter().filter_map(|w| w.split('/').next()?.parse().ok()).collect();
                triangles.push([v[0] - 1, v[1] - 1, v[2] - 1]);
            }
            _ => {}
        }
    }
    (positions, triangles)
}

/// Generalised Procrustes alignment (rigid, plain weights) and principal components, with all shapes in memory and the matrix of
/// their differences decomposed as a whole. The variances, largest first, in mm2 with weights that sum to 1.
#[must_use]
pub fn plain_space(shapes: &[Vec<Point>]) -> Vec<f64> {
    let centred = |shape: &Vec<Point>| -> Vec<Vector3<f64>> {
        let points: Vec<Vector3<f64>> = shape.iter().map(|&p| Vector3::from(p)).collect();
        let centre = points.iter().sum::<Vector3<f64>>() / points.len() as f64;
        points.iter().map(|p| p - centre).collect()
    };
    let mut shapes: Vec<Vec<Vector3<f64>>> = shapes.iter().map(centred).collect();
    let (n, vertices) = (shapes.len(), shapes[0].len());
    let mut mean = shapes[0].clone();
    let mut before = f64::INFINITY;
    for _ in 0..100 {
        for shape in &mut shapes {
            let cross: Matrix3<f64> = shape.iter().zip(&mean).map(|(p, m)| m * p.transpose()).sum();
            let svd = cross.svd(true, true);
            let (Some(u), Some(vt)) = (svd.u, svd.v_t) else { continue };
            let sign = (u * vt).determinant().signum();
            let rotation = u * Matrix3::from_diagonal(&Vector3::new(1.0, 1.0, sign)) * vt;
            shape.iter_mut().for_each(|p| *p = rotation * *p);
        }
        for (v, m) in mean.iter_mut().enumerate() {
            *m = shapes.iter().map(|s| s[v]).sum::<Vector3<f64>>() / n as f64;
        }
        let left: f64 =
            shapes.iter().flat_map(|s| s.iter().zip(&mean).map(|(p, m)| (p - m).norm_squared())).sum();
        if (before - left).abs() < 1e-8 * left {
            break;
        }
        before = left;
    }
    let differences =
        DMatrix::from_fn(3 * vertices, n, |row, i| shapes[i][row / 3][row % 3] - mean[row / 3][row % 3]);
    let values = differences.svd(false, false).singular_values;
    let mut variances: Vec<f64> = values.iter().map(|s| s * s / (n - 1) as f64 / vertices as f64).collect();
    variances.sort_by(|a, b| b.total_cmp(a));
    variances
}

/// The length of the section of a surface by a horizontal plane: every triangle is looked at by itself.
#[must_use]
pub fn plain_section_length(topology: &Topology, positions: &[Point], height: f64) -> f64 {
    let mut length = 0.0;
    for t in topology.triangles() {
        let corners = t.map(|v| positions[v as usize]);
        let mut ends: Vec<Point> = Vec::new();
        for k in 0..3 {
            let (a, b) = (corners[k], corners[(k + 1) % 3]);
            if (a[2] < height) != (b[2] < height) {
                let f = (height - a[2]) / (b[2] - a[2]);
                ends.push(std::array::from_fn(|c| a[c] + f * (b[c] - a[c])));
            }
        }
        if let [a, b] = ends.as_slice() {
            length += formkin_geometry::vector::distance(*a, *b);
        }
    }
    length
}

/// The best of so many starts of Lloyd's rounds from random points; the sum of squared distances.
#[must_use]
pub fn plain_k_means(points: &[Vec<f64>], k: usize, starts: usize) -> f64 {
    let distance2 = |a: &[f64], b: &[f64]| a.iter().zip(b).map(|(x, y)| (x - y).powi(2)).sum::<f64>();
    let mut best = f64::INFINITY;
    for start in 0..starts {
        let mut centres: Vec<Vec<f64>> = (0..k)
            .map(|c| points[(start * 7919 + c * 104_729 + c * c * 31) % points.len()].clone())
            .collect();
        loop {
            let nearest = |p: &Vec<f64>| {
                (0..k)
                    .min_by(|&a, &b| distance2(p, &centres[a]).total_cmp(&distance2(p, &centres[b])))
                    .unwrap_or(0)
            };
            let labels: Vec<usize> = points.iter().map(nearest).collect();
            let moved: Vec<Vec<f64>> = (0..k)
                .map(|c| {
                    let members: Vec<&Vec<f64>> =
                        points.iter().zip(&labels).filter(|(_, l)| **l == c).map(|(p, _)| p).collect();
                    if members.is_empty() {
                        return centres[c].clone();
                    }
                    (0..centres[c].len())
                        .map(|d| members.iter().map(|p| p[d]).sum::<f64>() / members.len() as f64)
                        .collect()
                })
                .collect();
            if moved == centres {
                break;
            }
            centres = moved;
        }
        let inertia = points
            .iter()
            .map(|p| centres.iter().map(|c| distance2(p, c)).fold(f64::INFINITY, f64::min))
            .sum::<f64>();
        best = best.min(inertia);
    }
    best
}
