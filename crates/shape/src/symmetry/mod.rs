//! Symmetry of bodies: what is the same left and right, and what is not.
//!
//! A body with matching sides is one object (object symmetry: Mardia, Bookstein and Moreton 2000; Klingenberg, Barluenga and Meyer 2002). Bodies and their mirrored copies are
//! aligned jointly; of an aligned shape x and its mirrored copy x', (x + x')/2 is the symmetric part and (x - x')/2 the asymmetric one. They are orthogonal, so variances add
//! up. Each part has its own modes. The mean asymmetric part is *directional asymmetry*: all lean the same way. The variation about it is *fluctuating asymmetry*.
//!
//! | module | what it holds |
//! |---|---|
//! | `frame` | the joint fit |
//! | `parts` | both parts of every shape |
//! | [`numbers`] | the two-way table, tests, intervals |
//! | [`place`] | where on the body |

mod frame;
pub mod numbers;
mod parts;
pub mod place;

use formkin_align::{Alignment, Removes};
use formkin_geometry::{Point, ShapeSource, Topology};
use formkin_stats::symmetric::symmetric_eigen;
use ndarray::Array2;
use serde::{Deserialize, Serialize};

pub use self::numbers::{Directional, Fluctuating, Line};
pub use self::place::SidePlace;

use self::numbers::{Owners, asymmetry, freedom, table};
use self::parts::Parts;
use crate::ShapeError;
use crate::gram::{combine, fix_sign, gram_matrix, rank};
use crate::mirror::check_pairs;

/// Settings of the search for asymmetry.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct SymmetryParams {
    /// Changes of sign and of owner in the tests: 9,999 or more for what is reported.
    pub permutations: usize,
    /// Draws of people for intervals.
    pub draws: usize,
    /// Most modes of each part that are kept; the variances of all are.
    pub modes: usize,
    /// Level of the findings on the body.
    pub level: f64,
    /// Seed of tests and draws.
    pub seed: u64,
}

impl Default for SymmetryParams {
    fn default() -> Self {
        Self { permutations: 9999, draws: 1000, modes: 10, level: 0.05, seed: 1 }
    }
}

/// The modes of one part.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct PartModes {
    /// Variances over people, largest first, in mm2, divisor people - 1: all that are not zero.
    pub variances_mm2: Vec<f64>,
    /// Their sum.
    pub total_variance_mm2: f64,
    /// Share of the variance of both parts about their means.
    pub share: f64,
    /// The first modes, V displacements each, in mm a mm: as those of a space.
    pub modes: Vec<Vec<Point>>,
    /// People x modes kept: coefficients in mm.
    pub coefficients_mm: Vec<Vec<f64>>,
}

/// A person's asymmetry.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Score {
    /// The person, as the fit numbers people.
    pub person: usize,
    /// Shapes of the person.
    pub items: usize,
    /// RMS over the surface of the person's asymmetric part, in mm: how far a vertex is from where the symmetric body has it.
    pub asymmetry_mm: f64,
    /// The same about the mean asymmetry of all: the person's own.
    pub own_mm: f64,
}

/// What is symmetric about bodies and what is not.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Symmetry {
    /// Number of people.
    pub people: usize,
    /// Number of shapes.
    pub items: usize,
    /// People with two shapes or more.
    pub repeated: usize,
    /// Pairs of vertices with weight.
    pub pairs: usize,
    /// Vertices with weight on the plane.
    pub middle: usize,
    /// What the alignment removed.
    pub removes: Removes,
    /// V weights, equal within pairs.
    pub weights: Vec<f64>,
    /// The mean of the symmetric parts, symmetric about x = 0, in mm.
    pub mean: Vec<Point>,
    /// The symmetric parts of people.
    pub symmetric: PartModes,
    /// The asymmetric parts of people, about their mean.
    pub asymmetric: PartModes,
    /// The mean asymmetric part: V displacements from the symmetric mean, in mm.
    pub lean: Vec<Point>,
    /// The test of the lean.
    pub directional: Directional,
    /// How people differ from it.
    pub fluctuating: Fluctuating,
    /// Individuals, sides, what they share, error.
    pub table: Vec<Line>,
    /// Where on the body.
    pub place: SidePlace,
    /// One a person.
    pub scores: Vec<Score>,
    /// Rounds of the joint fit.
    pub rounds: usize,
    /// The settings.
    pub params: SymmetryParams,
}

