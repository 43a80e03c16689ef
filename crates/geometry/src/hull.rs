//! Planar convex hull and its perimeter: the taut tape.

use crate::Point;
use crate::section::basis;
use crate::vector::dot;

fn turns_left(o: [f64; 2], a: [f64; 2], b: [f64; 2]) -> bool {
    (a[0] - o[0]) * (b[1] - o[1]) - (a[1] - o[1]) * (b[0] - o[0]) > 0.0
}

/// The convex hull of points in the plane, counter-clockwise from the lowest of the leftmost, without points on its
/// sides (the monotone chain of Andrew 1979; for rings that turn once around their middle, as most sections of bodies do, the scan of Graham 1972, which needs no sorting).
/// Points that are not finite are left out. Fewer than three distinct points, or points on one line, give those at the ends.
#[must_use]
pub(crate) fn convex_hull(points: &[[f64; 2]]) -> Vec<[f64; 2]> {
    hull_of_ring(points).unwrap_or_else(|| hull_of_any(points))
}

/// The hull of a ring that turns counter-clockwise, once, around the middle of its points; `None` of others.
fn hull_of_ring(ring: &[[f64; 2]]) -> Option<Vec<[f64; 2]>> {
    if ring.len() < 3 {
        return None;
    }
    let mut middle = [0.0, 0.0];
    let mut first = 0;
    for (i, p) in ring.iter().enumerate() {
        middle = [middle[0] + p[0], middle[1] + p[1]];
        if (p[0], p[1]) < (ring[first][0], ring[first][1]) {
            first = i;
        }
    }
    let middle = middle.map(|m| m / ring.len() as f64);
    let from = |p: [f64; 2]| [p[0] - middle[0], p[1] - middle[1]];
    let mut rounds = 0;
    let mut a = from(ring[ring.len() - 1]);
    for p in ring {
        let b = from(*p);
        let turn = a[0] * b[1] - a[1] * b[0];
        if turn.is_nan() || turn <= 0.0 {
            return None;
        }
        rounds += usize::from(a[1] < 0.0 && b[1] >= 0.0);
        a = b;
    }
    if rounds != 1 {
        return None;
    }
    let mut hull: Vec<[f64; 2]> = Vec::with_capacity(ring.len() + 1);
    for i in 0..=ring.len() {
        let p = ring[(first + i) % ring.len()];
        while hull.len() > 1 && !turns_left(hull[hull.len() - 2], hull[hull.len() - 1], p) {
            hull.pop();
        }
        hull.push(p);
    }
    hull.pop();
    Some(hull)
}

fn hull_of_any(points: &[[f64; 2]]) -> Vec<[f64; 2]> {
    let mut sorted: Vec<[f64; 2]> =
        points.iter().copied().filter(|p| p.iter().all(|c| c.is_finite())).collect();
    sorted.sort_unstable_by(|a, b| a[0].total_cmp(&b[0]).then(a[1].total_cmp(&b[1])));
    sorted.dedup();
    if sorted.len() < 3 {
        return sorted;
    }
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
            let (x, y) = (b[0] - a[0], b[1] - a[1]);
            (x * x + y * y).sqrt()
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
    fn the_two_ways_to_a_hull_agree() {
        let mut rings = 0;
        for wave in 0..30 {
            let w = f64::from(wave);
            let ring: Vec<[f64; 2]> = (0..240)
                .map(|i| {
                    let a = std::f64::consts::TAU * f64::from(i) / 240.0;
                    let r = 100.0 + 3.0 * w * (a * (2.0 + w % 7.0)).sin() + 2.0 * (a * 31.0).cos();
                    [r * a.cos() + 1000.0, 0.6 * r * a.sin() - w]
                })
                .collect();
            let Some(hull) = hull_of_ring(&ring) else { continue };
            rings += 1;
            assert_eq!(hull, hull_of_any(&ring));
            assert!(hull_of_ring(&ring.iter().rev().copied().collect::<Vec<_>>()).is_none());
        }
        assert!(rings > 10, "{rings}");
        // twice around the middle
        let twice: Vec<[f64; 2]> = (0..20)
            .map(|i| f64::from(i) * 0.2 * std::f64::consts::PI)
            .map(|a| [(1.0 + 0.01 * a) * a.cos(), a.sin()])
            .collect();
        assert!(hull_of_ring(&twice).is_none());
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
