//! Many surfaces on disk: mesh files in and out, import, checks, the table of items, streaming blocks.
//!
//! **The order of vertices is the correspondence**: nothing here renumbers, merges or repairs. Positions of a cohort are mm
//! with z up, stored as 32-bit floats and read as `f64`.
//!
//! | module | what it holds |
//! |---|---|
//! | [`read`] | OBJ and PLY files in; later files against the topology of the first |
//! | [`write_mesh`] | OBJ and PLY files out |
//! | [`npy`] | NPY arrays in and out |
//! | [`gltf`] | bodies with morph targets as glTF 2.0 |
//! | [`write`](mod@write) | files that are written whole or not at all |
//! | [`template_file`] | `template.toml` in and out |
//! | [`mismatch`] | in what the triangles of two files differ |
//! | [`frame`] | unit and height axis of files, given or told from the data |
//! | [`params`] | what an import is told, and what it tells |
//! | [`import`](mod@import) | mesh files into a cohort |
//! | [`naming`] | what file names say: sequences, participants, sessions |
//! | [`mod@revise`] | a copy of a cohort with other positions |
//! | [`item`] | items and captures |
//! | [`cohort`] | an open cohort |
//! | [`finding`] | one thing that a check found |
//! | [`check`](mod@check) | what is wrong with the data |
//! | [`error`] | what can be wrong with files |

pub mod check;
pub mod cohort;
pub mod error;
mod fault;
pub mod finding;
pub mod frame;
pub mod gltf;
pub mod import;
pub mod item;
mod items_csv;
pub mod mismatch;
mod names;
pub mod naming;
pub mod npy;
mod npy_header;
mod number;
mod obj;
pub mod params;
mod ply;
mod ply_header;
mod polygon;
pub mod read;
pub mod revise;
pub mod template_file;
mod vertex_list;
pub mod write;
pub mod write_mesh;

pub use check::{CheckParams, Checks, check};
pub use cohort::{Cohort, CohortSubset};
pub use error::{CohortError, Place};
pub use fault::SceneFault;
pub use finding::{Finding, FindingKind, Severity};
pub use frame::to_mm_z_up;
pub use import::{Preview, import, input_files, preview};
pub use item::{Capture, Item, Status};
pub use mismatch::Mismatch;
pub use npy::{NpyFile, NpyWriter, npy_bytes, write_npy};
pub use params::{CohortInfo, ImportParams, ImportReport, Quarantined, Sequences, Unit, Up};
pub use read::{RawMesh, read_mesh, read_positions};
pub use revise::{parse_vertex_ranges, revise, vertex_ranges};
pub use template_file::{load_template, save_template, save_template_over};
pub use write::write_whole;
pub use write_mesh::{MeshWriting, obj_bytes, ply_bytes, write_obj, write_ply};
