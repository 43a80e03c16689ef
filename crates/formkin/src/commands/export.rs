//! `formkin export`: spaces, meshes and coefficients in open formats.

use std::path::{Path, PathBuf};

use anyhow::ensure;
use formkin_cohort::{MeshWriting, obj_bytes, ply_bytes};
use formkin_table::file_name;
use formkin_tasks::choose::Items;
use formkin_tasks::space::{coefficients_parquet, space_glb};
use rayon::prelude::*;
use serde_json::json;

use crate::args::{ExportCommand, ItemsArg, MeshFormat};
use crate::output::{Exit, Output};
use crate::resolve::{free, make_folder, open_cohort, open_space, write};

pub(crate) fn run(command: &ExportCommand, output: &Output) -> anyhow::Result<Exit> {
    match command {
        ExportCommand::Glb { space, into, modes, force } => {
            free([into.as_path()], *force)?;
            let found = open_space(space)?;
            write(into, &space_glb(&found, *modes)?, *force)?;
            let modes = found.modes.len().min(*modes);
            let object = json!({ "modes": modes, "vertices": found.mean.len(), "outputs": [into] });
            output.result(&object, format!("mean and {modes} modes: {}", into.display()))?;
        }
        ExportCommand::Meshes { cohort, into, format, items, force } => {
            let outputs = meshes(cohort, into, *format, *items, *force)?;
            let object = json!({ "items": outputs.len(), "outputs": outputs });
            output.result(&object, format!("{} meshes: {}", outputs.len(), into.display()))?;
        }
        ExportCommand::Coefficients { space, cohort, into, items, force } => {
            free([into.as_path()], *force)?;
            let (rows, residual) = coefficients(space, cohort, into, *items, *force)?;
            let object = json!({ "items": rows, "residual_rms_mm": residual, "outputs": [into] });
            let text = format!("{rows} items, residual {residual:.2} mm RMS: {}", into.display());
            output.result(&object, text)?;
        }
    }
    Ok(Exit::Done)
}

fn meshes(
    cohort: &Path,
    into: &Path,
    format: MeshFormat,
    items: ItemsArg,
    force: bool,
) -> anyhow::Result<Vec<PathBuf>> {
    let cohort = open_cohort(cohort)?;
    let items = Items::from(items).of(&cohort)?;
    let ending = match format {
        MeshFormat::Ply => "ply",
        MeshFormat::Obj => "obj",
    };
    let paths: Vec<PathBuf> = items
        .iter()
        .map(|&i| into.join(format!("{}.{ending}", file_name(&cohort.items()[i].item))))
        .collect();
    make_folder(into)?;
    free(paths.iter().map(PathBuf::as_path), force)?;
    let topology = cohort.template().mesh.topology();
    let source = cohort.source();
    items.par_iter().zip(&paths).try_for_each(|(&i, path)| {
        let shape = source.read_shape(i)?;
        let writing = MeshWriting { force, ..MeshWriting::default() };
        let bytes = match format {
            MeshFormat::Ply => ply_bytes(topology, &shape, &writing)?,
            MeshFormat::Obj => obj_bytes(topology, &shape, &writing)?,
        };
        write(path, &bytes, force)
    })?;
    Ok(paths)
}

/// Number of items and the root mean square of their residuals, in mm.
fn coefficients(
    space: &Path,
    cohort: &Path,
    into: &Path,
    items: ItemsArg,
    force: bool,
) -> anyhow::Result<(usize, f64)> {
    let space = open_space(space)?;
    let cohort = open_cohort(cohort)?;
    ensure!(
        cohort.info().template_hash == space.template_hash,
        "{} has other triangles than the space; only shapes on the same template have coefficients",
        cohort.path().display()
    );
    let items = Items::from(items).of(&cohort)?;
    let mut rows = Vec::with_capacity(items.len());
    let mut squares = 0.0;
    for &i in &items {
        let projection = space.project(&cohort.source().read_shape(i)?)?;
        squares += projection.residual_rms_mm.powi(2);
        rows.push(projection.coefficients);
    }
    write(into, &coefficients_parquet(&cohort, &items, &rows, &space)?, force)?;
    Ok((items.len(), (squares / items.len() as f64).sqrt()))
}