impl SymmetryParams {
    /// Finds both parts of the shapes of `source`, whose alignment is `alignment`. `mirror[v]` is the vertex on the other side of v, itself on the plane; `people[i]` the person of
    /// shape i, whose shapes are averaged and serve as repeats. `progress` hears (thousandths done, 1000).
    ///
    /// # Errors
    /// [`ShapeError::MirrorPair`], [`ShapeError::NotMirrored`] and [`ShapeError::Count`] for pairs that do not fit, [`ShapeError::SmallGroup`] under three people,
    /// [`ShapeError::Setting`], shapes that cannot be read or aligned.
    #[expect(clippy::too_many_lines, reason = "the steps of one fit, each on what all before it found")]
    pub fn find(
        &self,
        source: &dyn ShapeSource,
        topology: &Topology,
        alignment: &Alignment,
        mirror: &[u32],
        people: &[usize],
        progress: &(dyn Fn(usize, usize) + Sync),
    ) -> Result<Symmetry, ShapeError> {
        self.check()?;
        let n = source.shapes();
        check_pairs(mirror, source.vertices())?;
        if people.len() != n {
            return Err(ShapeError::Count {
                what: "participants of the shapes",
                expected: n,
                found: people.len(),
            });
        }
        let owners = Owners::of(people);
        let persons = owners.items.len();
        if persons < 3 {
            return Err(ShapeError::SmallGroup { group: "all".into(), people: persons, least: 3 });
        }
        let frame =
            frame::fit(source, &alignment.mean, &alignment.weights, mirror, &alignment.params, &|d, of| {
                progress(300 * d / of.max(1), 1000);
            })?;
        let weighted = |v: &usize| frame.weights[*v] > 0.0;
        let middle = (0..mirror.len()).filter(weighted).filter(|v| mirror[*v] as usize == *v).count();
        let pairs = ((0..mirror.len()).filter(weighted).count() - middle) / 2;
        if pairs == 0 {
            return Err(ShapeError::Count { what: "mirror pairs with weight", expected: 1, found: 0 });
        }
        let part = |sign| Parts { source, transforms: &frame.transforms, mirror, sign };
        let (even, odd) = (part(1.0), part(-1.0));
        let found = place::walk(&even, &odd, &owners, topology, &frame, mirror, self.level)?;
        progress(500, 1000);
        let zero = vec![[0.0; 3]; mirror.len()];
        let even_gram = gram_matrix(&even, &found.mean, &frame.weights, &|_, _| ())?;
        progress(650, 1000);
        let odd_gram = gram_matrix(&odd, &zero, &frame.weights, &|_, _| ())?;
        progress(800, 1000);
        let lines = table(&owners, &even_gram, &odd_gram, freedom(pairs, middle, alignment.params.removes));
        let (directional, fluctuating) =
            asymmetry(&owners, &odd_gram, self.permutations, self.draws, self.seed)?;
        let square = formkin_geometry::areas::centroid_size(&found.mean, &frame.weights).powi(2);
        let mut symmetric = self.modes_of(&even, &owners, &owners.means(&even_gram), &found.mean, square)?;
        let odd_means = owners.means(&odd_gram);
        let centred = centre(&odd_means);
        let mut asymmetric = self.modes_of(&odd, &owners, &odd_means, &found.lean, square)?;
        let all = symmetric.total_variance_mm2 + asymmetric.total_variance_mm2;
        for part in [&mut symmetric, &mut asymmetric] {
            part.share = if all > 0.0 { part.total_variance_mm2 / all } else { 0.0 };
        }
        let root = |x: f64| x.max(0.0).sqrt();
        let numbers: Vec<usize> = {
            let mut sorted = people.to_vec();
            sorted.sort_unstable();
            sorted.dedup();
            sorted
        };
        let scores = (0..persons)
            .map(|a| Score {
                person: numbers[a],
                items: owners.items[a].len(),
                asymmetry_mm: root(odd_means[[a, a]]),
                own_mm: root(centred[[a, a]]),
            })
            .collect();
        progress(1000, 1000);
        Ok(Symmetry {
            people: persons,
            items: n,
            repeated: owners.items.iter().filter(|x| x.len() > 1).count(),
            pairs,
            middle,
            removes: alignment.params.removes,
            weights: frame.weights,
            mean: found.mean,
            symmetric,
            asymmetric,
            lean: found.lean,
            directional,
            fluctuating,
            table: lines,
            place: found.place,
            scores,
            rounds: frame.rounds,
            params: self.clone(),
        })
    }

    fn check(&self) -> Result<(), ShapeError> {
        let wrong = |name, value, range| Err(ShapeError::Setting { name, value, range });
        if self.permutations == 0 || self.permutations > 1_000_000 {
            return wrong("permutations", self.permutations as f64, "1 to 1000000");
        }
        if !(20..=100_000).contains(&self.draws) {
            return wrong("draws", self.draws as f64, "20 to 100000");
        }
        if !(self.level > 0.0 && self.level < 1.0) {
            return wrong("level", self.level, "between 0 and 1");
        }
        Ok(())
    }

    /// The modes of the means of people, from their inner products about any point.
    fn modes_of(
        &self,
        parts: &Parts<'_>,
        owners: &Owners,
        means: &Array2<f64>,
        mean: &[Point],
        square: f64,
    ) -> Result<PartModes, ShapeError> {
        let persons = owners.items.len();
        let eigen = symmetric_eigen(&centre(means))?;
        let nonzero = rank(&eigen.values, square, 1e-24 * persons as f64);
        let kept = nonzero.min(self.modes);
        let mut columns = Array2::zeros((owners.count, kept));
        for (a, items) in owners.items.iter().enumerate() {
            for &i in items {
                for k in 0..kept {
                    columns[[i, k]] = eigen.vectors[[a, k]] / (eigen.values[k].sqrt() * items.len() as f64);
                }
            }
        }
        let mut modes = combine(parts, mean, &columns, &|_, _| ())?;
        let signs: Vec<f64> = modes.iter_mut().map(|mode| fix_sign(mode)).collect();
        let variances_mm2: Vec<f64> =
            eigen.values[..nonzero].iter().map(|g| g / (persons - 1) as f64).collect();
        Ok(PartModes {
            total_variance_mm2: variances_mm2.iter().sum(),
            variances_mm2,
            share: 0.0,
            modes,
            coefficients_mm: (0..persons)
                .map(|a| {
                    (0..kept).map(|k| signs[k] * eigen.vectors[[a, k]] * eigen.values[k].sqrt()).collect()
                })
                .collect(),
        })
    }
}

/// Inner products about the mean.
fn centre(gram: &Array2<f64>) -> Array2<f64> {
    let n = gram.nrows() as f64;
    let rows: Vec<f64> = gram.outer_iter().map(|r| r.sum() / n).collect();
    let all = rows.iter().sum::<f64>() / n;
    Array2::from_shape_fn(gram.dim(), |(i, j)| gram[[i, j]] - rows[i] - rows[j] + all)
}
