//! Mesh files out: PLY and OBJ.

use std::fmt::Write as _;
use std::path::Path;

use formkin_geometry::{Mesh, Point, Topology};

use crate::CohortError;
use crate::write::write_whole;

/// How a mesh file is written.
#[derive(Debug, Clone, Copy, Default)]
pub struct MeshWriting<'a> {
    /// Replace a file that exists.
    pub force: bool,
    /// PLY: text instead of little-endian binary.
    pub ascii: bool,
    /// PLY and OBJ: a colour for every vertex, red, green, blue.
    pub colors: Option<&'a [[u8; 3]]>,
}

/// Writes a PLY file: positions as 32-bit floats in mm with z up, triangles as 32-bit indices, in the order of the mesh.
///
/// # Errors
/// [`CohortError::AlreadyExists`] where the file is there and is not to be replaced; [`CohortError::Setting`] where the
/// number of colours is another than that of vertices; [`CohortError::Io`].
pub fn write_ply(path: &Path, mesh: &Mesh, writing: &MeshWriting<'_>) -> Result<(), CohortError> {
    let bytes = ply_bytes(mesh.topology(), mesh.positions(), writing)?;
    write_whole(path, &bytes, writing.force)
}

/// Writes an OBJ file: positions in mm with z up, to the precision of a 32-bit float, in the order of the mesh. Colours, if
/// any, follow the position as three numbers from 0 to 1.
///
/// # Errors
/// As [`write_ply`].
pub fn write_obj(path: &Path, mesh: &Mesh, writing: &MeshWriting<'_>) -> Result<(), CohortError> {
    let bytes = obj_bytes(mesh.topology(), mesh.positions(), writing)?;
    write_whole(path, &bytes, writing.force)
}

fn check_colors(vertices: usize, colors: Option<&[[u8; 3]]>) -> Result<(), CohortError> {
    match colors {
        Some(c) if c.len() != vertices => Err(CohortError::Setting {
            setting: "colors",
            reason: format!("{} colours for {vertices} vertices; give one a vertex", c.len()),
        }),
        _ => Ok(()),
    }
}

/// The content of a PLY file.
///
/// # Errors
/// [`CohortError::Setting`] where the number of colours is another than that of vertices.
pub fn ply_bytes(
    topology: &Topology,
    positions: &[Point],
    writing: &MeshWriting<'_>,
) -> Result<Vec<u8>, CohortError> {
    check_colors(positions.len(), writing.colors)?;
    let format = if writing.ascii { "ascii" } else { "binary_little_endian" };
    let mut header = format!(
        "ply\nformat {format} 1.0\ncomment millimetres, z up\nelement vertex {}\nproperty float x\nproperty float \
         y\nproperty float z\n",
        positions.len()
    );
    if writing.colors.is_some() {
        header.push_str("property uchar red\nproperty uchar green\nproperty uchar blue\n");
    }
    let triangles = topology.triangles();
    let _ = write!(
        header,
        "element face {}\nproperty list uchar int vertex_indices\nend_header\n",
        triangles.len()
    );
    if writing.ascii {
        for (v, p) in positions.iter().enumerate() {
            let _ = write!(header, "{} {} {}", p[0] as f32, p[1] as f32, p[2] as f32);
            if let Some([r, g, b]) = writing.colors.map(|c| c[v]) {
                let _ = write!(header, " {r} {g} {b}");
            }
            header.push('\n');
        }
        for [a, b, c] in triangles {
            let _ = writeln!(header, "3 {a} {b} {c}");
        }
        return Ok(header.into_bytes());
    }
    let mut bytes = header.into_bytes();
    bytes.reserve(15 * positions.len() + 13 * triangles.len());
    for (v, p) in positions.iter().enumerate() {
        for c in p {
            bytes.extend_from_slice(&(*c as f32).to_le_bytes());
        }
        if let Some(colors) = writing.colors {
            bytes.extend_from_slice(&colors[v]);
        }
    }
    for t in triangles {
        bytes.push(3);
        for v in t {
            bytes.extend_from_slice(&v.to_le_bytes());
        }
    }
    Ok(bytes)
}

/// The content of an OBJ file.
///
/// # Errors
/// [`CohortError::Setting`] where the number of colours is another than that of vertices.
pub fn obj_bytes(
    topology: &Topology,
    positions: &[Point],
    writing: &MeshWriting<'_>,
) -> Result<Vec<u8>, CohortError> {
    check_colors(positions.len(), writing.colors)?;
    let mut text = String::with_capacity(40 * positions.len() + 24 * topology.triangles().len());
    text.push_str("# millimetres, z up\n");
    for (v, p) in positions.iter().enumerate() {
        let _ = write!(text, "v {} {} {}", p[0] as f32, p[1] as f32, p[2] as f32);
        if let Some(rgb) = writing.colors.map(|c| c[v]) {
            for c in rgb {
                let _ = write!(text, " {:.4}", f64::from(c) / 255.0);
            }
        }
        text.push('\n');
    }
    for t in topology.triangles() {
        let [a, b, c] = t.map(|v| u64::from(v) + 1);
        let _ = writeln!(text, "f {a} {b} {c}");
    }
    Ok(text.into_bytes())
}
