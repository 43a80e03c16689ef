//! The route by cross moments against the route by meshes.

use crate::common::{body, pick, quiet, rms, shapes};
use formkin_align::weights::plain_weights;
use formkin_align::{AlignError, AlignParams, CrossMoments, Removes, Weighting, align_one};
use formkin_geometry::{Point, ShapeSource};

fn inner(a: &[Point], b: &[Point], mean: &[Point]) -> f64 {
    let terms = a.iter().zip(b).zip(mean);
    terms.map(|((p, q), m)| (0..3).map(|k| (p[k] - m[k]) * (q[k] - m[k])).sum::<f64>()).sum::<f64>()
        / mean.len() as f64
}

#[test]
fn subsets_and_shapes_left_out_agree_with_the_meshes() {
    let (topology, base) = body(15, 20);
    let source = shapes(24, &base, 20.0, 0.4, 7);
    let members: Vec<usize> = (0..24).filter(|i| i % 4 != 1).collect();
    for removes in [Removes::Rigid, Removes::Similarity, Removes::Standing] {
        // tight, so that both end in the same place
        let params = AlignParams {
            removes,
            weighting: Weighting::Plain,
            relative_tolerance: 1e-13,
            mean_tolerance_mm: 1e-5,
            ..AlignParams::default()
        };
        let moments = CrossMoments::of(&source, &plain_weights(base.len()), removes, &quiet).unwrap();
        assert_eq!(moments.shapes(), 24);
        let quick = moments.align(&members, &params).unwrap();
        let subset = pick(&source, &members);
        let slow = params.fit(&subset, &topology, None, &quiet).unwrap();
        assert!((quick.sum_of_squares_mm2 / slow.sum_of_squares_mm2 - 1.0).abs() < 1e-7, "{removes:?}");
        let aligned: Vec<Vec<Point>> =
            (0..members.len()).map(|i| slow.aligned(&subset).read_shape(i).unwrap()).collect();
        let gram = quick.gram();
        for i in 0..members.len() {
            for j in 0..members.len() {
                let want = inner(&aligned[i], &aligned[j], &slow.mean);
                assert!(
                    (gram[[i, j]] - want).abs() < 1e-6 * (gram[[i, i]] * gram[[j, j]]).sqrt(),
                    "{removes:?} {i} {j}: {} and not {want}",
                    gram[[i, j]]
                );
            }
        }
        for held in [1, 5, 21] {
            let found = quick.hold_out(held).unwrap();
            let mut x = source.shape(held).to_vec();
            align_one(&x, &slow.mean, &slow.weights, removes).unwrap().apply_all(&mut x);
            assert!((found.square_mm2.sqrt() - rms(&x, &slow.mean)).abs() < 1e-3);
            for (product, other) in found.products_mm2.iter().zip(&aligned) {
                let tolerance = 1e-6 * (found.square_mm2 * inner(other, other, &slow.mean)).sqrt();
                assert!((product - inner(&x, other, &slow.mean)).abs() < tolerance, "{removes:?}");
            }
        }
    }
}

#[test]
fn threads_do_not_show_and_requests_are_checked() {
    let (_, base) = body(30, 40);
    let source = shapes(12, &base, 20.0, 0.4, 7);
    let with = |threads| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
        pool.install(|| {
            CrossMoments::of(&source, &plain_weights(base.len()), Removes::Rigid, &quiet).unwrap()
        })
    };
    let moments = with(1);
    assert_eq!(moments, with(4));
    let params = AlignParams::default();
    assert!(matches!(
        moments.align(&[0, 12], &params),
        Err(AlignError::NoSuchShape { shape: 12, shapes: 12 })
    ));
    assert!(matches!(moments.align(&[], &params), Err(AlignError::NoShapes)));
    assert!(moments.align(&[3], &params).unwrap().sum_of_squares_mm2 < 1e-6);
    assert!(CrossMoments::of(&source, &[1.0], Removes::Rigid, &quiet).is_err());
}
