//! Bodies on one topology, with whose they are: what models are fitted to.

use std::collections::BTreeMap;
use std::sync::Arc;

use formkin_align::{AlignError, AlignParams, Alignment};
use formkin_cohort::Cohort;
use formkin_geometry::{GeometryError, Point, ShapeArray, ShapeSource, SourceError, Topology};
use formkin_motion::{Motion, MotionError, MotionParams};
use formkin_shape::{FittedSpace, ShapeError, SpaceParams};
use ndarray::ArrayView3;
use thiserror::Error;

/// Arrays and names that are no bodies.
#[derive(Debug, Clone, PartialEq, Error)]
#[non_exhaustive]
pub enum BodiesError {
    /// An array whose last axis does not hold x, y and z.
    #[error("an array of bodies is [shapes, vertices, 3], and this one ends with {found}")]
    Coordinates {
        /// Its last axis.
        found: usize,
    },
    /// A position that is not finite.
    #[error("shape {shape}, vertex {vertex}: the position is not finite")]
    NotFinite {
        /// The shape, from 0.
        shape: usize,
        /// The vertex, from 0.
        vertex: usize,
    },
    /// Another number of people than shapes.
    #[error("{people} names of people for {shapes} shapes; name the person of every shape")]
    People {
        /// Names given.
        people: usize,
        /// Shapes.
        shapes: usize,
    },
    /// Triangles that do not fit the vertices.
    #[error(transparent)]
    Geometry(#[from] GeometryError),
}

type Told<'a> = &'a (dyn Fn(usize, usize) + Sync);

/// Bodies on one topology, with whose they are.
///
/// Without people, every shape is taken for a person of its own; say so where it is not: frames are not people.
///
/// ```
/// use formkin::{AlignParams, Bodies};
/// use ndarray::Array3;
///
/// let positions = Array3::from_shape_fn((4, 4, 3), |(i, v, k)| if v == k + 1 { 100.0 + i as f64 } else { 0.0 });
/// let triangles = vec![[0, 2, 1], [0, 1, 3], [1, 2, 3], [0, 3, 2]];
/// let bodies = Bodies::from_array(positions.view(), triangles)?.of_people(&["A", "A", "B", "C"])?;
/// assert_eq!((bodies.shapes(), bodies.people()), (4, 3));
/// let alignment = bodies.align(&AlignParams::default())?;
/// assert_eq!(alignment.transforms.len(), 4);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
pub struct Bodies<'a> {
    source: Box<dyn ShapeSource + 'a>,
    topology: Arc<Topology>,
    people: Vec<usize>,
    progress: Option<Told<'a>>,
}

impl std::fmt::Debug for Bodies<'_> {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Bodies")
            .field("shapes", &self.shapes())
            .field("vertices", &self.vertices())
            .field("people", &self.people())
            .finish_non_exhaustive()
    }
}

impl<'a> Bodies<'a> {
    /// Bodies from an array `[shapes, vertices, 3]` in mm, z up, of `f32` or `f64`, of any layout; it is copied.
    ///
    /// # Errors
    /// [`BodiesError`]: a last axis other than 3, positions that are not finite, triangles that name vertices that are not there.
    pub fn from_array<T: Copy + Into<f64>>(
        positions: ArrayView3<'_, T>,
        triangles: Vec<[u32; 3]>,
    ) -> Result<Self, BodiesError> {
        let (_, vertices, found) = positions.dim();
        if found != 3 {
            return Err(BodiesError::Coordinates { found });
        }
        let topology = Topology::new(vertices, triangles)?;
        let mut array = ShapeArray::new(vertices);
        for (shape, body) in positions.outer_iter().enumerate() {
            let points: Vec<Point> =
                body.rows().into_iter().map(|r| [r[0].into(), r[1].into(), r[2].into()]).collect();
            if let Some(vertex) = points.iter().position(|p| p.iter().any(|x| !x.is_finite())) {
                return Err(BodiesError::NotFinite { shape, vertex });
            }
            array.push(&points)?;
        }
        Ok(Self::new(array, Arc::new(topology)))
    }

    /// Bodies from any source of shapes on a topology.
    #[must_use]
    pub fn new(source: impl ShapeSource + 'a, topology: Arc<Topology>) -> Self {
        let people = (0..source.shapes()).collect();
        Self { source: Box::new(source), topology, people, progress: None }
    }

    /// The still poses of a cohort, each of its participant; read from disk as they are needed.
    #[must_use]
    pub fn of_cohort(cohort: &'a Cohort) -> Self {
        let items = cohort.stills();
        let names: Vec<&str> = items.iter().map(|&i| cohort.items()[i].participant.as_str()).collect();
        let people = numbered(&names);
        let topology = Arc::clone(cohort.template().mesh.topology());
        Self { source: Box::new(cohort.select(items)), topology, people, progress: None }
    }

