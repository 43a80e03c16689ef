//! `formkin compare` and `formkin regress`: people compared by the coefficients of their shapes.

use std::path::{Path, PathBuf};

use anyhow::{Context, bail};
use formkin_shape::Space;
use formkin_shape::compare::{Anova, CompareParams, Place};
use formkin_table::Table;
use formkin_tasks::choose::Items;
use formkin_tasks::job::groups::{compare, effect_glb, group_targets, place_csv, regress_on, slope_glb};
use formkin_tasks::job::rows::{People, Rows};
use serde_json::{Value, json};

use crate::args::{CompareArgs, PeopleArgs, RegressArgs};
use crate::output::{Exit, Output};
use crate::resolve::{open_cohort, open_space, ready, write};

/// Coefficients from a file, or of a cohort's still bodies.
pub(super) fn rows(
    space: &Space,
    coefficients: Option<&Path>,
    cohort: Option<&Path>,
) -> anyhow::Result<Rows> {
    match (coefficients, cohort) {
        (Some(path), _) => {
            let bytes = std::fs::read(path).with_context(|| format!("{} cannot be read", path.display()))?;
            Rows::of_parquet(bytes, space).with_context(|| path.display().to_string())
        }
        (None, Some(path)) => Ok(Rows::of_cohort(space, &open_cohort(path)?, Items::Stills)?),
        (None, None) => bail!("give --coefficients or --cohort"),
    }
}

/// One row a person, with the columns of a table; what is wrong with the table bears its name.
pub(super) fn people_of(rows: &Rows, table: Option<&Table>, path: Option<&Path>) -> anyhow::Result<People> {
    let people = rows.people(table);
    Ok(match path {
        Some(path) => people.with_context(|| path.display().to_string())?,
        None => people?,
    })
}

fn people(args: &PeopleArgs) -> anyhow::Result<(Space, People, CompareParams)> {
    if let Some(into) = &args.into {
        ready(into, &["map.csv", "effect.glb", "result.json"], args.force)?;
    }
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
    let params = CompareParams {
        modes: args.modes,
        permutations: args.permutations,
        level: args.level,
        seed: args.seed,
        ..CompareParams::default()
    };
    Ok((space, people_of(&rows, table.as_ref(), args.table.as_deref())?, params))
}

fn deliver(
    args: &PeopleArgs,
    space: &Space,
    place: &Place,
    glb: impl FnOnce() -> anyhow::Result<Vec<u8>>,
    object: &mut Value,
) -> anyhow::Result<Vec<PathBuf>> {
    let Some(into) = &args.into else { return Ok(Vec::new()) };
    // made before anything is written
    let glb = glb()?;
    std::fs::create_dir_all(into).with_context(|| format!("the folder {} cannot be made", into.display()))?;
    let paths = vec![into.join("map.csv"), into.join("effect.glb"), into.join("result.json")];
    object["outputs"] = json!(paths);
    write(&paths[0], place_csv(space, place).as_bytes(), args.force)?;
    write(&paths[1], &glb, args.force)?;
    write(&paths[2], &serde_json::to_vec_pretty(object)?, args.force)?;
    Ok(paths)
}

/// The map without its values at each vertex, which are in map.csv.
fn without_vertices(mut value: Value) -> Value {
    let effects: Vec<f64> = serde_json::from_value(value["place"]["effect_mm"].clone()).unwrap_or_default();
    let (low, high) = effects.iter().fold((0.0f64, 0.0f64), |(l, h), e| (l.min(*e), h.max(*e)));
    if let Some(place) = value["place"].as_object_mut() {
        for key in ["effect_mm", "p", "q"] {
            place.remove(key);
        }
        place.insert("least_effect_mm".into(), json!(low));
        place.insert("greatest_effect_mm".into(), json!(high));
    }
    value
}

fn told(name: &str, a: &Anova) -> String {
    let z = a.z.map_or_else(|| "-".to_owned(), |z| format!("{z:.2}"));
    format!(
        "{name}: R2 {:.3}, F({}, {}) {:.2}, Z {z}, p {:.4} ({} permutations of people, seed {})",
        a.r2, a.df_effect, a.df_residual, a.f, a.p, a.permutations, a.seed
    )
}

fn chance(p: f64) -> String {
    if p < 1e-4 { format!("{p:.2e}") } else { format!("{p:.4}") }
}

/// What is held fixed.
fn held(columns: &[String]) -> Option<String> {
    (!columns.is_empty())
        .then(|| format!("held fixed, but not in telling people apart: {}", columns.join(", ")))
}

fn tail(
    space: &Space,
    place: &Place,
    effect: &str,
    left_out: &[String],
    notes: &[String],
    text: &mut Vec<String>,
) {
    let unstable = space.unstable_modes();
    text.push(format!(
        "on {:.0} % of the surface the effect is a finding (share of false ones held to {:.0} %)",
        100.0 * place.share,
        100.0 * place.level
    ));
    text.push(format!("the effect is {effect}"));
    if !unstable.is_empty() {
        let list: Vec<String> = unstable.iter().map(usize::to_string).collect();
        text.push(format!("coefficients of unstable modes, not to be read one by one: {}", list.join(", ")));
    }
    if !left_out.is_empty() {
        text.push(format!("left out for want of a value: {}", left_out.join(", ")));
    }
    text.extend(notes.iter().map(|n| format!("note: {n}")));
}

