//! The triangles that every person and every frame shares.

use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::sync::OnceLock;

use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};

use crate::GeometryError;

/// Triangles over a fixed number of vertices. Validated once; immutable; shared behind an `Arc`.
#[derive(Debug)]
pub struct Topology {
    vertices: usize,
    triangles: Vec<[u32; 3]>,
    edges: OnceLock<Vec<Edge>>,
    fans: OnceLock<Fans>,
    twins: OnceLock<Option<Vec<u32>>>,
    hash: OnceLock<String>,
}

/// An undirected edge with the triangles on it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Edge {
    /// The smaller vertex, then the larger.
    pub ends: [u32; 2],
    /// Triangles that run along it from the smaller to the larger vertex.
    pub forward: Vec<u32>,
    /// Triangles that run along it from the larger to the smaller vertex.
    pub backward: Vec<u32>,
}

/// The triangles around every vertex.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Fans {
    starts: Vec<u32>,
    triangles: Vec<u32>,
}

impl Fans {
    /// The triangles on a vertex, ascending; none for a vertex that is not there.
    #[inline]
    #[must_use]
    pub fn around(&self, vertex: u32) -> &[u32] {
        let v = vertex as usize;
        match (self.starts.get(v), self.starts.get(v + 1)) {
            (Some(&from), Some(&to)) => &self.triangles[from as usize..to as usize],
            _ => &[],
        }
    }
}

/// What a topology is like. `genus` is given for one closed, consistently oriented surface only.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct TopologySummary {
    /// Number of vertices, those without a triangle included.
    pub vertices: usize,
    /// Number of triangles.
    pub triangles: usize,
    /// Number of distinct undirected edges.
    pub edges: usize,
    /// Edges on one triangle only.
    pub boundary_edges: usize,
    /// Edges on more than two triangles.
    pub non_manifold_edges: usize,
    /// Edges whose two triangles run along them in the same sense: one of the two is turned over.
    pub inconsistent_edges: usize,
    /// Connected parts of the surface; vertices without a triangle are not counted.
    pub components: usize,
    /// Vertices on no triangle.
    pub unused_vertices: usize,
    /// Triangles that name a vertex twice.
    pub degenerate_triangles: usize,
    /// Every edge is on exactly two triangles.
    pub watertight: bool,
    /// No edge is on more than two triangles.
    pub manifold: bool,
    /// Vertices in use - edges + triangles.
    pub euler_characteristic: i64,
    /// (2 - Euler characteristic) / 2 of one closed, oriented surface; none otherwise.
    pub genus: Option<i64>,
}

impl Topology {
    /// Checks that every index is in range and that there is something to work on.
    ///
    /// # Errors
    /// [`GeometryError::Empty`], [`GeometryError::TooManyVertices`], [`GeometryError::VertexOutOfRange`].
    pub fn new(vertices: usize, triangles: Vec<[u32; 3]>) -> Result<Self, GeometryError> {
        if vertices == 0 || triangles.is_empty() {
            return Err(GeometryError::Empty { vertices, triangles: triangles.len() });
        }
        if u32::try_from(vertices).is_err() {
            return Err(GeometryError::TooManyVertices { vertices });
        }
        for (triangle, corners) in triangles.iter().enumerate() {
            if let Some(&vertex) = corners.iter().find(|&&v| v as usize >= vertices) {
                return Err(GeometryError::VertexOutOfRange { triangle, vertex, vertices });
            }
        }
        Ok(Self {
            vertices,
            triangles,
            edges: OnceLock::new(),
            fans: OnceLock::new(),
            twins: OnceLock::new(),
            hash: OnceLock::new(),
        })
    }

    /// Number of vertices.
    #[inline]
    #[must_use]
    pub fn vertices(&self) -> usize {
        self.vertices
    }

    /// The triangles, counter-clockwise seen from outside.
    #[inline]
    #[must_use]
    pub fn triangles(&self) -> &[[u32; 3]] {
        &self.triangles
    }

    /// SHA-256, in hexadecimal, of the triangle array as little-endian 32-bit integers in order: the same as
    /// `hashlib.sha256(triangles.astype("<u4").tobytes()).hexdigest()`.
    pub fn hash(&self) -> &str {
        self.hash.get_or_init(|| {
            let mut hasher = Sha256::new();
            for corners in &self.triangles {
                for v in corners {
                    hasher.update(v.to_le_bytes());
                }
            }
            hasher.finalize().iter().fold(String::new(), |mut s, byte| {
                let _ = write!(s, "{byte:02x}");
                s
            })
        })
    }

