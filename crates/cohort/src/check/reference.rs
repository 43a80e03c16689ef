//! What edges, triangles and vertices are usually like in this cohort: medians over a sample of items and the template.

use formkin_geometry::vector::{distance, dot, norm, sub, unit};
use formkin_geometry::{Point, areas};
use formkin_stats::quantile::median_of;

use crate::CohortError;
use crate::cohort::Cohort;
use crate::frame;

/// Items in the sample, spread evenly.
const SAMPLE: usize = 24;
/// Pairs of vertices whose distances tell shapes apart quickly.
pub(crate) const PAIRS: usize = 256;

/// What is usual.
#[derive(Debug)]
pub(crate) struct Reference {
    pub(crate) edges: Vec<[u32; 2]>,
    pub(crate) triangles: Vec<[u32; 3]>,
    /// Number of neighbours of every vertex.
    pub(crate) neighbours: Vec<f64>,
    /// Median length of every edge, in mm, and their sum.
    pub(crate) lengths: Vec<f32>,
    pub(crate) total_length: f64,
    /// Mean length of the edges at every vertex, in mm.
    pub(crate) local_length: Vec<f32>,
    /// Median distance of every vertex from the mean of its neighbours, in mm.
    pub(crate) roughness: Vec<f32>,
    /// Median distance of every vertex below the mean of its neighbours, along its normal, in mm: hollow is positive.
    pub(crate) bend: Vec<f32>,
    /// Median area of every triangle, in mm2.
    pub(crate) triangle_areas: Vec<f32>,
    /// Median cosine between every triangle's normal and its surroundings'.
    pub(crate) agreement: Vec<f32>,
    /// The template's shape, and weights by its area that sum to 1.
    pub(crate) shape: Vec<Point>,
    pub(crate) weights: Vec<f64>,
    pub(crate) pairs: Vec<[usize; 2]>,
    pub(crate) watertight: bool,
    /// Looks at the sample, for the height axis.
    pub(crate) sample: Vec<frame::Look>,
}

/// What is measured on one shape of the sample, and on every item.
pub(crate) struct Local {
    pub(crate) lengths: Vec<f32>,
    pub(crate) roughness: Vec<f32>,
    pub(crate) bend: Vec<f32>,
    pub(crate) triangle_areas: Vec<f32>,
    pub(crate) agreement: Vec<f32>,
    pub(crate) area: f64,
}

/// Measures one shape.
pub(crate) fn local(
    shape: &[Point],
    edges: &[[u32; 2]],
    triangles: &[[u32; 3]],
    neighbours: &[f64],
) -> Local {
    let mut sums = vec![[0.0; 3]; shape.len()];
    let mut lengths = Vec::with_capacity(edges.len());
    for [a, b] in edges {
        let (p, q) = (shape[*a as usize], shape[*b as usize]);
        lengths.push(distance(p, q) as f32);
        for k in 0..3 {
            sums[*a as usize][k] += q[k];
            sums[*b as usize][k] += p[k];
        }
    }
    // from every vertex to the mean of its neighbours
    for (v, sum) in sums.iter_mut().enumerate() {
        *sum = if neighbours[v] > 0.0 { sub(sum.map(|c| c / neighbours[v]), shape[v]) } else { [0.0; 3] };
    }
    let roughness = sums.iter().map(|d| norm(*d) as f32).collect();
    let mut normals = vec![[0.0; 3]; shape.len()];
    let mut vector_areas = Vec::with_capacity(triangles.len());
    let mut triangle_areas = Vec::with_capacity(triangles.len());
    let mut area = 0.0;
    for t in triangles {
        let [a, b, c] = t.map(|v| shape[v as usize]);
        let n = areas::vector_area(a, b, c);
        let size = norm(n);
        area += size;
        triangle_areas.push(size as f32);
        vector_areas.push(n);
        for v in t {
            for k in 0..3 {
                normals[*v as usize][k] += n[k];
            }
        }
    }
    let agreement = triangles
        .iter()
        .zip(&vector_areas)
        .map(|(t, n)| {
            // the triangles around, this one aside (it is in the sum of each of its corners)
            let mut around = [0.0; 3];
            for v in t {
                for k in 0..3 {
                    around[k] += normals[*v as usize][k] - n[k];
                }
            }
            match (unit(*n), unit(around)) {
                (Some(n), Some(around)) => dot(n, around) as f32,
                _ => 1.0,
            }
        })
        .collect();
    let bend = sums.iter().zip(&normals).map(|(d, n)| unit(*n).map_or(0.0, |n| dot(*d, n) as f32)).collect();
    Local { lengths, roughness, bend, triangle_areas, agreement, area }
}