/// People under whom a test says little.
const FEW: usize = 20;

/// What limits the tests.
fn notes(args: &PeopleArgs, people: usize) -> Vec<String> {
    let mut notes = Vec::new();
    if people < FEW {
        notes.push(format!(
            "only {people} people: tests of so few find only the largest effects, and their R2 is too high; measure more before you rely on it"
        ));
    }
    if args.permutations < 9999 {
        notes.push("take 9,999 permutations or more for what you report".into());
    }
    notes
}

pub(crate) fn run_compare(args: &CompareArgs, output: &Output) -> anyhow::Result<Exit> {
    let (space, people, params) = people(&args.people)?;
    let made = compare(&space, &people, &args.by, &args.people.covariate, &params)?;
    let found = &made.result;
    let mut object = without_vertices(serde_json::to_value(found)?);
    object["by"] = json!(args.by);
    object["people_compared"] = json!(made.people);
    object["unstable_modes"] = json!(space.unstable_modes());
    object["stability_asked_modes"] = json!(space.stability_asked_modes());
    object["left_out"] = json!(made.left_out);
    let notes = notes(&args.people, made.people);
    object["notes"] = json!(notes);
    let glb = || Ok(effect_glb(&space, &found.place, group_targets(&space, found))?);
    let paths = deliver(&args.people, &space, &found.place, glb, &mut object)?;
    let sizes: Vec<String> =
        found.groups.iter().zip(&found.people).map(|(g, n)| format!("{g} {n}")).collect();
    let mut text = vec![format!("{} people by {}: {}", made.people, args.by, sizes.join(", "))];
    text.extend(held(&found.covariates));
    text.push(told("groups", &found.anova));
    for pair in &found.pairs {
        let h = &pair.hotelling;
        let few = if h.enough_people { "" } else { " (few people for so many modes)" };
        let all =
            if found.pairs.len() > 1 { format!(" ({} by Holm)", chance(pair.p_holm)) } else { String::new() };
        text.push(format!(
            "{} and {}: {:.1} mm RMS apart; T2 {:.2}, F({}, {}) {:.2}, p {}{all}{few}",
            pair.first,
            pair.second,
            pair.distance_mm,
            h.t2,
            h.df1,
            h.df2,
            h.f,
            chance(h.p)
        ));
    }
    if found.pairs.len() > 1 {
        text.push(format!(
            "p of pairs is of each alone; Holm's holds the chance of any false one among all {}",
            found.pairs.len()
        ));
    }
    let c = &found.classification;
    text.push(format!(
        "told apart with {:.1} % error ({:.1} to {:.1}), people held out; naming the largest group: {:.1} %",
        100.0 * c.error,
        100.0 * c.interval.0,
        100.0 * c.interval.1,
        100.0 * c.error_of_the_largest_group
    ));
    tail(&space, &found.place, &found.effect, &made.left_out, &notes, &mut text);
    text.extend(paths.iter().map(|p| format!("written: {}", p.display())));
    output.result(&object, text.join("\n"))?;
    Ok(Exit::Done)
}

pub(crate) fn run_regress(args: &RegressArgs, output: &Output) -> anyhow::Result<Exit> {
    let (space, people, params) = people(&args.people)?;
    let by = args.by.as_deref();
    let made = regress_on(&space, &people, &args.on, by, &args.people.covariate, &params)?;
    let found = &made.result;
    let mut object = without_vertices(serde_json::to_value(found)?);
    object["people"] = json!(made.people);
    object["unstable_modes"] = json!(space.unstable_modes());
    object["stability_asked_modes"] = json!(space.stability_asked_modes());
    object["left_out"] = json!(made.left_out);
    let notes = notes(&args.people, made.people);
    object["notes"] = json!(notes);
    let glb = || Ok(slope_glb(&space, found)?);
    let paths = deliver(&args.people, &space, &found.place, glb, &mut object)?;
    let mut text = vec![format!(
        "{} people; {} {:.2} (SD {:.2}); one SD moves the surface {:.2} mm RMS",
        made.people, found.on, found.mean, found.sd, found.effect_of_one_sd_mm
    )];
    let mut fixed = found.covariates.clone();
    fixed.extend(args.by.clone());
    if !fixed.is_empty() {
        text.push(format!("held fixed: {}", fixed.join(", ")));
    }
    text.push(told(&found.on, &found.anova));
    if let Some(slopes) = &found.equal_slopes {
        text.push(told("different slopes", slopes));
    }
    tail(&space, &found.place, &found.effect, &made.left_out, &notes, &mut text);
    text.extend(paths.iter().map(|p| format!("written: {}", p.display())));
    output.result(&object, text.join("\n"))?;
    Ok(Exit::Done)
}