    /// Every undirected edge once, ordered by its ends.
    pub fn edges(&self) -> &[Edge] {
        self.edges.get_or_init(|| {
            // (smaller, larger, triangle, runs forward), sorted, then grouped
            let mut sides: Vec<(u32, u32, u32, bool)> = Vec::with_capacity(3 * self.triangles.len());
            for (t, &[a, b, c]) in self.triangles.iter().enumerate() {
                for (from, to) in [(a, b), (b, c), (c, a)] {
                    if from != to {
                        sides.push((from.min(to), from.max(to), t as u32, from < to));
                    }
                }
            }
            sides.sort_unstable();
            let mut edges: Vec<Edge> = Vec::with_capacity(sides.len() / 2);
            for (low, high, triangle, forward) in sides {
                if edges.last().is_none_or(|e| e.ends != [low, high]) {
                    edges.push(Edge { ends: [low, high], forward: Vec::new(), backward: Vec::new() });
                }
                if let Some(edge) = edges.last_mut() {
                    if forward { &mut edge.forward } else { &mut edge.backward }.push(triangle);
                }
            }
            edges
        })
    }

    /// The triangles around every vertex.
    pub fn fans(&self) -> &Fans {
        self.fans.get_or_init(|| {
            let mut starts = vec![0u32; self.vertices + 1];
            let distinct = |&[a, b, c]: &[u32; 3]| a != b && b != c && c != a;
            for t in self.triangles.iter().filter(|t| distinct(t)) {
                for &v in t {
                    starts[v as usize + 1] += 1;
                }
            }
            for v in 0..self.vertices {
                starts[v + 1] += starts[v];
            }
            let mut next = starts.clone();
            let mut triangles = vec![0; starts[self.vertices] as usize];
            for (i, t) in self.triangles.iter().enumerate().filter(|(_, t)| distinct(t)) {
                for &v in t {
                    triangles[next[v as usize] as usize] = i as u32;
                    next[v as usize] += 1;
                }
            }
            Fans { starts, triangles }
        })
    }

    /// For side `k` of triangle `t` (from corner `k` to the next), at `3 t + k`, the number `3 u + j` of the same edge as a side of the triangle on its other
    /// side; `u32::MAX` at a boundary. `None` where an edge has more than two triangles or two that run the same way along it, or a triangle has a corner twice.
    pub fn twins(&self) -> Option<&[u32]> {
        self.twins
            .get_or_init(|| {
                let mut sides: Vec<([u32; 2], u32)> = Vec::with_capacity(3 * self.triangles.len());
                for (t, corners) in self.triangles.iter().enumerate() {
                    for k in 0..3 {
                        let (from, to) = (corners[k], corners[(k + 1) % 3]);
                        if from == to {
                            return None;
                        }
                        sides.push(([from.min(to), from.max(to)], u32::try_from(3 * t + k).ok()?));
                    }
                }
                sides.sort_unstable();
                let mut twins = vec![u32::MAX; sides.len()];
                for group in sides.chunk_by(|a, b| a.0 == b.0) {
                    let first = |h: u32| self.triangles[h as usize / 3][h as usize % 3];
                    match group {
                        [_] => {}
                        [(_, a), (_, b)] if first(*a) != first(*b) => {
                            twins[*a as usize] = *b;
                            twins[*b as usize] = *a;
                        }
                        _ => return None,
                    }
                }
                Some(twins)
            })
            .as_deref()
    }

    /// For each vertex the vertices it shares an edge with, ascending.
    #[must_use]
    pub fn neighbours(&self) -> Vec<Vec<u32>> {
        let mut neighbours = vec![Vec::new(); self.vertices];
        for edge in self.edges() {
            let [a, b] = edge.ends;
            neighbours[a as usize].push(b);
            neighbours[b as usize].push(a);
        }
        for list in &mut neighbours {
            list.sort_unstable();
        }
        neighbours
    }

    /// The component of each vertex, numbered from 0 in order of its lowest vertex; `None` for vertices on no triangle.
    #[must_use]
    pub fn components(&self) -> Vec<Option<u32>> {
        let mut parent: Vec<u32> = (0..self.vertices as u32).collect();
        fn root(parent: &mut [u32], mut v: u32) -> u32 {
            while parent[v as usize] != v {
                parent[v as usize] = parent[parent[v as usize] as usize];
                v = parent[v as usize];
            }
            v
        }
        let mut used = vec![false; self.vertices];
        for &[a, b, c] in &self.triangles {
            for v in [a, b, c] {
                used[v as usize] = true;
            }
            for (x, y) in [(a, b), (b, c)] {
                let (rx, ry) = (root(&mut parent, x), root(&mut parent, y));
                parent[rx.max(ry) as usize] = rx.min(ry);
            }
        }
        let mut numbers = BTreeMap::new();
        (0..self.vertices)
            .map(|v| {
                used[v].then(|| {
                    let r = root(&mut parent, v as u32);
                    let next = numbers.len() as u32;
                    *numbers.entry(r).or_insert(next)
                })
            })
            .collect()
    }

