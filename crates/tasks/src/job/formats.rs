//! Results -> the content of files.

use formkin_cohort::gltf::{MorphAnimation, MorphScene, morph_glb};
use formkin_geometry::Topology;
use formkin_motion::Animation;
use serde_json::json;

use crate::TaskError;
use crate::job::deep_files::deep_outputs;
use crate::job::movement::MovementOutcome;
use crate::summaries::motion_summary;

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
