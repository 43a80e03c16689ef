//! A map of people: two numbers a person, so that like people lie near each other.
//!
//! Either the first two coefficients, or a diffusion map of all of them, whose distances are RMS distances over the surface in mm. Where bodies vary along one direction above all, the second
//! diffusion coordinate is only a bend of the first and says nothing new; so the second axis is the first coordinate that does not follow from the first axis, by the error of a local
//! linear regression (Dsilva, Talmon, Coifman and Kevrekidis 2018).

use formkin_stats::diffusion::{DiffusionMap, diffusion_map, squared_distances};
use formkin_stats::quantile::median_of;
use ndarray::{ArrayView2, Axis};
use rand::seq::SliceRandom;
use rayon::prelude::*;
use serde::{Deserialize, Serialize};

use crate::ShapeError;
use crate::fault::MapFault;

/// How people are laid out.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum MapMethod {
    /// Where many short steps between like people lead.
    #[default]
    Diffusion,
    /// The first two coefficients, in mm.
    Coefficients,
}

/// Settings of a map.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct MapParams {
    /// How people are laid out.
    pub method: MapMethod,
    /// Most coefficients that take part; all kept where absent.
    pub modes: Option<usize>,
    /// Bandwidth of the diffusion, a distance between bodies in mm (RMS); chosen from the people where absent.
    pub bandwidth_mm: Option<f64>,
    /// Most people that the diffusion is worked out from; others, by chance, are laid among them.
    pub most: usize,
    /// The seed of that chance.
    pub seed: u64,
}

impl Default for MapParams {
    fn default() -> Self {
        Self { method: MapMethod::Diffusion, modes: None, bandwidth_mm: None, most: 2000, seed: 1 }
    }
}

/// A map of people.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct PeopleMap {
    /// How people were laid out.
    pub method: MapMethod,
    /// Two numbers a person. Of a diffusion they have no unit, and a distance on the map is no distance between bodies; coefficients are in mm.
    pub positions: Vec<[f64; 2]>,
    /// The eigenvalues of both axes: how much of a difference a step leaves. None of coefficients.
    pub eigenvalues: Vec<f64>,
    /// Which coordinate, from 1, each axis is.
    pub axes: [usize; 2],
    /// Of each diffusion coordinate looked at, from the second: the share that does not follow from the first axis, 0 to 1 (root mean square).
    pub own: Vec<f64>,
    /// The bandwidth, in mm: people nearer than it to each other count as neighbours.
    pub bandwidth_mm: Option<f64>,
    /// Dimension of what people lie on, as the sum of the kernel tells it.
    pub dimension: Option<f64>,
    /// Share of the variance of the coefficients that take part in the two axes; of coefficients only.
    pub share: Option<f64>,
    /// How well near people stay near: the mean share of a person's 10 nearest in mm who are among the 10 nearest on the map.
    pub neighbours_kept: Option<f64>,
    /// The same for places by chance.
    pub neighbours_by_chance: Option<f64>,
    /// Coefficients that took part.
    pub modes: usize,
    /// People that the diffusion was worked out from.
    pub worked_out_from: usize,
    /// What a reader must know.
    pub notes: Vec<String>,
    /// The settings.
    pub params: MapParams,
}

/// Diffusion coordinates that are looked at for the second axis.
const LOOKED: usize = 8;
/// A coordinate is new from this share on that does not follow from the first (common practice, no source).
const OWN: f64 = 0.5;
/// Fewest people that a map is made of.
const LEAST_PEOPLE: usize = 5;
/// Shapes nearer than this are the same, in mm over all coefficients.
const SAME_MM: f64 = 1e-6;
/// Neighbours that are looked at.
const NEAREST: usize = 10;