    /// Says whose the shapes are, one name a shape.
    ///
    /// # Errors
    /// [`BodiesError::People`] where there are more or fewer names than shapes.
    pub fn of_people(mut self, names: &[impl AsRef<str>]) -> Result<Self, BodiesError> {
        if names.len() != self.shapes() {
            return Err(BodiesError::People { people: names.len(), shapes: self.shapes() });
        }
        self.people = numbered(&names.iter().map(AsRef::as_ref).collect::<Vec<_>>());
        Ok(self)
    }

    /// Has `progress` told how much of long work is done: parts done, parts in all.
    #[must_use]
    pub fn with_progress(mut self, progress: &'a (dyn Fn(usize, usize) + Sync)) -> Self {
        self.progress = Some(progress);
        self
    }

    /// Number of shapes.
    #[must_use]
    pub fn shapes(&self) -> usize {
        self.source.shapes()
    }

    /// Number of vertices of every shape.
    #[must_use]
    pub fn vertices(&self) -> usize {
        self.source.vertices()
    }

    /// Number of people.
    #[must_use]
    pub fn people(&self) -> usize {
        self.people.iter().max().map_or(0, |m| m + 1)
    }

    /// The shared triangles.
    #[must_use]
    pub fn topology(&self) -> &Topology {
        &self.topology
    }

    /// One shape: V positions, in mm.
    ///
    /// # Errors
    /// [`SourceError`] where it is not there or cannot be read.
    pub fn shape(&self, shape: usize) -> Result<Vec<Point>, SourceError> {
        self.source.read_shape(shape)
    }

    fn told(&self) -> Told<'_> {
        self.progress.unwrap_or(&|_, _| ())
    }

    /// Brings the bodies into a common frame.
    ///
    /// # Errors
    /// [`AlignError`].
    pub fn align(&self, params: &AlignParams) -> Result<Alignment, AlignError> {
        params.fit(&*self.source, &self.topology, None, self.told())
    }

    /// Learns how the bodies vary: alignment, weighted principal components, and the error on people left out.
    ///
    /// # Errors
    /// [`ShapeError`].
    pub fn space(&self, params: &SpaceParams) -> Result<FittedSpace, ShapeError> {
        params.fit(&*self.source, &self.topology, &self.people, None, self.told())
    }

    /// Takes the bodies for the frames of one movement, with their times in s.
    ///
    /// # Errors
    /// [`MotionError`].
    pub fn motion(&self, params: &MotionParams, times_s: &[f64]) -> Result<Motion, MotionError> {
        params.fit(&*self.source, &self.topology, times_s, self.told())
    }
}

/// A number for each name, in order of first appearance.
fn numbered(names: &[&str]) -> Vec<usize> {
    let mut numbers = BTreeMap::new();
    names
        .iter()
        .map(|name| {
            let next = numbers.len();
            *numbers.entry(*name).or_insert(next)
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use ndarray::Array3;

    use super::*;

    const TRIANGLES: [[u32; 3]; 4] = [[0, 2, 1], [0, 1, 3], [1, 2, 3], [0, 3, 2]];

    #[test]
    fn wrong_arrays_are_refused_with_what_is_wrong() {
        let made = Bodies::from_array(Array3::<f32>::zeros((2, 4, 2)).view(), TRIANGLES.to_vec());
        assert_eq!(made.unwrap_err(), BodiesError::Coordinates { found: 2 });
        let mut bad = Array3::<f64>::ones((2, 4, 3));
        bad[[1, 2, 0]] = f64::NAN;
        let made = Bodies::from_array(bad.view(), TRIANGLES.to_vec());
        assert_eq!(made.unwrap_err(), BodiesError::NotFinite { shape: 1, vertex: 2 });
        let made = Bodies::from_array(Array3::<f32>::zeros((2, 3, 3)).view(), TRIANGLES.to_vec());
        assert!(matches!(made, Err(BodiesError::Geometry(_))));
        let whole = Bodies::from_array(Array3::<f32>::zeros((2, 4, 3)).view(), TRIANGLES.to_vec()).unwrap();
        assert_eq!(whole.of_people(&["A"]).unwrap_err(), BodiesError::People { people: 1, shapes: 2 });
    }

    #[test]
    fn a_view_with_strides_is_the_array_it_shows() {
        let array = Array3::from_shape_fn((3, 4, 6), |(i, v, k)| (100 * i + 10 * v + k) as f32);
        let strided = array.slice(ndarray::s![..;2, .., ..;2]);
        let bodies = Bodies::from_array(strided, TRIANGLES.to_vec()).unwrap();
        assert_eq!(bodies.shapes(), 2);
        assert_eq!(bodies.shape(1).unwrap()[3], [230.0, 232.0, 234.0]);
    }
}