    /// What this topology is like: edges, boundary, manifold, watertight, components, genus.
    #[must_use]
    pub fn summary(&self) -> TopologySummary {
        let edges = self.edges();
        let on = |e: &Edge| e.forward.len() + e.backward.len();
        let boundary_edges = edges.iter().filter(|e| on(e) == 1).count();
        let non_manifold_edges = edges.iter().filter(|e| on(e) > 2).count();
        let inconsistent_edges = edges.iter().filter(|e| on(e) == 2 && e.forward.len() != 1).count();
        let part = self.components();
        let used = part.iter().filter(|p| p.is_some()).count();
        let components = part.iter().flatten().max().map_or(0, |&m| m as usize + 1);
        let degenerate_triangles =
            self.triangles.iter().filter(|[a, b, c]| a == b || b == c || c == a).count();
        let euler_characteristic = used as i64 - edges.len() as i64 + self.triangles.len() as i64;
        let watertight = boundary_edges == 0 && non_manifold_edges == 0 && degenerate_triangles == 0;
        let closed_and_oriented = watertight && inconsistent_edges == 0 && components == 1;
        TopologySummary {
            vertices: self.vertices,
            triangles: self.triangles.len(),
            edges: edges.len(),
            boundary_edges,
            non_manifold_edges,
            inconsistent_edges,
            components,
            unused_vertices: self.vertices - used,
            degenerate_triangles,
            watertight,
            manifold: non_manifold_edges == 0,
            euler_characteristic,
            genus: closed_and_oriented.then_some((2 - euler_characteristic) / 2),
        }
    }
}

impl PartialEq for Topology {
    fn eq(&self, other: &Self) -> bool {
        self.vertices == other.vertices && self.triangles == other.triangles
    }
}

impl Eq for Topology {}

#[cfg(test)]
mod tests {
    use super::*;

    fn tetrahedron() -> Topology {
        Topology::new(4, vec![[0, 2, 1], [0, 1, 3], [1, 2, 3], [2, 0, 3]]).unwrap()
    }

    #[test]
    fn a_tetrahedron_is_a_closed_surface_of_genus_zero() {
        let s = tetrahedron().summary();
        assert_eq!((s.edges, s.boundary_edges, s.components, s.genus), (6, 0, 1, Some(0)));
        assert!(s.watertight && s.manifold);
    }

    #[test]
    fn a_torus_has_genus_one() {
        // 3 x 3 grid with opposite sides joined
        let id = |i: u32, j: u32| (i % 3) * 3 + j % 3;
        let mut t = Vec::new();
        for i in 0..3 {
            for j in 0..3 {
                t.push([id(i, j), id(i + 1, j), id(i + 1, j + 1)]);
                t.push([id(i, j), id(i + 1, j + 1), id(i, j + 1)]);
            }
        }
        assert_eq!(Topology::new(9, t).unwrap().summary().genus, Some(1));
    }

    #[test]
    fn an_open_or_turned_surface_has_no_genus() {
        let open = Topology::new(4, vec![[0, 2, 1], [0, 1, 3], [1, 2, 3]]).unwrap().summary();
        assert_eq!((open.boundary_edges, open.watertight, open.genus), (3, false, None));
        let turned = Topology::new(4, vec![[0, 1, 2], [0, 1, 3], [1, 2, 3], [2, 0, 3]]).unwrap().summary();
        assert_eq!((turned.inconsistent_edges, turned.watertight, turned.genus), (3, true, None));
    }

    #[test]
    fn parts_and_unused_vertices_are_counted() {
        let s = Topology::new(8, vec![[0, 1, 2], [4, 5, 6]]).unwrap();
        assert_eq!((s.summary().components, s.summary().unused_vertices), (2, 2));
        assert_eq!(s.components()[6], Some(1));
        assert_eq!(s.components()[3], None);
    }

    #[test]
    fn the_hash_follows_the_documented_recipe() {
        // python3 -c "import hashlib,struct;print(hashlib.sha256(struct.pack('<3I',0,1,2)).hexdigest())"
        let t = Topology::new(3, vec![[0, 1, 2]]).unwrap();
        assert_eq!(t.hash(), "ad5dc1478de06a4c2728ea528bd9361a4b945e92a414bf4d180cedaaeaa5f4cc");
    }

    #[test]
    fn an_index_out_of_range_is_an_error_with_its_triangle() {
        let e = Topology::new(3, vec![[0, 1, 2], [0, 1, 3]]).unwrap_err();
        assert_eq!(e, GeometryError::VertexOutOfRange { triangle: 1, vertex: 3, vertices: 3 });
    }
}