impl MapParams {
    /// Lays people out. `y` is people x coefficients in mm.
    ///
    /// # Errors
    /// [`ShapeError::NoMap`] under five people, where all people are alike or vary along one mode only; [`ShapeError::Setting`].
    pub fn lay_out(&self, y: ArrayView2<f64>) -> Result<PeopleMap, ShapeError> {
        let (n, width) = y.dim();
        if let Some(modes) = self.modes.filter(|m| *m < 2) {
            return Err(ShapeError::Setting { name: "modes", value: modes as f64, range: "2 or more" });
        }
        if let Some(value) = self.bandwidth_mm.filter(|b| !(b.is_finite() && *b > 0.0)) {
            return Err(ShapeError::Setting { name: "bandwidth_mm", value, range: "above 0 and finite" });
        }
        if self.most < 5 {
            return Err(ShapeError::Setting { name: "most", value: self.most as f64, range: "5 or more" });
        }
        if n < LEAST_PEOPLE {
            return Err(MapFault::Few { people: n, least: LEAST_PEOPLE }.into());
        }
        let different = different(y);
        if different == 1 {
            return Err(MapFault::OnePoint { people: n }.into());
        }
        let modes = self.modes.unwrap_or(width).min(width);
        if modes < 2 {
            return Err(MapFault::OneMode { modes }.into());
        }
        let y = y.slice(ndarray::s![.., ..modes]);
        let mut map = PeopleMap {
            method: self.method,
            positions: Vec::new(),
            eigenvalues: Vec::new(),
            axes: [1, 2],
            own: Vec::new(),
            bandwidth_mm: None,
            dimension: None,
            share: None,
            neighbours_kept: None,
            neighbours_by_chance: None,
            modes,
            worked_out_from: n,
            notes: Vec::new(),
            params: self.clone(),
        };
        match self.method {
            MapMethod::Coefficients => {
                map.positions = y.outer_iter().map(|r| [r[0], r[1]]).collect();
                let variance = |k: usize| {
                    let column = y.column(k);
                    let mean = column.sum() / n as f64;
                    column.iter().map(|x| (x - mean).powi(2)).sum::<f64>()
                };
                let all: f64 = (0..modes).map(variance).sum();
                map.share = (all > 0.0).then(|| (variance(0) + variance(1)) / all);
            }
            MapMethod::Diffusion => self.diffuse(y, &mut map)?,
        }
        if different == 2 {
            map.notes.push(format!("The {n} people have only two shapes that differ: the map shows two points, and no more can be read from it."));
        }
        let reach = map.positions.iter().flatten().fold(0.0f64, |r, x| r.max(x.abs()));
        if extent(&map.positions) <= 1e-9 * reach.max(1.0) {
            map.notes.push(
                "All people fall on one point of the map, though their shapes differ: nothing can be read from it. Set another bandwidth, or lay them out by coefficients.".into(),
            );
        }
        if n > NEAREST + 1 && n <= 5000 {
            map.neighbours_kept = Some(kept(y, &map.positions));
            map.neighbours_by_chance = Some(NEAREST as f64 / (n - 1) as f64);
        }
        Ok(map)
    }

    fn diffuse(&self, y: ArrayView2<f64>, map: &mut PeopleMap) -> Result<(), ShapeError> {
        let n = y.nrows();
        let mut chosen: Vec<usize> = (0..n).collect();
        if n > self.most {
            chosen.shuffle(&mut formkin_stats::random::stream(self.seed, "people of the map"));
            chosen.truncate(self.most);
            chosen.sort_unstable();
            map.notes.push(format!(
                "The diffusion was worked out from {} of {n} people, and the others were laid among them.",
                self.most
            ));
        }
        let base = y.select(Axis(0), &chosen);
        let squares = squared_distances(base.view());
        let looked = LOOKED.min(chosen.len().saturating_sub(2)).max(2);
        let mut found = diffusion_map(squares.view(), looked, self.bandwidth_mm.map(|b| b * b))?;
        let first = found.coordinates.column(0).to_vec();
        map.own = (1..looked).map(|k| new_share(&first, &found.coordinates.column(k).to_vec())).collect();
        let most = map.own.iter().copied().fold(0.0, f64::max);
        let second = map.own.iter().position(|r| *r >= OWN.min(most)).unwrap_or(0) + 1;
        map.axes = [1, second + 1];
        found.coordinates = found.coordinates.select(Axis(1), &[0, second]);
        found.eigenvalues = vec![found.eigenvalues[0], found.eigenvalues[second]];
        map.worked_out_from = chosen.len();
        map.positions =
            if n > self.most { extended(y, base.view(), squares.view(), &found) } else { rows(&found) };
        if found.apart {
            map.notes.push(
                "Groups of people are so far apart that the map shows the groups and little within them: look at each on its own, or set a larger bandwidth."
                    .into(),
            );
        }
        map.bandwidth_mm = Some(found.bandwidth.sqrt());
        map.dimension = Some(found.dimension);
        map.eigenvalues = found.eigenvalues;
        Ok(())
    }
}

/// How many of the rows differ, 3 where there are more.
fn different(y: ArrayView2<f64>) -> usize {
    let mut found: Vec<ndarray::ArrayView1<f64>> = Vec::new();
    for row in y.outer_iter() {
        let far = |other: &ndarray::ArrayView1<f64>| {
            row.iter().zip(other).map(|(a, b)| (a - b).powi(2)).sum::<f64>().sqrt() > SAME_MM
        };
        if found.iter().all(far) {
            found.push(row);
            if found.len() == 3 {
                break;
            }
        }
    }
    found.len()
}

