//! `formkin map`: two numbers a person, so that like people lie near each other.

use anyhow::Context;
use formkin_shape::{MapMethod, MapParams, PeopleMap};
use formkin_table::Table;
use formkin_tasks::job::map::{Colour, lay_out, map_csv};
use serde_json::json;

use super::groups::{people_of, rows};
use crate::args::{MapArg, MapArgs};
use crate::output::{Exit, Output};
use crate::resolve::{free, open_space, write};

pub(crate) fn run(args: &MapArgs, output: &Output) -> anyhow::Result<Exit> {
    free(args.into.iter().map(AsRef::as_ref), args.force)?;
    let space = open_space(&args.space)?;
    let rows = rows(&space, args.coefficients.as_deref(), args.cohort.as_deref())?;
    let table = match &args.table {
        Some(path) => {
            let file =
                std::fs::File::open(path).with_context(|| format!("{} cannot be read", path.display()))?;
            Some(Table::read_csv(file, &path.display().to_string(), None)?)
        }
        None => None,
    };
    let people = people_of(&rows, table.as_ref(), args.table.as_deref())?;
    let params = MapParams {
        method: match args.method {
            MapArg::Diffusion => MapMethod::Diffusion,
            MapArg::Coefficients => MapMethod::Coefficients,
        },
        modes: args.modes,
        bandwidth_mm: args.bandwidth_mm,
        seed: args.seed,
        ..MapParams::default()
    };
    let made = lay_out(&people, &params, None)?;
    let mut written = Vec::new();
    if let Some(path) = &args.into {
        write(path, map_csv(&made).as_bytes(), args.force)?;
        written.push(path);
    }
    let map = &made.map;
    let mut object = serde_json::to_value(map)?;
    object["people"] = json!(made.participants.len());
    object["participants"] = json!(made.participants);
    object["columns"] = json!(
        made.columns
            .iter()
            .map(|(name, c)| {
                let kind = if matches!(c, Colour::Numbers(_)) { "numbers" } else { "groups" };
                json!({ "column": name, "kind": kind })
            })
            .collect::<Vec<_>>()
    );
    object["outputs"] = json!(written);
    let mut text = told(map, made.participants.len());
    text.extend(written.iter().map(|p| format!("written: {}", p.display())));
    output.result(&object, text.join("\n"))?;
    Ok(Exit::Done)
}

fn told(map: &PeopleMap, people: usize) -> Vec<String> {
    let mut lines = vec![match (map.method, map.bandwidth_mm, map.dimension) {
        (MapMethod::Diffusion, Some(b), Some(d)) => format!(
            "{people} people by {} coefficients; bandwidth {b:.1} mm RMS between bodies; people lie on about {d:.1} dimensions; axes: diffusion coordinates 1 and {}",
            map.modes, map.axes[1]
        ),
        _ => format!(
            "{people} people by the first 2 of {} coefficients, which hold {:.1} % of their variance",
            map.modes,
            100.0 * map.share.unwrap_or(0.0)
        ),
    }];
    if let (Some(kept), Some(chance)) = (map.neighbours_kept, map.neighbours_by_chance) {
        lines.push(format!(
            "of the 10 people nearest in mm {:.0} % are among the 10 nearest on the map (by chance {:.0} %)",
            100.0 * kept,
            100.0 * chance
        ));
    }
    lines.push(
        "a distance on the map is no distance in mm; who lies together is alike, who lies apart may differ in anything"
            .into(),
    );
    lines.extend(map.notes.iter().map(|n| format!("note: {n}")));
    lines
}
