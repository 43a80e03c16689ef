//! Planar convex hull and its perimeter: the taut tape.

use crate::Point;
use crate::section::basis;
use crate::vector::dot;

/// The convex hull of points in the plane, counter-clockwise from the lowest of the leftmost, without points on its
/// sides (the monotone chain of Andrew 1979). Points that are not finite are left out. Fewer than three distinct
/// points, or points on one line, give those at the ends.
#[must_use]
pub fn convex_hull(points: &[[f64; 2]]) -> Vec<[f64; 2]> {
    let mut sorted: Vec<[f64; 2]> =
        points.iter().copied().filter(|p| p.iter().all(|c| c.is_finite())).collect();
    sorted.sort_unstable_by(|a, b| a[0].total_cmp(&b[0]).then(a[1].total_cmp(&b[1])));
    sorted.dedup();
    if sorted.len() < 3 {
        return sorted;
    }
    let turns_left = |o: [f64; 2], a: [f64; 2], b: [f64; 2]| {
        (a[0] - o[0]) * (b[1] - o[1]) - (a[1] - o[1]) * (b[0] - o[0]) > 0.0
    };
    let half = |points: &mut dyn Iterator<Item = [f64; 2]>| {
        let mut row: Vec<[f64; 2]> = Vec::new();
        for p in points {
            while row.len() > 1 && !turns_left(row[row.len() - 2], row[row.len() - 1], p) {
                row.pop();
            }
            row.push(p);
        }
        row.pop();
        row
    };
    let mut hull = half(&mut sorted.iter().copied());
    hull.extend(half(&mut sorted.iter().rev().copied()));
    hull
}

/// The hull of points in (or projected on) the plane across a unit normal, as points of the plane through the first
/// of them: what a taut tape would follow.
#[must_use]
pub fn hull_in_plane(points: &[Point], normal: Point) -> Vec<Point> {
    let (u, v) = basis(normal);
    let flat: Vec<[f64; 2]> = points.iter().map(|&p| [dot(p, u), dot(p, v)]).collect();
    let height = points.first().map_or(0.0, |&p| dot(p, normal));
    convex_hull(&flat)
        .into_iter()
        .map(|[a, b]| std::array::from_fn(|k| a * u[k] + b * v[k] + height * normal[k]))
        .collect()
}

/// The perimeter in mm of the convex hull of points in (or projected on) the plane across a unit normal: the length of
/// a taut tape around them. Points on a line give twice its length; fewer than two points give 0.
#[must_use]
pub fn hull_perimeter(points: &[Point], normal: Point) -> f64 {
    let (u, v) = basis(normal);
    let flat: Vec<[f64; 2]> = points.iter().map(|&p| [dot(p, u), dot(p, v)]).collect();
    let hull = convex_hull(&flat);
    (0..hull.len())
        .map(|i| {
            let (a, b) = (hull[i], hull[(i + 1) % hull.len()]);
            (b[0] - a[0]).hypot(b[1] - a[1])
        })
        .sum()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_hull_of_a_grid_is_its_corners() {
        let grid: Vec<[f64; 2]> = (0..25).map(|i| [f64::from(i % 5), f64::from(i / 5)]).collect();
        assert_eq!(convex_hull(&grid), vec![[0.0, 0.0], [4.0, 0.0], [4.0, 4.0], [0.0, 4.0]]);
    }

    #[test]
    fn few_points_lines_and_nan_are_no_panic() {
        assert!(convex_hull(&[]).is_empty());
        assert_eq!(convex_hull(&[[f64::NAN, 0.0], [1.0, 1.0], [1.0, 1.0]]), vec![[1.0, 1.0]]);
        let line: Vec<[f64; 2]> = (0..9).map(|i| [f64::from(i), 2.0 * f64::from(i)]).collect();
        assert_eq!(convex_hull(&line), vec![[0.0, 0.0], [8.0, 16.0]]);
        let up = [0.0, 0.0, 1.0];
        assert_eq!(hull_perimeter(&[[0.0; 3], [3.0, 4.0, 0.0]], up), 10.0);
        assert_eq!(hull_perimeter(&[], up), 0.0);
        assert_eq!(hull_perimeter(&[[f64::NAN; 3]], up), 0.0);
    }

    #[test]
    fn the_perimeter_does_not_depend_on_the_plane() {
        let n = crate::vector::unit([1.0, -2.0, 0.5]).unwrap();
        let (u, v) = basis(n);
        let square = [[0.0, 0.0], [10.0, 0.0], [10.0, 10.0], [0.0, 10.0], [5.0, 5.0]];
        let points: Vec<Point> = square
            .iter()
            .map(|&[a, b]| std::array::from_fn(|k| 7.0 + a * u[k] + b * v[k] + 3.0 * n[k]))
            .collect();
        assert!((hull_perimeter(&points, n) - 40.0).abs() < 1e-9);
        assert_eq!(hull_in_plane(&points, n).len(), 4);
        for p in hull_in_plane(&points, n) {
            assert!((dot(p, n) - dot(points[0], n)).abs() < 1e-9);
        }
    }
}