/// The larger side of the box about the places.
fn extent(positions: &[[f64; 2]]) -> f64 {
    (0..2)
        .map(|a| {
            let (low, high) = positions
                .iter()
                .fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), p| (l.min(p[a]), h.max(p[a])));
            high - low
        })
        .fold(0.0, f64::max)
}

/// The share of `y` that does not follow from `x`: root mean square error over root mean square, each value from a line through the others, near ones above all.
fn new_share(x: &[f64], y: &[f64]) -> f64 {
    let mut apart: Vec<f64> =
        (0..x.len()).flat_map(|i| (0..i).map(move |j| (i, j))).map(|(i, j)| (x[i] - x[j]).abs()).collect();
    let width = median_of(&mut apart).unwrap_or(0.0) / 3.0;
    if width <= 0.0 {
        return 1.0;
    }
    let square = |i: usize| -> f64 {
        let (mut s0, mut s1, mut s2, mut t0, mut t1) = (0.0, 0.0, 0.0, 0.0, 0.0);
        for j in (0..x.len()).filter(|j| *j != i) {
            let d = x[j] - x[i];
            let w = (-(d / width).powi(2)).exp();
            s0 += w;
            s1 += w * d;
            s2 += w * d * d;
            t0 += w * y[j];
            t1 += w * d * y[j];
        }
        let det = s0 * s2 - s1 * s1;
        // without neighbours nothing can be foretold
        let told = if det > 1e-12 * s0 * s2 { (s2 * t0 - s1 * t1) / det } else { 0.0 };
        (y[i] - told).powi(2)
    };
    let left: f64 = (0..x.len()).into_par_iter().map(square).collect::<Vec<f64>>().iter().sum();
    let all: f64 = y.iter().map(|v| v * v).sum();
    if all > 0.0 { (left / all).sqrt().min(1.0) } else { 0.0 }
}

fn rows(map: &DiffusionMap) -> Vec<[f64; 2]> {
    map.coordinates.outer_iter().map(|r| [r[0], r[1]]).collect()
}

/// Every person where a step from the person leads on average: l psi(x) = sum_j p(x, j) psi(j), which for people of the map is their own place.
fn extended(
    y: ArrayView2<f64>,
    base: ArrayView2<f64>,
    squares: ArrayView2<f64>,
    map: &DiffusionMap,
) -> Vec<[f64; 2]> {
    let e = map.bandwidth;
    let q: Vec<f64> = squares.outer_iter().map(|r| r.iter().map(|x| (-x / e).exp()).sum()).collect();
    y.outer_iter()
        .map(|x| {
            let mut sum = 0.0;
            let mut place = [0.0; 2];
            let square =
                |b: ndarray::ArrayView1<f64>| x.iter().zip(&b).map(|(p, q)| (p - q).powi(2)).sum::<f64>();
            let all: Vec<f64> = base.outer_iter().map(square).collect();
            // relative to the nearest, so that somebody far from all is laid where the nearest are
            let least = all.iter().fold(f64::INFINITY, |m, s| m.min(*s));
            for (j, s) in all.iter().enumerate() {
                let k = (-(s - least) / e).exp() / q[j];
                sum += k;
                for a in 0..2 {
                    place[a] += k * map.coordinates[[j, a]] / map.eigenvalues[a];
                }
            }
            place.map(|p| p / sum)
        })
        .collect()
}

/// The mean share of the nearest people in mm who are nearest on the map too.
fn kept(y: ArrayView2<f64>, positions: &[[f64; 2]]) -> f64 {
    let squares = squared_distances(y);
    let nearest = |distance: &dyn Fn(usize) -> f64, i: usize| -> Vec<usize> {
        let mut order: Vec<usize> = (0..positions.len()).filter(|j| *j != i).collect();
        order
            .select_nth_unstable_by(NEAREST - 1, |a, b| distance(*a).total_cmp(&distance(*b)).then(a.cmp(b)));
        order.truncate(NEAREST);
        order
    };
    let share: f64 = (0..positions.len())
        .map(|i| {
            let in_mm = nearest(&|j| squares[[i, j]], i);
            let on_the_map =
                nearest(&|j| (0..2).map(|a| (positions[i][a] - positions[j][a]).powi(2)).sum(), i);
            in_mm.iter().filter(|j| on_the_map.contains(j)).count() as f64 / NEAREST as f64
        })
        .sum();
    share / positions.len() as f64
}

#[cfg(test)]
mod tests {
    use formkin_stats::random::stream;
    use ndarray::Array2;
    use rand::Rng;
    use rand_distr::StandardNormal;

    use super::*;

