//! Bodies of a space: from where they are read.

use std::path::Path;

use formkin_cohort::{Unit, Up, read_positions, to_mm_z_up};
use formkin_geometry::{Point, Topology};
use formkin_shape::Space;

use crate::TaskError;

/// Reads a space.
///
/// # Errors
/// [`TaskError::Read`]; [`TaskError::NoSpace`] for a file that is none.
pub fn read_space(path: &Path) -> Result<Space, TaskError> {
    let bytes = std::fs::read(path).map_err(|source| TaskError::Read { path: path.to_owned(), source })?;
    Space::from_safetensors(&bytes).map_err(|source| TaskError::NoSpace { path: path.to_owned(), source })
}

/// The positions of a mesh file on these triangles, in mm with z up.
///
/// # Errors
/// A file that cannot be read, has other triangles, or whose unit or height axis cannot be found out.
pub fn read_shape(path: &Path, topology: &Topology, unit: Unit, up: Up) -> Result<Vec<Point>, TaskError> {
    let positions = read_positions(path, topology)?;
    to_mm_z_up(&positions, unit, up).map_err(|reason| TaskError::Nothing {
        what: format!("{}: {reason}", path.display()),
        advice: "say what the file is in with --unit and --up".to_owned(),
    })
}
