//! Bodies of a space: from where they are read, how they stand, and what they are written as.

use std::path::Path;

use formkin_cohort::{Cohort, MeshWriting, Unit, Up, obj_bytes, ply_bytes, read_positions, to_mm_z_up};
use formkin_geometry::{Point, Topology};
use formkin_shape::Space;
use formkin_table::NumberFormat::Fixed;
use formkin_table::Sheet;

use crate::{Problems, TaskError};

/// Reads a space.
///
/// # Errors
/// [`TaskError::Read`]; [`TaskError::NoSpace`] for a file that is none.
pub fn read_space(path: &Path) -> Result<Space, TaskError> {
    let bytes = std::fs::read(path).map_err(|source| TaskError::Read { path: path.to_owned(), source })?;
    Space::from_safetensors(&bytes).map_err(|source| TaskError::NoSpace { path: path.to_owned(), source })
}

/// Refuses shapes on other triangles than those of a space.
///
/// # Errors
/// [`TaskError::Nothing`] with the cohort.
pub fn same_triangles(space: &Space, cohort: &Cohort, advice: &str) -> Result<(), TaskError> {
    if cohort.info().template_hash == space.template_hash {
        return Ok(());
    }
    Err(TaskError::Nothing {
        what: format!("{} has other triangles than the space", cohort.path().display()),
        advice: advice.to_owned(),
    })
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

/// Moves a shape along z so that its lowest vertex is at 0.
#[must_use]
pub fn on_the_floor(mut shape: Vec<Point>) -> Vec<Point> {
    let floor = shape.iter().map(|p| p[2]).fold(f64::INFINITY, f64::min);
    for p in &mut shape {
        p[2] -= floor;
    }
    shape
}

/// The body of these coefficients, up upright, on the floor.
#[must_use]
pub fn upright(space: &Space, coefficients: &[f64], up: Point) -> Vec<Point> {
    let turn = to_up(up);
    let shape = space.reconstruct(coefficients);
    let turned = |p: Point| -> Point {
        std::array::from_fn(|k| turn[k][0] * p[0] + turn[k][1] * p[1] + turn[k][2] * p[2])
    };
    on_the_floor(shape.into_iter().map(turned).collect())
}

/// Where up lies in the frame of a space, as its dimensions were taken; z where it has none.
#[must_use]
pub fn up(space: &Space) -> Point {
    space.regression.as_ref().map_or([0.0, 0.0, 1.0], |m| m.up)
}

/// The least rotation that takes `up` to z. Upside down: half a turn about x.
#[must_use]
pub fn to_up(up: Point) -> [[f64; 3]; 3] {
    let [x, y, z] = up;
    if z < -1.0 + 1e-9 {
        return [[1.0, 0.0, 0.0], [0.0, -1.0, 0.0], [0.0, 0.0, -1.0]];
    }
    let f = 1.0 / (1.0 + z);
    [[1.0 - x * x * f, -x * y * f, -x], [-x * y * f, 1.0 - y * y * f, -y], [x, y, z]]
}

/// The triangles of a space.
///
/// # Errors
/// [`TaskError::Geometry`] for triangles that do not fit the mean.
pub fn topology(space: &Space) -> Result<Topology, TaskError> {
    Ok(Topology::new(space.mean.len(), space.triangles.clone())?)
}

/// The kinds of files that a mesh is written as.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum MeshFile {
    Ply,
    Obj,
}

/// The kind of file that a name ends in.
fn mesh_file(name: &Path) -> Option<MeshFile> {
    match name.extension()?.to_string_lossy().to_lowercase().as_str() {
        "ply" => Some(MeshFile::Ply),
        "obj" => Some(MeshFile::Obj),
        _ => None,
    }
}

/// A name for a mesh that ends in neither `.ply` nor `.obj` is a problem.
pub fn check_mesh_name(option: &str, path: &Path, problems: &mut Problems) {
    if mesh_file(path).is_none() {
        problems.wrong(
            option,
            format!("{} has no ending of a mesh", path.display()),
            "name the mesh .ply or .obj",
        );
    }
}