    fn people(n: usize) -> Array2<f64> {
        let mut rng = stream(4, "people");
        let sds = [50.0, 30.0, 10.0, 5.0, 2.0];
        Array2::from_shape_fn((n, 5), |(_, k)| sds[k] * rng.sample::<f64, _>(StandardNormal))
    }

    #[test]
    fn like_people_lie_near_each_other() {
        let y = people(150);
        for method in [MapMethod::Diffusion, MapMethod::Coefficients] {
            let map = MapParams { method, ..MapParams::default() }.lay_out(y.view()).unwrap();
            assert_eq!(map.positions.len(), 150);
            assert!(map.neighbours_kept.unwrap() > 3.0 * map.neighbours_by_chance.unwrap(), "{map:?}");
        }
    }

    #[test]
    fn people_laid_among_others_come_near_where_they_would_be() {
        let y = people(300);
        let whole = MapParams::default().lay_out(y.view()).unwrap();
        let bandwidth_mm = whole.bandwidth_mm;
        let part = MapParams { most: 200, bandwidth_mm, ..MapParams::default() }.lay_out(y.view()).unwrap();
        assert_eq!(
            (part.worked_out_from, part.notes.len()),
            (200, 1),
            "{:?} {:?} {:?}",
            part.notes,
            part.eigenvalues,
            part.bandwidth_mm
        );
        let of = |m: &PeopleMap| m.positions.iter().map(|p| p[0]).collect::<Vec<f64>>();
        let r = formkin_stats::moments::pearson(&of(&whole), &of(&part), None).unwrap();
        assert!(r.abs() > 0.97, "{r}");
        // the people of the map stay where they are
        let squares = squared_distances(y.view());
        let found = diffusion_map(squares.view(), 2, None).unwrap();
        for (a, b) in extended(y.view(), y.view(), squares.view(), &found).iter().zip(rows(&found)) {
            assert!((a[0] - b[0]).abs() < 1e-9 && (a[1] - b[1]).abs() < 1e-9, "{a:?} and {b:?}");
        }
    }

    #[test]
    fn a_bend_of_the_first_axis_is_no_second_axis() {
        // people vary 2.5 times as much along one direction: the second coordinate is a parabola over the first
        let mut rng = stream(9, "a long cloud");
        let y = Array2::from_shape_fn((200, 3), |(_, k)| [60.0, 24.0, 2.0][k] * rng.gen_range(-1.0..1.0));
        let map = MapParams::default().lay_out(y.view()).unwrap();
        assert!(map.own[0] < 0.5 && map.axes[1] > 2, "{:?} {:?}", map.own, map.axes);
        let second: Vec<f64> = map.positions.iter().map(|p| p[1]).collect();
        let r = formkin_stats::moments::pearson(&second, &y.column(1).to_vec(), None).unwrap();
        assert!(r.abs() > 0.8, "{r}");
    }

    #[test]
    fn too_few_and_too_like_people_are_refused() {
        let said = |y: Array2<f64>, method| {
            MapParams { method, ..MapParams::default() }.lay_out(y.view()).unwrap_err().to_string()
        };
        for method in [MapMethod::Diffusion, MapMethod::Coefficients] {
            for few in [1, 2, 4] {
                assert!(said(people(few), method).contains(&format!("there are {few}, and a map needs 5")));
            }
            for same in [Array2::zeros((9, 3)), Array2::from_elem((9, 3), 4.5), Array2::zeros((9, 0))] {
                assert!(said(same, method).contains("all 9 have the same shape"));
            }
            assert!(said(people(9).select(Axis(1), &[0]), method).contains("along 1 mode"));
            // two shapes, each several times
            let two = people(9).select(Axis(0), &[0, 1, 0, 1, 0, 1, 0, 1]);
            match (MapParams { method, ..MapParams::default() }).lay_out(two.view()) {
                Ok(map) => {
                    assert!(map.notes.iter().any(|n| n.contains("two points")), "{:?}", map.notes);
                    assert!(map.positions.iter().flatten().all(|x| x.is_finite()), "{:?}", map.positions);
                }
                Err(e) => assert!(e.to_string().contains("differ"), "{e}"),
            }
        }
        let wide = MapParams { bandwidth_mm: Some(1e9), ..MapParams::default() }.lay_out(people(20).view());
        if let Ok(map) = wide {
            assert!(map.positions.iter().flatten().all(|x| x.is_finite()), "{:?}", map.positions);
            assert!(
                extent(&map.positions) > 1e-9 || map.notes.iter().any(|n| n.contains("one point")),
                "{:?}",
                map.notes
            );
        }
        let params = MapParams { modes: Some(1), ..MapParams::default() };
        assert!(matches!(params.lay_out(people(9).view()), Err(ShapeError::Setting { .. })));
    }
}
