//! `formkin project`: the coefficients of new shapes in a space.

use std::fmt::Write as _;

use anyhow::{Context, bail};
use formkin_geometry::Topology;
use formkin_shape::Space;
use serde_json::json;

use crate::args::ProjectArgs;
use crate::output::{Exit, Output};
use crate::resolve::{free, open_space, read_shape, write};

pub(crate) fn run(args: &ProjectArgs, output: &Output) -> anyhow::Result<Exit> {
    free(args.into.iter().map(AsRef::as_ref), args.force)?;
    let space = open_space(&args.space)?;
    let topology = Topology::new(space.mean.len(), space.triangles.clone())?;
    let modes = args.modes.unwrap_or(space.modes.len());
    if modes > space.modes.len() {
        bail!("--modes {modes}: the space keeps only {}", space.modes.len());
    }
    let space = Space { modes: space.modes[..modes].to_vec(), ..space };
    let mut rows = Vec::new();
    for path in &args.meshes {
        let shape = read_shape(path, &topology, args.frame)?;
        let projection =
            space.project(&shape).with_context(|| format!("{} has no place in the space", path.display()))?;
        rows.push((path.display().to_string(), projection));
    }
    let mut csv = String::from("file,residual_rms_mm");
    for k in 1..=modes {
        write!(csv, ",mode_{k:03}_mm")?;
    }
    csv.push('\n');
    for (file, projection) in &rows {
        let quoted = file.replace('"', "\"\"");
        write!(csv, "\"{quoted}\",{:.4}", projection.residual_rms_mm)?;
        for c in &projection.coefficients {
            write!(csv, ",{c:.6}")?;
        }
        csv.push('\n');
    }
    let object = json!({
        "items": rows.len(),
        "shapes": rows.iter().map(|(file, p)| json!({
            "file": file,
            "coefficients_mm": p.coefficients,
            "residual_rms_mm": p.residual_rms_mm,
        })).collect::<Vec<_>>(),
        "modes": modes,
        "unstable_modes": space.unstable_modes(),
        "stability_asked_modes": space.stability_asked_modes(),
        "outputs": args.into.iter().collect::<Vec<_>>(),
    });
    match &args.into {
        Some(path) => {
            write(path, csv.as_bytes(), args.force)?;
            output.result(&object, format!("{} shapes, {modes} modes: {}", rows.len(), path.display()))?;
        }
        None => output.result(&object, csv)?,
    }
    Ok(Exit::Done)
}
