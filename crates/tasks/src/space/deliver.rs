//! The object for programs, the space, its first modes as a body, and the coefficients.

use std::collections::BTreeSet;

use formkin_cohort::gltf::{MorphScene, morph_glb};
use formkin_cohort::{Cohort, Item};
use formkin_geometry::Topology;
use formkin_geometry::vector::scale;
use formkin_shape::Space;
use formkin_table::{NumberFormat, Sheet};
use serde_json::{Value, json};

use super::{SpaceInputs, SpaceOutcome, SpaceSettings, words};
use crate::bodies::on_the_floor;
use crate::{Delivery, TaskError};

/// The file of the space.
pub(crate) const SPACE_FILE: &str = "space.safetensors";
/// What is in it.
pub(crate) const SPACE_WHAT: &str = "Shape space: mean, modes, variances, weights";

/// All but mean, modes and coefficients.
pub(super) fn object(inputs: &SpaceInputs, made: &SpaceOutcome) -> Value {
    let alignment = &made.fitted.alignment;
    let mut object = words::facts(&made.fitted.space);
    object["sum_of_squares_mm2"] = json!(alignment.sum_of_squares_mm2);
    object["alignment_rounds"] = json!(alignment.rounds);
    object["notes"] = json!(made.notes);
    object["shrunk"] = json!(made.shrunk);
    object["probabilistic"] = json!(made.probabilistic);
    // in a study they are figures of the predictions
    if let Some(object) = object.as_object_mut().filter(|_| inputs.in_study()) {
        for key in ["predicts_from", "prediction_people", "prediction_errors"] {
            object.remove(key);
        }
    }
    object
}

/// The space but in a study, where predictions complete it and hand it over; mean and modes as a body; coefficients.
pub(super) fn files<'a>(
    settings: &'a SpaceSettings,
    inputs: &'a SpaceInputs,
    made: &'a SpaceOutcome,
) -> Result<Delivery<'a>, TaskError> {
    let (space, modes) = (&made.fitted.space, settings.glb_modes);
    let mut files = Delivery::new();
    if !inputs.in_study() {
        files = files.made(SPACE_FILE, SPACE_WHAT, || Ok(space.to_safetensors()));
    }
    Ok(files
        .made("space.glb", "Mean and first modes as glTF morph targets", move || space_glb(space, modes))
        .made("coefficients.parquet", "Shape coefficients of every item", || {
            coefficients_parquet(inputs.cohort(), &made.items, &made.fitted.coefficients, space)
        }))
}

/// The mean and the first modes of a space as a binary glTF: target k at weight 1 is one standard deviation of mode k.
///
/// # Errors
/// Triangles that do not fit the mean.
pub fn space_glb(space: &Space, modes: usize) -> Result<Vec<u8>, TaskError> {
    let topology = Topology::new(space.mean.len(), space.triangles.clone())?;
    let base = on_the_floor(space.mean.clone());
    let targets = space
        .modes
        .iter()
        .zip(&space.variances_mm2)
        .take(modes)
        .enumerate()
        .map(|(k, (mode, variance))| {
            let sd = variance.sqrt();
            let mark = match space.criteria.as_ref().and_then(|c| c.stable(k)) {
                Some(true) => "",
                Some(false) => ", not stable",
                None => ", stability not asked",
            };
            (format!("mode {} (1 SD, {sd:.1} mm{mark})", k + 1), mode.iter().map(|&u| scale(u, sd)).collect())
        })
        .collect();
    let scene = MorphScene {
        name: "mean and modes".into(),
        topology: &topology,
        base: &base,
        targets,
        colors: None,
        animation: None,
        extras: json!({
            "people": space.people,
            "items": space.items,
            "weight_1_is": "one standard deviation",
            "variances_mm2": space.variances_mm2.iter().take(modes).collect::<Vec<_>>(),
            "unstable_modes": space.unstable_modes(),
            "stability_asked_modes": space.stability_asked_modes(),
        }),
    };
    Ok(morph_glb(&scene)?)
}

/// The coefficients of items as Parquet: item, participant, session and the columns of the table of people, then each mode raw
/// in mm (`mode_001_mm`) and over its standard deviation (`mode_001_sd`). How to decode is in the metadata.
///
/// # Errors
/// [`TaskError::Table`] where a column of the table of people has the name of another one.
pub fn coefficients_parquet(
    cohort: &Cohort,
    items: &[usize],
    coefficients: &[Vec<f64>],
    space: &Space,
) -> Result<Vec<u8>, TaskError> {
    let all = cohort.items();
    let chosen: Vec<&Item> = items.iter().map(|&i| &all[i]).collect();
    let of = |get: fn(&Item) -> &String| chosen.iter().map(move |i| get(i).clone()).collect::<Vec<_>>();
    let mut sheet = Sheet::new()
        .text("item", "The captured shape", of(|i| &i.item))
        .text("participant", "Pseudonym of the person", of(|i| &i.participant))
        .text("session", "When it was captured", of(|i| &i.session));
    let names: BTreeSet<&String> = chosen.iter().flat_map(|i| i.groups.keys()).collect();
    for name in names {
        let values = chosen.iter().map(|i| i.groups.get(name).cloned().unwrap_or_default());
        sheet = sheet.text(name, "A column of the table of people", values);
    }
    let modes = coefficients.first().map_or(0, Vec::len);
    let sds: Vec<f64> = space.variances_mm2.iter().take(modes).map(|v| v.sqrt()).collect();
    for (unit, meaning) in [("mm", "Coefficient of a mode"), ("sd", "The same over its standard deviation")] {
        for (k, sd) in sds.iter().enumerate() {
            let by = if unit == "mm" { 1.0 } else { *sd };
            let values = coefficients.iter().map(|row| row[k] / by);
            let name = format!("mode_{:03}", k + 1);
            sheet = sheet.number(&name, Some(unit), meaning, NumberFormat::Shortest, values);
        }
    }
    let metadata = [
        ("decode", "shape = mean + sum_k mode_k_mm * modes[k], in mm; arrays in the space file".to_owned()),
        ("template_hash", space.template_hash.clone()),
        ("people", space.people.to_string()),
        ("items", items.len().to_string()),
        ("unit", "mm".to_owned()),
        ("seed", space.seed.to_string()),
        (
            "unstable_modes",
            space.unstable_modes().iter().map(usize::to_string).collect::<Vec<_>>().join(", "),
        ),
        ("stability_asked_modes", space.stability_asked_modes().to_string()),
    ];
    Ok(sheet.to_parquet(&metadata.map(|(key, value)| (key.to_owned(), value)))?)
}
