//! formkin: from corresponded meshes of bodies (every person and every frame on the same triangles) to shape spaces, body dimensions, movements
//! and size systems.
//!
//! This is the curated root of the library; the program `formkin` is built on the same names. What is not here is in the crates it is made from.
//!
//! | to | take |
//! |---|---|
//! | bring bodies in | [`Bodies::from_array`], [`Bodies::of_cohort`], [`import()`], [`read_mesh`] |
//! | find what is wrong with them | [`check()`] |
//! | bring them into a common frame | [`Bodies::align`] with [`AlignParams`] |
//! | learn how they vary | [`Bodies::space`] with [`SpaceParams`]; then [`Space::project`], [`Space::reconstruct`] |
//! | take their dimensions | [`Dimensions::from_toml`], [`Dimensions::take`] |
//! | follow a movement | [`Bodies::motion`] with [`MotionParams`] |
//! | decide sizes | [`Plan::from_toml`], [`Plan::derive`] |
//! | run a capability as the program does | [`Task`] and [`tasks`] |
//! | run a whole study | [`Study`] |
//!
//! Lengths are millimetres, z is up; positions are `[f64; 3]` ([`Point`]) or arrays `[shapes, vertices, 3]`.
//!
//! ```
//! use formkin::{Bodies, SpaceParams, modes_array};
//! use ndarray::Array3;
//!
//! // five tetrahedra of different heights stand for bodies: [shapes, vertices, 3], mm
//! let heights = [1600.0, 1650.0, 1700.0, 1800.0, 1850.0];
//! let positions = Array3::from_shape_fn((5, 4, 3), |(i, v, k)| match (v, k) {
//!     (1, 0) | (2, 1) => 300.0,
//!     (3, 2) => heights[i],
//!     _ => 0.0,
//! });
//! let triangles = vec![[0, 2, 1], [0, 1, 3], [1, 2, 3], [0, 3, 2]];
//! let bodies = Bodies::from_array(positions.view(), triangles)?;
//! let fitted = bodies.space(&SpaceParams::default())?;
//! assert_eq!(modes_array(&fitted.space).shape()[1..], [4, 3]);
//! // they differ in height alone
//! assert!(fitted.space.variances_mm2[0] > 0.99 * fitted.space.total_variance_mm2);
//! // a new body, in the coordinates of the space
//! let projection = fitted.space.project(&bodies.shape(2)?)?;
//! assert!(projection.residual_rms_mm < 1e-3);
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```

mod arrays;
mod bodies;

pub use arrays::{coefficients_array, mean_array, modes_array, points_array, points_of};
pub use bodies::{Bodies, BodiesError};

pub use formkin_align::{AlignError, AlignParams, Alignment, Removes, Transform, Weighting};
pub use formkin_cohort::{
    CheckParams, Checks, Cohort, CohortError, ImportParams, ImportReport, Item, Unit, Up, check, import,
    read_mesh, write_obj, write_ply,
};
pub use formkin_geometry::{
    GeometryError, Mesh, Point, ShapeArray, ShapeSource, SourceError, Template, Topology,
};
pub use formkin_measure::{Dimensions, MeasureError, Measured, Taker, take_all};
pub use formkin_motion::{Curve, Cycles, Motion, MotionError, MotionParams, StrainMap, StrainParams};
pub use formkin_shape::{
    CompleteParams, Completed, CriteriaParams, CrossValidation, FittedSpace, ModeCriteria, Projection,
    Quality, QualityParams, ShapeError, Space, SpaceParams, Symmetry, SymmetryParams, complete,
};
pub use formkin_sizing::{Chart, Control, Count, Plan, Size, SizeSystem, SizingError, Tolerance};
pub use formkin_study::{Study, StudyError, StudyOptions, StudyResult};
pub use formkin_table::{NumberFormat, Sheet, Table, TableError};
pub use formkin_tasks as tasks;
pub use formkin_tasks::{Delivery, Task, TaskError};
