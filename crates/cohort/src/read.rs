//! Mesh files in. The order of the vertices and of the triangles is that of the file, always: it is the correspondence.

use std::fs;
use std::path::Path;

use formkin_geometry::{Point, Topology};

use crate::mismatch::{self};
use crate::{CohortError, obj, ply};

/// What a mesh file holds, in its own unit and axes.
#[derive(Debug, Clone, PartialEq)]
pub struct RawMesh {
    /// One a vertex, in the order of the file. NaN and infinity are read as they stand: setting such items aside is the
    /// import's work.
    pub positions: Vec<Point>,
    /// Polygons are cut into fans from their first corner, in the order of the file.
    pub triangles: Vec<[u32; 3]>,
}

/// The formats that are read.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Format {
    Obj,
    Ply,
}

impl Format {
    pub(crate) fn of(path: &Path) -> Result<Self, CohortError> {
        match path.extension().and_then(|e| e.to_str()).map(str::to_ascii_lowercase).as_deref() {
            Some("obj") => Ok(Self::Obj),
            Some("ply") => Ok(Self::Ply),
            _ => Err(CohortError::UnknownFormat { file: path.to_owned() }),
        }
    }

    fn read(
        self,
        file: &Path,
        bytes: &[u8],
        triangle: &mut impl FnMut([u32; 3]),
    ) -> Result<Vec<Point>, CohortError> {
        match self {
            Self::Obj => obj::read(file, bytes, triangle),
            Self::Ply => ply::read(file, bytes, triangle),
        }
    }
}

/// Reads an OBJ or PLY file.
///
/// # Errors
/// [`CohortError::UnknownFormat`], [`CohortError::Io`], [`CohortError::Syntax`], [`CohortError::Truncated`],
/// [`CohortError::VertexOutOfRange`], [`CohortError::Empty`], each with the file and the place in it.
pub fn read_mesh(path: &Path) -> Result<RawMesh, CohortError> {
    let format = Format::of(path)?;
    let bytes = fs::read(path).map_err(CohortError::io(path, "read"))?;
    parse_mesh(path, format, &bytes)
}

pub(crate) fn parse_mesh(path: &Path, format: Format, bytes: &[u8]) -> Result<RawMesh, CohortError> {
    let mut triangles = Vec::new();
    let positions = format.read(path, bytes, &mut |t| triangles.push(t))?;
    if positions.is_empty() || triangles.is_empty() {
        return Err(CohortError::Empty {
            file: path.to_owned(),
            vertices: positions.len(),
            triangles: triangles.len(),
        });
    }
    Ok(RawMesh { positions, triangles })
}

/// Reads the positions of an OBJ or PLY file whose triangles must be those of a topology, in the same order. The triangles
/// are compared as they pass and not kept.
///
/// # Errors
/// As [`read_mesh`], and [`CohortError::OtherTopology`] with the exact difference.
pub fn read_positions(path: &Path, topology: &Topology) -> Result<Vec<Point>, CohortError> {
    let format = Format::of(path)?;
    let bytes = fs::read(path).map_err(CohortError::io(path, "read"))?;
    let mut expected = topology.triangles().iter();
    let mut same = true;
    let positions = format.read(path, &bytes, &mut |t| same &= expected.next() == Some(&t))?;
    if same && expected.next().is_none() && positions.len() == topology.vertices() {
        return Ok(positions);
    }
    let found = parse_mesh(path, format, &bytes)?;
    match mismatch::compare(topology, found.positions.len(), &found.triangles) {
        Some(mismatch) => Err(CohortError::OtherTopology { file: path.to_owned(), mismatch }),
        None => Ok(found.positions),
    }
}