/// A mesh on the triangles of a space, as its file name says.
///
/// # Errors
/// [`TaskError::Nothing`] for another ending than `.ply` and `.obj`.
pub fn mesh_bytes(name: &str, space: &Space, positions: &[Point]) -> Result<Vec<u8>, TaskError> {
    let (topology, how) = (topology(space)?, MeshWriting::default());
    match mesh_file(Path::new(name)) {
        Some(MeshFile::Ply) => Ok(ply_bytes(&topology, positions, &how)?),
        Some(MeshFile::Obj) => Ok(obj_bytes(&topology, positions, &how)?),
        None => Err(TaskError::Nothing {
            what: format!("{name} has no ending of a mesh"),
            advice: "name the mesh .ply or .obj".to_owned(),
        }),
    }
}

/// One row a vertex: position and half-width of the interval of every coordinate, `factor` SDs.
#[must_use]
pub fn intervals(positions: &[Point], sd_mm: &[Point], factor: f64) -> Sheet {
    let vertices = Sheet::new().whole("vertex", None, "Number of the vertex, from 0", 0..positions.len());
    with_intervals(vertices, positions.to_vec(), sd_mm.iter().map(|sd| sd.map(|s| factor * s)).collect())
}

/// With columns of positions and half-widths of 95 % intervals, one a row.
#[must_use]
pub fn with_intervals(mut sheet: Sheet, positions: Vec<Point>, half_widths_mm: Vec<Point>) -> Sheet {
    let mm = Some("mm");
    for (k, axis) in ["x", "y", "z"].into_iter().enumerate() {
        sheet = sheet.number(axis, mm, "Position", Fixed(3), positions.iter().map(|p| p[k]));
    }
    for (k, axis) in ["x", "y", "z"].into_iter().enumerate() {
        let name = format!("half_width_95_{axis}");
        let widths = half_widths_mm.iter().map(|h| h[k]);
        sheet =
            sheet.number(&name, mm, "Half the width of the 95 % interval of the position", Fixed(3), widths);
    }
    sheet
}

/// Root mean square half-width of the intervals of coordinates, `factor` SDs, in mm.
#[must_use]
pub fn half_width(sd_mm: &[Point], factor: f64) -> f64 {
    let square: f64 = sd_mm.as_flattened().iter().map(|s| s * s).sum();
    factor * (square / (3 * sd_mm.len().max(1)) as f64).sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn up_is_turned_to_z() {
        for up in [[0.0, 0.0, 1.0], [0.6, 0.0, 0.8], [0.0, 0.0, -1.0], [0.36, 0.48, -0.8]] {
            let r = to_up(up);
            let z: Vec<f64> = r.iter().map(|row| row.iter().zip(&up).map(|(a, b)| a * b).sum()).collect();
            assert!(z[0].abs() < 1e-9 && z[1].abs() < 1e-9 && (z[2] - 1.0).abs() < 1e-9, "{up:?}");
        }
    }

    #[test]
    fn intervals_are_so_many_sds_wide() {
        let sheet = intervals(&[[1.0, 2.0, 3.0]], &[[0.5, 1.0, 2.0]], 2.0);
        let csv = String::from_utf8(sheet.to_csv().unwrap()).unwrap();
        let header = "vertex,x_mm,y_mm,z_mm,half_width_95_x_mm,half_width_95_y_mm,half_width_95_z_mm";
        assert_eq!(csv, format!("{header}\n0,1.000,2.000,3.000,1.000,2.000,4.000\n"));
        assert!((half_width(&[[0.5, 1.0, 2.0]], 2.0) - 2.0 * (5.25f64 / 3.0).sqrt()).abs() < 1e-12);
    }

    #[test]
    fn a_mesh_is_named_as_one() {
        assert_eq!(mesh_file(Path::new("a/b.PLY")), Some(MeshFile::Ply));
        assert_eq!(mesh_file(Path::new("b.stl")), None);
        let mut problems = Problems::new(crate::problem::Given::Command);
        check_mesh_name("into", Path::new("b.stl"), &mut problems);
        assert!(problems.found[0].to_string().starts_with("--into: b.stl"));
    }
}