impl Reference {
    pub(crate) fn new(cohort: &Cohort, watertight: bool) -> Result<Self, CohortError> {
        let mesh = &cohort.template().mesh;
        let topology = mesh.topology();
        let edges: Vec<[u32; 2]> = topology.edges().iter().map(|e| e.ends).collect();
        let triangles = topology.triangles().to_vec();
        let mut neighbours = vec![0.0; topology.vertices()];
        for v in edges.iter().flatten() {
            neighbours[*v as usize] += 1.0;
        }
        let shape = mesh.positions().to_vec();
        let mut weights = areas::vertex_areas(topology, &shape);
        let total: f64 = weights.iter().sum();
        if total > 0.0 {
            weights.iter_mut().for_each(|w| *w /= total);
        } else {
            weights = vec![1.0 / shape.len() as f64; shape.len()];
        }
        let of = cohort.accepted().len();
        let step = of.div_ceil(SAMPLE).max(1);
        let mut all = vec![local(&shape, &edges, &triangles, &neighbours)];
        let mut sample = Vec::new();
        for i in (0..of).step_by(step) {
            let item = cohort.source().read_shape(i)?;
            if item.as_flattened().iter().all(|c| c.is_finite()) {
                all.push(local(&item, &edges, &triangles, &neighbours));
                sample.extend(frame::Look::at(&item));
            }
        }
        let lengths = medians(&all, |l| &l.lengths);
        let mut local_length = vec![0.0f32; shape.len()];
        for (ends, length) in edges.iter().zip(&lengths) {
            for v in ends {
                local_length[*v as usize] += length;
            }
        }
        for (length, n) in local_length.iter_mut().zip(&neighbours) {
            *length /= n.max(1.0) as f32;
        }
        Ok(Self {
            total_length: lengths.iter().map(|l| f64::from(*l)).sum(),
            lengths,
            local_length,
            roughness: medians(&all, |l| &l.roughness),
            bend: medians(&all, |l| &l.bend),
            triangle_areas: medians(&all, |l| &l.triangle_areas),
            agreement: medians(&all, |l| &l.agreement),
            pairs: pairs(&shape),
            shape,
            weights,
            edges,
            triangles,
            neighbours,
            watertight,
            sample,
        })
    }
}

/// The median of every entry over the sample.
fn medians(all: &[Local], field: impl Fn(&Local) -> &Vec<f32>) -> Vec<f32> {
    let count = all.first().map_or(0, |l| field(l).len());
    let mut column = Vec::with_capacity(all.len());
    (0..count)
        .map(|i| {
            column.clear();
            column.extend(all.iter().map(|l| f64::from(field(l)[i])));
            median_of(&mut column).unwrap_or(0.0) as f32
        })
        .collect()
}

/// Pairs of vertices spread over the mesh by a fixed rule; those that lie apart come out longer and count more.
fn pairs(shape: &[Point]) -> Vec<[usize; 2]> {
    let n = shape.len();
    // a multiplicative congruential generator (Lehmer, the constants of Park and Miller 1988)
    let mut state = 20_240_101u64;
    let mut next = || {
        state = state * 48_271 % 2_147_483_647;
        state as usize % n
    };
    let mut pairs = Vec::with_capacity(PAIRS);
    for _ in 0..PAIRS {
        // the longest of three
        let mut best = [next(), next()];
        for _ in 0..2 {
            let other = [next(), next()];
            let length = |[a, b]: [usize; 2]| norm(sub(shape[a], shape[b]));
            if length(other) > length(best) {
                best = other;
            }
        }
        pairs.push(best);
    }
    pairs
}
