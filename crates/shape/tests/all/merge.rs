//! Spaces merged from model files against the fit of all shapes.

#![allow(clippy::unwrap_used)] // helpers of tests are tests

use crate::common::{body, pick, quiet, rms, shapes};
use formkin_align::{AlignParams, Removes, Weighting, align_one};
use formkin_geometry::{Point, ShapeArray, ShapeSource, Topology};
use formkin_shape::merge::merge;
use formkin_shape::{ShapeError, Space, SpaceParams};

fn fit(source: &ShapeArray, topology: &Topology, removes: Removes, modes: Option<usize>) -> Space {
    weighted(source, topology, removes, Weighting::Plain, modes)
}

fn weighted(
    source: &ShapeArray,
    topology: &Topology,
    removes: Removes,
    weighting: Weighting,
    modes: Option<usize>,
) -> Space {
    let align = AlignParams { removes, weighting, ..AlignParams::default() };
    let params = SpaceParams { align, cross_validate: false, max_modes: modes, ..SpaceParams::default() };
    let people: Vec<usize> = (0..source.shapes()).collect();
    params.fit(source, topology, &people, None, &quiet).unwrap().space
}

/// The people of the last laboratory are a tenth larger and broader below.
fn unlike(all: &ShapeArray) -> ShapeArray {
    let mut out = ShapeArray::new(all.vertices());
    for i in 0..all.shapes() {
        let shape = all.read_shape(i).unwrap();
        let larger = |p: &Point| if i < 25 { *p } else { [1.14 * p[0], 1.1 * p[1], 1.1 * p[2]] };
        out.push(&shape.iter().map(larger).collect::<Vec<Point>>()).unwrap();
    }
    out
}

/// Every shape on the first one, on the floor, then turned about the vertical.
fn standing(all: &ShapeArray) -> ShapeArray {
    let first = all.read_shape(0).unwrap();
    let even = vec![1.0 / first.len() as f64; first.len()];
    let mut out = ShapeArray::new(all.vertices());
    for i in 0..all.shapes() {
        let shape = all.read_shape(i).unwrap();
        let pose = align_one(&shape, &first, &even, Removes::Rigid).unwrap();
        let laid: Vec<Point> = shape.iter().map(|p| pose.apply(*p)).collect();
        let floor = laid.iter().map(|p| p[2]).fold(f64::INFINITY, f64::min);
        let (s, c) = (0.2 * i as f64).sin_cos();
        let stood = |p: &Point| [c * p[0] - s * p[1], s * p[0] + c * p[1] + 9.0, p[2] - floor];
        out.push(&laid.iter().map(stood).collect::<Vec<Point>>()).unwrap();
    }
    out
}

#[test]
fn merged_is_pooled() {
    let (topology, base) = body(7, 9);
    let all = shapes(40, &base, 8.0, 0.3, 5);
    let parts: Vec<Vec<usize>> = vec![(0..12).collect(), (12..25).collect(), (25..40).collect()];
    for removes in [Removes::Rigid, Removes::Similarity, Removes::Standing] {
        let all = if removes == Removes::Standing { standing(&all) } else { unlike(&all) };
        let pooled = fit(&all, &topology, removes, None);
        let labs: Vec<Space> = parts
            .iter()
            .map(|p| {
                let own = fit(&pick(&all, p), &topology, removes, None);
                Space::from_safetensors(&own.to_safetensors()).unwrap()
            })
            .collect();
        let merged = merge(&labs, None).unwrap();
        assert_eq!((merged.space.items, merged.space.people), (40, 40));
        assert!(merged.bound.variance_mm2 < 1e-9 && merged.bound.truncated_rms_mm < 1e-6);
        let total = merged.space.total_variance_mm2 / pooled.total_variance_mm2;
        assert!((total - 1.0).abs() < 1e-4, "{removes:?}: {total}");
        for k in 0..12 {
            let ratio = merged.space.variances_mm2[k] / pooled.variances_mm2[k];
            assert!((ratio - 1.0).abs() < 3e-4, "{removes:?} mode {k}: {ratio}");
        }
        // the frames differ by a movement: lay one mean on the other
        let back = pooled.project(&merged.space.mean).unwrap();
        let laid: Vec<_> = merged.space.mean.iter().map(|p| back.transform.apply(*p)).collect();
        assert!(rms(&laid, &pooled.mean) < 0.05, "{}", rms(&laid, &pooled.mean));
    }
}

