//! linfa-reduction as a referee: directions of principal components, and the diffusion map of a ring. Its variances are not compared.

use formkin_stats::diffusion::diffusion_map;
use formkin_stats::gram::add_gram;
use formkin_stats::random::stream;
use formkin_stats::symmetric::symmetric_eigen;
use linfa::DatasetBase;
use linfa::traits::{Fit, Transformer};
use linfa_kernel::{Kernel, KernelMethod, KernelType};
use linfa_reduction::{DiffusionMap, Pca};
use ndarray::{Array2, Axis};
use rand::Rng;

#[test]
fn principal_directions_are_those_of_linfa() {
    let mut rng = stream(9, "principal directions");
    let sizes = [5.0, 3.0, 1.5, 0.4, 0.2];
    let scores = Array2::from_shape_fn((120, 5), |(_, j)| sizes[j] * rng.gen_range(-1.0..1.0));
    let mix = Array2::from_shape_fn((5, 5), |_| rng.gen_range(-1.0..1.0));
    let x = scores.dot(&mix);
    let centred = &x - &x.mean_axis(Axis(0)).unwrap();
    let mut scatter = Array2::zeros((5, 5));
    add_gram(&mut scatter, centred.t(), centred.t()).unwrap();
    let own = symmetric_eigen(&scatter).unwrap();
    let theirs = Pca::params(3).fit(&DatasetBase::from(x)).unwrap();
    for (k, direction) in theirs.components().outer_iter().enumerate() {
        let cos = direction.dot(&own.vectors.column(k)).abs();
        assert!((cos - 1.0).abs() < 1e-8, "component {k}: |cos| {cos}");
    }
}

/// On a ring of equal steps all points have as many neighbours, so that both ways of weighing them agree: the first two coordinates are cosine and sine.
#[test]
fn a_ring_has_the_diffusion_map_of_linfa() {
    let n = 10;
    let ring = Array2::from_shape_fn((n, 2), |(i, c)| {
        let a = std::f64::consts::TAU * i as f64 / n as f64;
        [a.cos(), a.sin()][c]
    });
    let squares = Array2::from_shape_fn((n, n), |(i, j)| {
        (0..2).map(|c| (ring[[i, c]] - ring[[j, c]]).powi(2)).sum::<f64>()
    });
    let own = diffusion_map(squares.view(), 2, Some(0.5)).unwrap();
    let kernel =
        Kernel::params().kind(KernelType::Dense).method(KernelMethod::Gaussian(0.5)).transform(ring.view());
    let theirs = DiffusionMap::<f64>::params(2).steps(1).transform(&kernel).unwrap();
    for column in theirs.embedding().columns() {
        let whole = column.dot(&column);
        // our two coordinates are orthogonal and of one length
        let seen: f64 =
            own.coordinates.columns().into_iter().map(|c| c.dot(&column).powi(2) / c.dot(&c)).sum();
        assert!((seen / whole - 1.0).abs() < 1e-9, "{seen} of {whole}");
    }
}
