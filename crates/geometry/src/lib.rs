//! One surface: topology, mesh, template, areas, volume, plane sections, convex hulls, paths, and the
//! [`ShapeSource`] trait through which every fit reads its shapes.
//!
//! Positions are millimetres, z up, `[x, y, z]` in `f64`. Nothing here opens a file or writes a log.
//!
//! | module | what it holds |
//! |---|---|
//! | [`topology`] | the shared triangles: edges, boundary, manifold, components, genus |
//! | [`mesh`] | positions on a topology |
//! | [`clusters`] | which triangles a plane can meet |
//! | [`areas`] | areas, vertex areas, normals, volume, centroid size |
//! | [`section`] | plane sections into closed loops |
//! | [`hull`] | planar convex hull and its perimeter: the taut tape |
//! | [`path`] | lengths of polylines, ways along edges, local geodesics over the surface |
//! | [`tree`] | the nearest point of a surface, and where it crosses itself |
//! | [`template`] | landmarks, regions, paths, joints, mirror pairs, skin on a mesh |
//! | [`source`] | where shapes come from: memory, disk, a subset, an aligned view |
//! | [`kabsch`] | the best rotation of one shape onto another, never a reflection |
//! | [`rotation`] | rotations as matrices |
//! | [`turn`] | rotations as unit quaternions, rigid motions and their blend |
//! | [`spread`] | second moments, principal axes |
//! | [`vector`] | the few operations on `[f64; 3]` that the rest is written in |

pub mod areas;
pub mod clusters;
pub mod error;
pub mod hull;
pub mod kabsch;
pub mod mesh;
pub mod path;
pub mod rotation;
pub mod section;
pub mod source;
pub mod spread;
mod strip;
pub mod template;
pub mod topology;
pub mod tree;
pub mod turn;
pub mod vector;
pub mod walk;

pub use error::GeometryError;
pub use mesh::Mesh;
pub use source::{ShapeArray, ShapeSource, SourceError, Subset};
pub use template::{Joint, Skin, Template};
pub use topology::{Topology, TopologySummary};
pub use vector::Point;
