//! What is known of people and asked of drawn bodies: dimensions within limits, surfaces that do not cross themselves more than people's do.

use formkin_geometry::tree::Tree;
use formkin_geometry::{Point, Topology};
use formkin_measure::Taker;
use formkin_shape::Space;
use formkin_stats::quantile::quantile;
use ndarray::Array2;
use rayon::prelude::*;

use super::population::Limits;
use crate::TaskError;
use crate::bodies::upright;

/// How far outside the quartiles a dimension may lie, in distances of the quartiles (Tukey 1977: "far out").
const FAR_OUT: f64 = 3.0;
/// A dimension that so many people have must be there on a drawn body.
const USUAL: f64 = 0.95;

/// A dimension with its unit.
pub(super) type Named = (String, Option<String>);

/// The limits of a dimension on drawn bodies.
struct Bounds {
    name: String,
    least: f64,
    most: f64,
    /// Whether nearly all people have it.
    usual: bool,
}

/// What is known of people and asked of bodies.
pub(super) struct Reality<'a> {
    pub(super) space: &'a Space,
    pub(super) up: Point,
    tree: Option<Tree>,
    topology: &'a Topology,
    taker: Option<Taker<'a>>,
    /// Dimensions of people.
    pub(super) people: Vec<Vec<Option<f64>>>,
    limits: Vec<Bounds>,
    /// Triangles of people that cross others.
    pub(super) crossings: Vec<f64>,
    /// More of them are not wanted on a body.
    pub(super) most_crossings: f64,
}

impl<'a> Reality<'a> {
    /// What bodies of a space are held against; nothing is known of people yet.
    pub(super) fn new(
        space: &'a Space,
        topology: &'a Topology,
        taker: Option<Taker<'a>>,
        crossings: bool,
    ) -> Self {
        Self {
            space,
            up: crate::bodies::up(space),
            tree: crossings.then(|| Tree::new(topology, &space.mean)),
            topology,
            taker,
            people: Vec::new(),
            limits: Vec::new(),
            crossings: Vec::new(),
            most_crossings: f64::INFINITY,
        }
    }

    /// The dimensions that are taken.
    pub(super) fn named(&self) -> Vec<Named> {
        let definitions = self.taker.iter().flat_map(|t| &t.dimensions().definitions);
        definitions.map(|d| (d.name.clone(), d.unit.clone())).collect()
    }

    pub(super) fn dimensions(&self) -> usize {
        self.limits.len()
    }

    /// Dimensions, then the number of triangles that cross others, of which the wanted are taken.
    fn take(&self, coefficients: &[f64]) -> (Vec<Option<f64>>, Option<f64>) {
        let body = upright(self.space, coefficients, self.up);
        let taken = self.taker.as_ref().map_or_else(Vec::new, |t| {
            t.take(&body).into_iter().map(|m| m.value).collect::<Vec<Option<f64>>>()
        });
        let crossings = self.tree.as_ref().map(|tree| {
            let mut all: Vec<u32> =
                tree.on(self.topology, &body).self_crossings().into_iter().flatten().collect();
            all.sort_unstable();
            all.dedup();
            all.len() as f64
        });
        (taken, crossings)
    }

    /// What is taken of a body, its crossings last, or why it is not wanted.
    pub(super) fn look(&self, coefficients: &[f64]) -> Result<Vec<Option<f64>>, String> {
        let (mut taken, crossings) = self.take(coefficients);
        for (value, bounds) in taken.iter().zip(&self.limits) {
            let Bounds { name, least, most, usual } = bounds;
            match value {
                Some(v) if v < least => return Err(format!("{name} is too small")),
                Some(v) if v > most => return Err(format!("{name} is too large")),
                None if *usual => return Err(format!("{name} cannot be taken")),
                _ => {}
            }
        }
        if crossings.is_some_and(|c| c > self.most_crossings) {
            return Err("their surfaces cross themselves".into());
        }
        taken.push(crossings);
        Ok(taken)
    }

    /// Takes of people what is taken of bodies, and sets limits by it.
    pub(super) fn know(
        &mut self,
        whole: &Array2<f64>,
        named: &[Named],
        given: Option<&Limits>,
    ) -> Result<(), TaskError> {
        let rows: Vec<Vec<f64>> = whole.outer_iter().map(|r| r.to_vec()).collect();
        let taken: Vec<_> = rows.par_iter().map(|c| self.take(c)).collect();
        self.crossings = taken.iter().filter_map(|(_, c)| *c).collect();
        if !self.crossings.is_empty() {
            self.most_crossings = quantile(&self.crossings, None, 0.99)?.ceil();
        }
        self.people = taken.into_iter().map(|(t, _)| t).collect();
        for (j, (name, _)) in named.iter().enumerate() {
            let values: Vec<f64> = self.people.iter().filter_map(|r| r[j]).collect();
            let usual = values.len() as f64 >= USUAL * rows.len() as f64;
            let (mut least, mut most) = (f64::NEG_INFINITY, f64::INFINITY);
            if values.len() >= 4 {
                let (q1, q3) = (quantile(&values, None, 0.25)?, quantile(&values, None, 0.75)?);
                (least, most) = (q1 - FAR_OUT * (q3 - q1), q3 + FAR_OUT * (q3 - q1));
            }
            self.limits.push(Bounds { name: name.clone(), least, most, usual });
        }
        let Some(given) = given else { return Ok(()) };
        for limit in &given.limits {
            let at = named.iter().position(|(n, _)| *n == limit.dimension);
            let at = at.ok_or_else(|| unknown(&limit.dimension, named))?;
            let (least, most) = limit.in_unit(named[at].1.as_deref())?;
            let bounds = &mut self.limits[at];
            bounds.least = least.unwrap_or(bounds.least);
            bounds.most = most.unwrap_or(bounds.most);
        }
        Ok(())
    }
}

/// A dimension that is not taken of bodies.
pub(super) fn unknown(dimension: &str, named: &[Named]) -> TaskError {
    let known: Vec<&str> = named.iter().map(|(n, _)| n.as_str()).collect();
    let reason = if known.is_empty() {
        "it was built without dimensions, so that none are taken of drawn bodies: build it with `formkin space --dimensions FILE`".to_owned()
    } else {
        format!("it takes no dimension `{dimension}`; it takes {}", known.join(", "))
    };
    TaskError::Space { reason }
}
