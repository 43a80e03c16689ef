//! Results -> the content of files.

use std::collections::BTreeSet;

use formkin_cohort::gltf::{MorphAnimation, MorphScene, morph_glb};
use formkin_cohort::{Cohort, Item};
use formkin_geometry::Topology;
use formkin_geometry::vector::scale;
use formkin_motion::Animation;
use formkin_shape::Space;
use serde_json::json;

use crate::TaskError;
use crate::job::deep_files::deep_outputs;
use crate::job::movement::MovementOutcome;
use crate::job::size::on_the_floor;
use crate::summaries::motion_summary;
use formkin_table::parquet_table::{NumberColumn, TextColumn, parquet_table};

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

/// An animation of a movement as a binary glTF.
///
/// # Errors
/// Times or counts that do not fit.
pub fn animation_glb(topology: &Topology, animation: Animation) -> Result<Vec<u8>, TaskError> {
    let floor = animation.base.iter().map(|p| p[2]).fold(f64::INFINITY, f64::min);
    let base: Vec<_> = animation.base.iter().map(|p| [p[0], p[1], p[2] - floor]).collect();
    let scene = MorphScene {
        name: animation.name,
        topology,
        base: &base,
        targets: animation.targets,
        colors: None,
        animation: Some(MorphAnimation { times_s: animation.times_s, weights: animation.weights }),
        extras: json!({}),
    };
    Ok(morph_glb(&scene)?)
}

/// The coefficients of items as Parquet: item, participant, session and the columns of the table of people, then each mode raw
/// in mm (`mode_001_mm`) and over its standard deviation (`mode_001_sd`). How to decode is in the metadata.
///
/// # Errors
/// [`TaskError::Table`].
pub fn coefficients_parquet(
    cohort: &Cohort,
    items: &[usize],
    coefficients: &[Vec<f64>],
    space: &Space,
) -> Result<Vec<u8>, TaskError> {
    let all = cohort.items();
    let chosen: Vec<&Item> = items.iter().map(|&i| &all[i]).collect();
    let column = |name, values| TextColumn { name, values };
    let mut texts = vec![
        column("item", chosen.iter().map(|i| i.item.as_str()).collect()),
        column("participant", chosen.iter().map(|i| i.participant.as_str()).collect()),
        column("session", chosen.iter().map(|i| i.session.as_str()).collect()),
    ];
    let names: BTreeSet<&str> = chosen.iter().flat_map(|i| i.groups.keys().map(String::as_str)).collect();
    for name in names {
        texts.push(column(
            name,
            chosen.iter().map(|i| i.groups.get(name).map_or("", String::as_str)).collect(),
        ));
    }
    let modes = coefficients.first().map_or(0, Vec::len);
    let sds: Vec<f64> = space.variances_mm2.iter().take(modes).map(|v| v.sqrt()).collect();
    let mut numbers = Vec::with_capacity(2 * modes);
    for (unit, raw) in [("mm", true), ("sd", false)] {
        for (k, sd) in sds.iter().enumerate() {
            let values = coefficients.iter().map(|row| if raw { row[k] } else { row[k] / sd }).collect();
            numbers.push(NumberColumn { name: format!("mode_{:03}_{unit}", k + 1), values });
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
    Ok(parquet_table(&texts, &numbers, &metadata)?)
}

/// The curves of a movement as CSV: one row a frame, units in the headers.
#[must_use]
pub fn curves_csv(outcome: &MovementOutcome) -> String {
    let mut csv = String::from("frame,time_s");
    for curve in &outcome.curves {
        csv.push_str(&format!(",{}_{}", curve.dimension, curve.unit));
    }
    csv.push('\n');
    for (frame, time) in outcome.motion.times_s.iter().enumerate() {
        csv.push_str(&format!("{frame},{time}"));
        for curve in &outcome.curves {
            csv.push(',');
            if let Some(value) = curve.values.get(frame).copied().flatten() {
                csv.push_str(&format!("{value:.3}"));
            }
        }
        csv.push('\n');
    }
    csv
}

/// The coefficients of a movement as CSV: one row a frame, one column a mode, in mm.
#[must_use]
pub fn mode_course_csv(outcome: &MovementOutcome) -> String {
    let motion = &outcome.motion;
    let mut csv = String::from("frame,time_s");
    for k in 1..=motion.modes.len() {
        csv.push_str(&format!(",mode_{k:02}_mm"));
    }
    csv.push('\n');
    for (frame, (time, row)) in motion.times_s.iter().zip(&motion.coefficients).enumerate() {
        csv.push_str(&format!("{frame},{time}"));
        for c in row {
            csv.push_str(&format!(",{c:.4}"));
        }
        csv.push('\n');
    }
    csv
}

/// A file to be written.
pub struct Made {
    /// Its name.
    pub name: String,
    /// What is in it.
    pub what: &'static str,
    /// Its content.
    pub bytes: Vec<u8>,
}

/// How many modes of a movement are animated.
const ANIMATED_MODES: usize = 3;
/// How many modes the movement is rebuilt from.
const REPLAY_MODES: usize = 5;

/// Every file that a movement is handed over in.
///
/// # Errors
/// Counts that do not fit.
pub fn movement_outputs(topology: &Topology, movement: &MovementOutcome) -> Result<Vec<Made>, TaskError> {
    let motion = &movement.motion;
    let mut files = Vec::new();
    let mut add = |name: &str, what, bytes| files.push(Made { name: name.to_owned(), what, bytes });
    add(
        "course.csv",
        "Coefficients of the motion modes, one row a frame",
        mode_course_csv(movement).into_bytes(),
    );
    if !movement.curves.is_empty() {
        add("curves.csv", "Dimensions through time, one row a frame", curves_csv(movement).into_bytes());
    }
    for mode in 0..motion.modes.len().min(ANIMATED_MODES) {
        let bytes = animation_glb(topology, motion.mode_animation(mode, 2.0, 2.0, 32)?)?;
        add(&format!("mode-{}.glb", mode + 1), "A motion mode, 2 SD to either side, as animated glTF", bytes);
    }
    if !motion.modes.is_empty() {
        let bytes = animation_glb(topology, motion.replay(REPLAY_MODES))?;
        add("replay.glb", "The movement rebuilt from its first modes, as animated glTF", bytes);
    }
    let text = serde_json::to_vec_pretty(&motion_summary(movement))
        .map_err(|source| TaskError::Json { of: "motion".into(), source })?;
    for file in deep_outputs(topology, movement)? {
        add(&file.name, file.what, file.bytes);
    }
    add("motion.json", "Modes, frequencies, errors and curves for programs", text);
    Ok(files)
}
