//! Values from outside the project.

use crate::common::{quiet, real};
use formkin_align::kabsch::best_rotation;
use formkin_align::{AlignParams, Removes, Weighting, procrustes_distances};
use formkin_geometry::{Point, ShapeSource};

/// The example of the documentation of scipy.spatial.procrustes: b is a turned, doubled and mirrored. Without reflection the disparity, sin^2(rho), is 24/49 instead
/// of 0 (computed).
#[test]
fn a_mirrored_figure_is_not_mirrored_back() {
    let flat = |p: [[f64; 2]; 4]| -> Vec<Point> { p.iter().map(|p| [p[0], p[1], 0.0]).collect() };
    let a = flat([[1.0, 3.0], [1.0, 2.0], [1.0, 1.0], [2.0, 1.0]]);
    let b = flat([[4.0, -2.0], [4.0, -4.0], [4.0, -6.0], [2.0, -6.0]]);
    let weights = [0.25; 4];
    let d = procrustes_distances(&a, &b, &weights, Removes::Standing).unwrap();
    assert!((d.full * d.full - 24.0 / 49.0).abs() < 1e-12, "{d:?}");
    // mirrored back it is the same figure
    let c = flat([[4.0, 2.0], [4.0, 4.0], [4.0, 6.0], [2.0, 6.0]]);
    let d = procrustes_distances(&a, &c, &weights, Removes::Standing).unwrap();
    assert!(d.full < 1e-12 && d.partial < 1e-12 && d.riemannian < 1e-12, "{d:?}");
    // in space, a plane figure can be turned over
    assert!(procrustes_distances(&a, &b, &weights, Removes::Rigid).unwrap().full < 1e-7);
}

/// The example of the documentation of scipy.linalg.orthogonal_procrustes (read): the sum of singular values of A^T B is 9 for A and its left-right flip. The
/// third singular value is 0, so a rotation reaches the same sum as a reflection.
#[test]
fn the_trace_of_the_best_rotation_is_the_documented_scale() {
    let (a, b) = ([[2.0, 0.0, 1.0], [-2.0, 0.0, 0.0]], [[1.0, 0.0, 2.0], [0.0, 0.0, -2.0]]);
    let cross =
        std::array::from_fn(|i| std::array::from_fn(|k| (0..2).map(|r: usize| a[r][i] * b[r][k]).sum()));
    let found = best_rotation(&cross);
    assert!((found.trace - 9.0).abs() < 1e-12, "{found:?}");
}

/// Sums of squares after rigid alignment with plain weights, computed with numpy and scipy from the same files; there vertices count 1 each and lengths are metres.
#[test]
fn real_sequences_have_the_sums_of_squares_of_the_reference() {
    for (folder, want) in [("mannequin-walk", 1720.5074), ("horse-walk", 1129.8013)] {
        let Some((topology, shapes)) = real(folder) else { return };
        let params = AlignParams { weighting: Weighting::Plain, ..AlignParams::default() };
        let fit = params.fit(&shapes, &topology, None, &quiet).unwrap();
        let found = fit.sum_of_squares_mm2 * shapes.vertices() as f64 * 1e-6;
        assert!((found / want - 1.0).abs() < 1e-5, "{folder}: {found} and not {want}");
    }
}
