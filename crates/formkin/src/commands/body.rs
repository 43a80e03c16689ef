//! What predicted and completed bodies are written as.

use std::fmt::Write as _;
use std::path::Path;

use anyhow::bail;
use formkin_cohort::{MeshWriting, obj_bytes, ply_bytes};
use formkin_geometry::{Point, Topology};
use formkin_shape::Space;

/// A mesh on the triangles of a space, as its file name says.
pub(super) fn mesh_bytes(path: &Path, space: &Space, positions: &[Point]) -> anyhow::Result<Vec<u8>> {
    let topology = Topology::new(space.mean.len(), space.triangles.clone())?;
    let ending = path.extension().map(|e| e.to_string_lossy().to_lowercase());
    Ok(match ending.as_deref() {
        Some("ply") => ply_bytes(&topology, positions, &MeshWriting::default())?,
        Some("obj") => obj_bytes(&topology, positions, &MeshWriting::default())?,
        _ => bail!("{}: name the mesh .ply or .obj", path.display()),
    })
}

/// One row a vertex: position and half-width of the interval of every coordinate.
pub(super) fn intervals_csv(positions: &[Point], sd_mm: &[Point], factor: f64) -> anyhow::Result<String> {
    let mut text =
        String::from("vertex,x_mm,y_mm,z_mm,half_width_95_x_mm,half_width_95_y_mm,half_width_95_z_mm\n");
    for (v, (p, sd)) in positions.iter().zip(sd_mm).enumerate() {
        let h = sd.map(|s| factor * s);
        writeln!(text, "{v},{:.3},{:.3},{:.3},{:.3},{:.3},{:.3}", p[0], p[1], p[2], h[0], h[1], h[2])?;
    }
    Ok(text)
}

/// Root mean square half-width of the intervals of coordinates, in mm.
pub(super) fn half_width(sd_mm: &[Point], factor: f64) -> f64 {
    let square: f64 = sd_mm.as_flattened().iter().map(|s| s * s).sum();
    factor * (square / (3 * sd_mm.len().max(1)) as f64).sqrt()
}
