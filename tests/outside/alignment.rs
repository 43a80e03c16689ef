//! Procrustes superposition against published examples.

use formkin_align::kabsch::{best_heading, best_rotation};
use formkin_align::{Removes, procrustes_distances};

/// The documentation example of scipy.spatial.procrustes (R), in the plane z = 0.
const A: [[f64; 3]; 4] = [[1.0, 3.0, 0.0], [1.0, 2.0, 0.0], [1.0, 1.0, 0.0], [2.0, 1.0, 0.0]];
const B: [[f64; 3]; 4] = [[4.0, -2.0, 0.0], [4.0, -4.0, 0.0], [4.0, -6.0, 0.0], [2.0, -6.0, 0.0]];

#[test]
fn a_mirror_image_is_not_the_same_shape() {
    // With reflection the disparity is 0 (R); B is mirrored, and without reflection it is 24/49 (C).
    let d = procrustes_distances(&A, &B, &[0.25; 4], Removes::Standing).unwrap();
    assert!((d.full.powi(2) - 24.0 / 49.0).abs() < 1e-12, "{}", d.full.powi(2));
    assert!((d.full - d.riemannian.sin()).abs() < 1e-12);
    assert!((d.partial - 2.0 * (d.riemannian / 2.0).sin()).abs() < 1e-12);
    // Turned over in space a plane figure is its own mirror image.
    let d = procrustes_distances(&A, &B, &[0.25; 4], Removes::Rigid).unwrap();
    assert!(d.full < 1e-7, "{}", d.full);
}

#[test]
fn a_mirrored_solid_is_not_the_same_shape() {
    // Four corners of a box of sides 1, 2, 3 and their mirror image.
    let solid = [[0.0, 0.0, 0.0], [1.0, 0.0, 0.0], [0.0, 2.0, 0.0], [0.0, 0.0, 3.0]];
    let mirrored = solid.map(|[x, y, z]| [-x, y, z]);
    let d = procrustes_distances(&solid, &mirrored, &[0.25; 4], Removes::Similarity).unwrap();
    // 1 - (s1 + s2 - s3)^2 of the unit cross moment (C: numpy 2.4, singular values of the centred, scaled points).
    assert!((d.full.powi(2) - 0.164_306_932_123).abs() < 1e-9, "{:.12}", d.full.powi(2));
    let turned = solid.map(|[x, y, z]| [5.0 - 2.0 * y, 2.0 * x, 2.0 * z + 7.0]);
    let d = procrustes_distances(&solid, &turned, &[0.25; 4], Removes::Similarity).unwrap();
    assert!(d.full < 1e-7);
}

#[test]
fn the_scale_of_the_orthogonal_procrustes_example() {
    // The documentation example of scipy.linalg.orthogonal_procrustes (R): A against its left-right flip has scale 9.
    let a = [[2.0, 0.0, 1.0], [-2.0, 0.0, 0.0]];
    let mut cross = [[0.0; 3]; 3];
    for row in a {
        let flipped = [row[2], row[1], row[0]];
        for i in 0..3 {
            for k in 0..3 {
                cross[i][k] += row[i] * flipped[k];
            }
        }
    }
    let found = best_rotation(&cross);
    assert!((found.trace - 9.0).abs() < 1e-12, "{}", found.trace);
    let r = found.rotation;
    let det = r[0][0] * (r[1][1] * r[2][2] - r[1][2] * r[2][1])
        - r[0][1] * (r[1][0] * r[2][2] - r[1][2] * r[2][0])
        + r[0][2] * (r[1][0] * r[2][1] - r[1][1] * r[2][0]);
    assert!((det - 1.0).abs() < 1e-12);
    assert!(best_heading(&cross).trace <= found.trace);
}