/// Area weights, which each laboratory takes from its own mean, move the merged variances a few times further from the pooled ones than common weights do.
#[test]
fn area_weights_of_each_laboratory_cost_little() {
    let (topology, base) = body(7, 9);
    let all = shapes(40, &base, 8.0, 0.3, 5);
    let parts: Vec<Vec<usize>> = vec![(0..12).collect(), (12..25).collect(), (25..40).collect()];
    for removes in [Removes::Rigid, Removes::Similarity, Removes::Standing] {
        let all = if removes == Removes::Standing { standing(&unlike(&all)) } else { unlike(&all) };
        // relative errors of the total and the worst of the first 12 variances
        let errors = |weighting: &Weighting| -> (f64, f64) {
            let pooled = weighted(&all, &topology, removes, weighting.clone(), None);
            let own = |p: &Vec<usize>| weighted(&pick(&all, p), &topology, removes, weighting.clone(), None);
            let merged = merge(&parts.iter().map(own).collect::<Vec<Space>>(), None).unwrap().space;
            let off = |a: f64, b: f64| (a / b - 1.0).abs();
            let each = (0..12).map(|k| off(merged.variances_mm2[k], pooled.variances_mm2[k]));
            (off(merged.total_variance_mm2, pooled.total_variance_mm2), each.fold(0.0, f64::max))
        };
        let (plain, area) = (errors(&Weighting::Plain), errors(&Weighting::Area));
        assert!(plain.0 < 3e-5 && plain.1 < 5e-5, "{removes:?}: {plain:?}");
        assert!(area.0 < 5e-5 && area.1 < 2e-4, "{removes:?}: {area:?}");
        assert!(area.1 > plain.1 && area.1 < 6.0 * plain.1, "{removes:?}: {plain:?} {area:?}");
    }
}

#[test]
fn what_the_files_left_out_bounds_the_error() {
    let (topology, base) = body(7, 9);
    let all = shapes(40, &base, 8.0, 0.3, 6);
    let pooled = fit(&all, &topology, Removes::Rigid, None);
    let halves: [Vec<usize>; 2] = [(0..20).collect(), (20..40).collect()];
    let labs: Vec<Space> =
        halves.iter().map(|p| fit(&pick(&all, p), &topology, Removes::Rigid, Some(5))).collect();
    let merged = merge(&labs, None).unwrap();
    // a file knows that it was merged; one that was fitted without holding out is another thing
    let read = Space::from_safetensors(&merged.space.to_safetensors()).unwrap();
    assert!(read.is_merged() && !pooled.is_merged() && read.stability_asked_modes() == 0);
    let slack = 2e-3 * pooled.variances_mm2[0];
    for (k, found) in merged.space.variances_mm2.iter().enumerate() {
        let over = pooled.variances_mm2[k] - found;
        assert!(over <= merged.bound.variance_mm2 + slack && over >= -slack, "mode {k}: {over}");
    }
    let lost = pooled.total_variance_mm2 - merged.space.total_variance_mm2;
    assert!((lost - merged.bound.truncated_total_mm2).abs() < slack, "{lost} {:?}", merged.bound);
}

#[test]
fn spaces_that_do_not_fit_are_refused() {
    let (topology, base) = body(7, 9);
    let all = shapes(8, &base, 8.0, 0.3, 6);
    let a = fit(&all, &topology, Removes::Rigid, None);
    let b = fit(&all, &topology, Removes::Similarity, None);
    assert!(matches!(merge(&[a.clone(), b], None), Err(ShapeError::NotMergeable { which: 2, .. })));
    let (other, base) = body(7, 8);
    let c = fit(&shapes(8, &base, 8.0, 0.3, 6), &other, Removes::Rigid, None);
    assert!(matches!(merge(&[a, c], None), Err(ShapeError::NotMergeable { which: 2, .. })));
    assert!(merge(&[], None).is_err());
}
